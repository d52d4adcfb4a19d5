//! Key numbers as tiles: what is not known has none.

use super::Context;
use super::page::Tile;
use crate::account::metrics::SummaryNumbers;
use crate::files::quantity::show::{Show, counted, electricity, fixed, hours};

fn tile(label: &str, value: Option<String>, remark: impl Into<String>) -> Option<Tile> {
    value.map(|value| Tile {
        label: label.to_owned(),
        value,
        remark: remark.into(),
    })
}

pub(super) fn tiles(n: &SummaryNumbers, context: &Context) -> Vec<Tile> {
    let show = Show(context.units);
    let temperature = |t: Option<f64>| t.map(|t| show.temperature(t));
    let at = n.slab_min_time.clone().unwrap_or_default();
    let spell = n.slab_longest_hours_below_target.filter(|h| *h > 0.0);
    let store = match (n.store_first_c, n.store_last_c) {
        (Some(first), Some(last)) => format!(
            "first {}, last {}: water after the settling time",
            show.temperature(first),
            show.temperature(last)
        ),
        _ => String::new(),
    };
    [
        tile("Coldest slab", temperature(n.slab_min_c), at),
        tile(
            "Slab below target",
            n.slab_hours_below_target.map(hours),
            spell.map_or(String::new(), |h| {
                format!("longest in one piece {}", hours(h))
            }),
        ),
        tile(
            "Degree-hours below target",
            n.slab_degree_hours_below_target
                .map(|kh| show.degree_hours(kh)),
            "how far and how long",
        ),
        tile(
            "Slab below freezing",
            n.slab_hours_below_zero.map(hours),
            "",
        ),
        tile(
            "Coldest outdoors",
            temperature(n.outdoor_min_c),
            n.outdoor_degree_hours_below_target
                .map_or(String::new(), |kh| {
                    format!("{} below the target in all", show.degree_hours(kh))
                }),
        ),
        tile(
            "Coldest house air",
            temperature(n.air_min_c),
            n.air_hours_below_zero
                .filter(|h| *h > 0.0)
                .map_or(String::new(), |h| {
                    format!("below freezing for {}", hours(h))
                }),
        ),
        tile(
            "Held without boiler",
            temperature(n.outdoor_mean_held_alone_c),
            "coldest outdoor mean at which the slab kept its target, a day or more after any call",
        ),
        tile(
            "Circulator",
            Some(hours(n.circulator_hours)),
            format!(
                "{}, at most {} a day",
                counted(n.circulator_starts, "start"),
                n.circulator_starts_per_day_max
            ),
        ),
        tile(
            "Circulator electricity",
            Some(electricity(n.pump_kwh)),
            if context.simulated {
                "hours times its power"
            } else {
                "hours times its power, not metered"
            },
        ),
        tile(
            "Heat from the earth",
            n.earth_heat_kwh
                .map(|kwh| show.heat_within(kwh, n.earth_heat_error_kwh)),
            if n.earth_heat_error_kwh.is_some() {
                "by the water after the settling time; the band is what the sensor pair may be off"
            } else {
                "the model's own account, less what was carried back"
            },
        ),
        tile(
            "Heat per electricity",
            n.cop.map(|ratio| fixed(ratio, 1)),
            "earth heat over all circulator electricity; 5 is good, under 2 run less",
        ),
        tile(
            "Boiler calls",
            Some(n.boiler_calls.to_string()),
            format!(
                "{} in all; {} without heat",
                hours(n.boiler_call_hours),
                n.boiler_calls_without_heat
            ),
        ),
        tile(
            "Heat from the boiler",
            n.boiler_heat_kwh.map(|kwh| show.heat(kwh)),
            "",
        ),
        tile("Wood burnt", n.wood_kg.map(|kg| show.mass(kg)), ""),
        tile(
            "Coldest store",
            temperature(n.store_true_min_c.or(n.store_min_c)),
            store,
        ),
        tile(
            "Warmest return to the store",
            temperature(n.return_max_c),
            n.return_hours_above_limit.map_or(String::new(), |h| {
                format!("{} above the limit for the store", hours(h))
            }),
        ),
        tile(
            "Frost protection",
            Some(hours(n.frost_override_hours)),
            "time it decided",
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}
