//! The demo house worked by hand, all the way from its site file to the balance point.
//!
//! Reference: a hand calculation with IAPWS-95 water (CoolProp 8.0.0), Churchill 1977 friction, Gnielinski film, the exact
//! tube-row resistance and effectiveness–NTU for two floors in one loop, in an independent program; temperatures 0.001 K.

use host_sim::files::site::Site;
use host_sim::sim::plant::PlantConfig;
use host_sim::sim::plant::balance::{
    BalanceOptions, BalancePoint, FloorFilm, Given, balance_point,
};
use host_sim::sim::plant::operating::{LoopDesign, Path};

/// The site file that the documentation shows.
const DEMO: &str = include_str!("../../docs/demo-site.toml");

/// Rows given a temperature of the slab's core: what the file is changed by, store °C, heat of the pump W; then air and
/// outdoors °C, heat W, supply and return °C.
const SLAB_AT_2: [(&str, f64, f64, [f64; 5]); 5] = [
    ("", 7.0, 0.0, [-1.6105, -4.0663, 667.754, 5.8249, 3.1751]),
    ("", 9.0, 0.0, [-3.0546, -6.4928, 934.855, 7.3549, 3.6451]),
    ("", 11.0, 0.0, [-4.4988, -8.9194, 1201.957, 8.8848, 4.1152]),
    ("", 9.0, 35.0, [-3.1994, -6.7361, 961.630, 7.5082, 3.6923]),
    (
        CURTAIN,
        9.0,
        0.0,
        [-2.7530, -9.0948, 934.855, 7.3549, 3.6451],
    ),
];

const CURTAIN: &str =
    "[curtain]\nfitted = true\nglazing_u_value = \"1.7 W/m²K\"\nair_changes = \"0.5 1/h\"\n";

/// Rows given air of 2 °C: store °C; slab and outdoors °C, heat W.
const AIR_AT_2: [(f64, [f64; 3]); 3] = [
    (7.0, [4.0966, 0.5739, 387.758]),
    (9.0, [4.9352, 0.0035, 542.861]),
    (11.0, [5.7738, -0.5670, 697.964]),
];

/// Cooling of the slab as one lump under massless air, from 5 °C after a step to −10 °C, store at 9 °C: hours; °C with the
/// loop off and on.
const COOLING: [[f64; 3]; 5] = [
    [1.0, 3.7452, 4.1940],
    [3.0, 1.5417, 2.9821],
    [6.0, -1.1193, 1.8524],
    [12.0, -4.7422, 0.8658],
    [24.0, -8.1570, 0.4596],
];

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!(
        (got - want).abs() <= tolerance,
        "{what}: got {got}, want {want} within {tolerance}"
    );
}

fn plant(change: &str) -> PlantConfig {
    let site = Site::parse(&format!("{DEMO}\n{change}"), "demo-site.toml");
    let site = site.unwrap_or_else(|error| panic!("{error}"));
    assert!(site.lints.is_empty(), "{:?}", site.lints);
    let mut plant = site.config.plant;
    // The hand calculation insulates the underside.
    plant.floor.underside_w_m2k = 0.0;
    plant
}

fn worked(
    change: &str,
    given: Given,
    store_c: f64,
    pump_heat_w: f64,
    floor_film: FloorFilm,
) -> BalancePoint {
    let options = BalanceOptions {
        floor_film,
        pump_heat_w,
        curtain_drawn: !change.is_empty(),
        ..BalanceOptions::default()
    };
    balance_point(&plant(change), given, store_c, &options)
}

#[test]
fn conductances_of_the_house_and_its_loop() {
    let plant = plant("");
    let house = &plant.house;
    close(house.glazing_area_m2(), 62.9973, 1e-4, "glazing");
    close(house.volume_m3(), 49.68, 1e-9, "volume");
    close(house.envelope_w_k(false), 227.5771, 1e-3, "envelope");
    close(house.edge_w_k(), 17.9443, 1e-4, "edge");
    let point = LoopDesign::new(&plant).flow_point(Path::Series, 7.0);
    // The pump's curve meets the loop's at the worked flow to a part in ten thousand.
    close(point.flow_l_s, 0.060, 6e-6, "flow");
    close(point.capacity_w_k, 252.0017, 0.03, "capacity flow");
    close(
        point.house_effectiveness,
        0.692776,
        5e-5,
        "effectiveness of the slab",
    );
    close(
        point.store_effectiveness,
        0.692776,
        5e-5,
        "effectiveness of the store floor",
    );
    let balance = worked("", Given::SlabCore(2.0), 9.0, 0.0, FloorFilm::Fixed(9.0));
    close(balance.loop_conductance_w_k, 133.5508, 0.01, "loop");
    close(balance.slab_to_air_w_k, 154.8000, 1e-4, "slab to air");
}

#[test]
fn balance_points_given_the_slab() {
    for (change, store_c, pump_w, [air, outdoor, heat, supply, ret]) in SLAB_AT_2 {
        let got = worked(
            change,
            Given::SlabCore(2.0),
            store_c,
            pump_w,
            FloorFilm::Fixed(9.0),
        );
        let row = format!("store {store_c} °C, pump {pump_w} W, {change:?}");
        close(got.slab_c, 2.0, 1e-12, &row);
        close(got.air_c, air, 1e-3, &row);
        close(got.outdoor_c, outdoor, 1e-3, &row);
        close(got.supply_c, supply, 1e-3, &row);
        close(got.return_c, ret, 1e-3, &row);
        close(got.heat_w, heat, 0.1, &row);
    }
}

#[test]
fn balance_points_given_the_air() {
    for (store_c, [slab, outdoor, heat]) in AIR_AT_2 {
        let got = worked("", Given::Air(2.0), store_c, 0.0, FloorFilm::Fixed(9.0));
        let row = format!("store {store_c} °C");
        close(got.air_c, 2.0, 1e-9, &row);
        close(got.slab_c, slab, 1e-3, &row);
        close(got.outdoor_c, outdoor, 1e-3, &row);
        close(got.heat_w, heat, 0.1, &row);
    }
}

#[test]
fn balance_with_the_floor_film_of_the_standard() {
    let got = worked("", Given::SlabCore(2.0), 9.0, 0.0, FloorFilm::Curve);
    close(got.floor_film_w_m2k, 10.144, 1e-3, "film");
    close(got.outdoor_c, -6.108, 1e-3, "outdoors");
    close(got.air_c, -2.639, 1e-3, "air");
}

#[test]
fn how_long_the_slab_takes() {
    let plant = plant("");
    let balance = worked("", Given::SlabCore(2.0), 9.0, 0.0, FloorFilm::Fixed(9.0));
    let house = &plant.house;
    let through_air = 1.0 / (1.0 / balance.slab_to_air_w_k + 1.0 / house.envelope_w_k(false));
    let losses = through_air + house.edge_w_k();
    let store = balance.loop_conductance_w_k;
    let capacity =
        house.floor_area_m2() * plant.floor.thickness_m * plant.floor.heat_capacity_j_m3k;
    close(capacity, 4.536e6, 1.0, "heat capacity");
    close(capacity / losses, 41_208.00, 0.5, "time constant, loop off");
    close(
        capacity / (losses + store),
        18_618.67,
        1.0,
        "time constant, loop on",
    );
    for [hours, off, on] in COOLING {
        for (conductance, want) in [(0.0, off), (store, on)] {
            let all = losses + conductance;
            let settled = (losses * -10.0 + conductance * 9.0) / all;
            let got = settled + (5.0 - settled) * (-hours * 3600.0 * all / capacity).exp();
            close(
                got,
                want,
                1e-3,
                &format!("after {hours} h, store {conductance} W/K"),
            );
        }
    }
}

#[test]
fn a_change_in_the_file_changes_the_answer() {
    // The other way round from the rows above: the file is really read.
    let base = worked("", Given::SlabCore(2.0), 9.0, 0.0, FloorFilm::Fixed(9.0));
    let text = DEMO.replacen(
        "glazing_u_value = \"3.4 W/m²K\"",
        "glazing_u_value = \"4.0 W/m²K\"",
        1,
    );
    assert_ne!(text, DEMO);
    let site = Site::parse(&text, "demo-site.toml").unwrap_or_else(|error| panic!("{error}"));
    let mut leaky = site.config.plant;
    leaky.floor.underside_w_m2k = 0.0;
    let leakier = balance_point(
        &leaky,
        Given::SlabCore(2.0),
        9.0,
        &BalanceOptions::default(),
    );
    assert!(leakier.outdoor_c > base.outdoor_c + 0.1, "{leakier:?}");
}
