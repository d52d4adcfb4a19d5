//! Values of a few keys as the trade says them, beside a number in the key's own unit: the boiler's water in gallons, wood in
//! cords, the slab's edge by the R-value of its insulation, a time of day by the clock.

use crate::files::quantity::{self, Dimension};

/// Water in a boiler, kg/m³: at 20 °C (IAPWS-95).
const WATER_KG_M3: f64 = 998.2;

/// Stacked wood, kg/m³. Judgement: two thirds of a stack are wood (common practice), of a middling hardwood with 480 kg of dry
/// wood in a cubic metre (paper birch, USDA Wood Handbook, from memory), a fifth of the whole water: 1450 kg or 3200 lb a
/// cord. Softwood has three quarters of that, oak a fifth more.
pub(crate) const STACKED_WOOD_KG_M3: f64 = 400.0;

/// A cord of stacked wood, 128 ft³, m³.
#[cfg_attr(
    not(feature = "cli"),
    expect(dead_code, reason = "the winter's account on the terminal")
)]
pub(crate) const CORD_M3: f64 = 128.0 * 0.028_316_846_592;

/// Heat loss of the edge of an unheated slab by the R-value of insulation 24 in deep, h·ft²·°F/Btu and Btu/h·ft·°F: the
/// F-factors of ASHRAE 90.1, appendix A (from memory).
const EDGE: [(f64, f64); 5] = [
    (0.0, 0.73),
    (5.0, 0.58),
    (10.0, 0.54),
    (15.0, 0.52),
    (20.0, 0.51),
];

/// The value of a key said in another way than its dimension's, in the key's base unit; `None` where it is none.
pub(super) fn said(key: &str, text: &str) -> Option<f64> {
    match key {
        "jacket" => volume_m3(text).map(|m3| m3 * WATER_KG_M3),
        "charge" => volume_m3(text).map(|m3| m3 * STACKED_WOOD_KG_M3),
        "edge_loss" => edge_loss_w_mk(text),
        "morning_feed" | "evening_feed" => quantity::time_of_day(text)
            .map(|time| f64::from(time.hour()) * 3600.0 + f64::from(time.minute()) * 60.0),
        _ => None,
    }
}

fn volume_m3(text: &str) -> Option<f64> {
    quantity::parse(text, Dimension::Volume).ok()
}

/// Heat loss of a slab's edge behind insulation 2 ft (0.6 m) deep, W/mK.
fn edge_loss_w_mk(text: &str) -> Option<f64> {
    if !quantity::is_r_value(text) {
        return None;
    }
    let resistance = quantity::parse(text, Dimension::ThermalResistance).ok()?;
    let r = quantity::in_unit(resistance, Dimension::ThermalResistance, "h·ft²·°F/Btu");
    let btu = EDGE
        .windows(2)
        .find(|pair| r <= pair[1].0)
        .map_or(EDGE[EDGE.len() - 1].1, |pair| {
            let share = (r - pair[0].0) / (pair[1].0 - pair[0].0);
            pair[0].1 + (pair[1].1 - pair[0].1) * share
        });
    quantity::parse(&format!("{btu} Btu/h·ft·°F"), Dimension::LinearLoss).ok()
}
