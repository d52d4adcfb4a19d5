//! The design check against what others print: the demo house worked by hand, standards, handbooks.

use host_sim::files::site::Site;
use host_sim::questions::size::{
    Asked, BalanceRow, Check, design_night, freeze_table, typical_design_night_c,
};
use host_sim::sim::plant::config::{
    BoilerConfig, BoilerKind, CirculatorConfig, GroundConfig, Piping, PlantConfig, RunConfig,
};
use host_sim::sim::plant::fluid::Fluid;
use host_sim::sim::plant::ground::draw_down_k;
use host_sim::sim::plant::tube::Tube;
use system_tests::Station;

const DEMO: &str = include_str!("../../docs/demo-site.toml");

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!(
        (got - want).abs() <= tolerance,
        "{what}: got {got}, want {want} within {tolerance}"
    );
}

fn demo() -> PlantConfig {
    let site = Site::parse(DEMO, "demo-site.toml").unwrap_or_else(|error| panic!("{error}"));
    let mut plant = site.config.plant;
    // The hand calculation insulates the underside.
    plant.floor.underside_w_m2k = 0.0;
    plant
}

fn check(plant: &PlantConfig) -> Check {
    let asked = Asked {
        hold_c: 2.0,
        store_c: Some(9.0),
        design_c: -18.8,
    };
    Check::of(plant, &asked.question(plant))
}

fn row<'a>(check: &'a Check, case: &str) -> &'a BalanceRow {
    let row = check.balance.iter().find(|row| row.case == case);
    row.unwrap_or_else(|| panic!("no case {case}"))
}

/// The demo house worked by hand in another language (IAPWS-95 water by CoolProp, Churchill, Gnielinski, the row of tubes exactly,
/// two exchangers in one loop): case, then given the slab at 2 °C: air, outdoors °C, heat W, supply and return °C.
const SLAB_AT_2: [(&str, [f64; 5]); 5] = [
    ("as_designed", [-3.0546, -6.4928, 934.855, 7.3549, 3.6451]),
    ("store_colder", [-1.6105, -4.0663, 667.754, 5.8249, 3.1751]),
    ("store_warmer", [-4.4988, -8.9194, 1201.957, 8.8848, 4.1152]),
    ("pump_heat", [-3.1994, -6.7361, 961.630, 7.5082, 3.6923]),
    ("curtain", [-2.7530, -9.0948, 934.855, 7.3549, 3.6451]),
];

/// The same given air of 2 °C: slab, outdoors °C, heat W.
const AIR_AT_2: [(&str, [f64; 3]); 3] = [
    ("as_designed", [4.9352, 0.0035, 542.861]),
    ("store_colder", [4.0966, 0.5739, 387.758]),
    ("store_warmer", [5.7738, -0.5670, 697.964]),
];

#[test]
fn the_worked_house_holds_what_it_holds_by_hand() {
    let mut plant = demo();
    // The hand calculation puts 35 W of the circulator into the water.
    plant.circulator.heat_to_water = 35.0 / plant.circulator.electrical_w;
    let check = check(&plant);
    for (case, [air, outdoor, heat, supply, ret]) in SLAB_AT_2 {
        let got = row(&check, case).slab;
        close(got.slab_c, 2.0, 1e-12, case);
        close(got.air_c, air, 1e-3, case);
        close(got.outdoor_c, outdoor, 1e-3, case);
        close(got.heat_w, heat, 0.1, case);
        close(got.supply_c, supply, 1e-3, case);
        close(got.return_c, ret, 1e-3, case);
    }
    for (case, [slab, outdoor, heat]) in AIR_AT_2 {
        let got = row(&check, case).air;
        close(got.air_c, 2.0, 1e-9, case);
        close(got.slab_c, slab, 1e-3, case);
        close(got.outdoor_c, outdoor, 1e-3, case);
        close(got.heat_w, heat, 0.1, case);
    }
    let standard = row(&check, "standard_film").slab;
    close(standard.outdoor_c, -6.108, 1e-3, "EN 1264-2 film");
    close(standard.air_c, -2.639, 1e-3, "EN 1264-2 film");
}

#[test]
fn the_worked_loop_is_the_loop_worked_by_hand() {
    let check = check(&demo());
    for floor in &check.floors {
        close(floor.velocity_m_s, 0.53052, 1e-4, "velocity");
        close(floor.reynolds, 4461.3, 1.0, "Reynolds number");
        close(floor.film_mk_w, 0.013498, 5e-6, "film");
        close(floor.wall_mk_w, 0.120490, 1e-6, "wall");
        close(floor.concrete_mk_w, 0.038795 / 0.25, 4e-6, "concrete");
        close(floor.total_mk_w(), 0.289166, 1e-5, "resistance");
        close(floor.effectiveness, 0.692776, 5e-5, "effectiveness");
        close(floor.shares().iter().sum(), 1.0, 1e-12, "shares");
        // Reynolds numbers are in line with flow.
        close(
            floor.laminar_below_l_s,
            0.060 * 2300.0 / 4461.3,
            1e-5,
            "cliff",
        );
    }
    close(check.pump.flow_l_s, 0.060, 6e-6, "flow");
    close(check.heat.capacity_w_k, 252.0017, 0.03, "capacity flow");
    close(check.heat.conductance_w_k, 133.5508, 0.01, "loop");
    close(check.heat.losses_w_k, 92.1314 + 17.9443, 1e-3, "losses");
    let [off_s, on_s] = check.heat.time_constant_s;
    close(off_s, 41_208.00, 0.5, "time constant, loop off");
    close(on_s, 18_618.67, 1.0, "time constant, loop on");
    close(check.heat.transit_s, 162.1, 0.1, "transit");
}

/// Two 86 m circuits of 16×2 tube in series on a generic circulator of 4.5 m and 2.4 m³/h, 45 W (`fluids`, bisection): L/s, m,
/// W, share.
#[test]
fn the_operating_point_of_a_generic_circulator() {
    let no_run = RunConfig {
        length_m: 1e-3,
        fittings_k: 0.0,
        ..RunConfig::default()
    };
    let plant = PlantConfig {
        circulator: CirculatorConfig {
            shutoff_head_m: 4.5,
            runout_m3_h: 2.4,
            electrical_w: 45.0,
            ..CirculatorConfig::default()
        },
        supply_run: no_run.clone(),
        return_run: no_run,
        ..PlantConfig::default()
    };
    let pump = check(&plant).pump;
    close(pump.flow_l_s, 0.041_285_2, 5e-6, "flow");
    close(pump.head_m, 4.482_74, 1e-4, "head");
    close(pump.pump_head_m, pump.head_m, 1e-6, "both heads");
    close(pump.hydraulic_w, 1.8148, 5e-4, "flow work");
    close(pump.wire_to_water, 0.040_33, 1e-5, "wire to water");
}

/// ASHRAE Fundamentals, insulation (2009 ch. 23 eq. 1), hours of still 7 °C water in 1/2 in tube to 0 °C: air °C; bare, bare in
/// wind, with 13 mm of foam, with 25 mm; then Stefan's hours from 0 °C to solid with 13 mm. `None`: not in the worked table.
type Freezing = (f64, [Option<f64>; 4], Option<f64>);
const FREEZING: [Freezing; 2] = [
    (
        -10.0,
        [Some(0.1561), Some(0.0672), Some(0.3495), Some(0.4623)],
        Some(4.822),
    ),
    (-20.0, [Some(0.0883), None, None, Some(0.2615)], None),
];

#[test]
fn still_pipes_freeze_when_the_handbook_says() {
    let run = RunConfig {
        tube: Tube::named("1/2 in").expect("a standard size"),
        ..RunConfig::default()
    };
    for (around_c, want, solid) in FREEZING {
        let rows = freeze_table(&run, Fluid::Water, 7.0, [around_c]);
        let [row] = rows[..] else {
            panic!("one row for one temperature");
        };
        let got = [row.bare, row.bare_windy, row.as_built, row.thick].map(|t| t.to_freezing_s);
        let all = got
            .into_iter()
            .zip(want)
            .chain([(row.as_built.to_solid_s, solid)]);
        for (got, want) in all.filter_map(|(got, want)| Some((got?, want?))) {
            close(
                got / 3600.0 / want,
                1.0,
                4e-3,
                &format!("{around_c} °C, {want} h"),
            );
        }
        assert!(got.iter().all(Option::is_some), "cold enough: {row:?}");
    }
}

/// EN 12828 (gauge pressures, reserve 3 L): a 60 L loop from 4 to 60 °C between 0.7 and 2.5 bar needs 7.825 L.
#[test]
fn the_vessel_is_that_of_the_standard() {
    let mut plant = PlantConfig {
        boiler: Some(BoilerConfig {
            kind: BoilerKind::Injection {
                capacity_w: 12_000.0,
            },
            piping: Piping::Bypass,
            mixing_c: Some(60.0),
        }),
        ..PlantConfig::default()
    };
    let runs_l = plant.supply_run.water_l() + plant.return_run.water_l();
    let floors_m = (60.0 - runs_l) / plant.floor.tube.litres_per_m();
    plant.floor.circuit_length_m = floors_m / 2.0;
    plant.store.floor.circuit_length_m = floors_m / 2.0;
    let vessel = check(&plant).vessel;
    close(vessel.loop_l, 60.0, 1e-9, "volume");
    close(vessel.jacket_l, 0.0, 0.0, "jacket");
    close(vessel.expansion_l, 1.0242, 2e-3, "expansion, IAPWS-95");
    close(vessel.nominal_l, 7.825, 0.01, "EN 12828");
    // ASHRAE diaphragm tank with the same pressures, absolute: 1.0242 / (1 − 1.71325/3.51325).
    close(
        vessel.ashrae_l,
        1.0242 / (1.0 - 1.713_25 / 3.513_25),
        5e-3,
        "ASHRAE",
    );
    assert_eq!(vessel.next_size_l, Some(8.0));
}

#[test]
fn glycol_costs_heat_and_the_dose_is_the_table_s() {
    let check = check(&demo());
    let dose = check.glycol.dose.expect("a mixture that stays liquid");
    // ASHRAE Fundamentals ch. 31: 40 % by mass freezes at −21.1 °C; wanted −21.8 °C.
    close(check.glycol.wanted_c, -21.8, 1e-9, "wanted");
    close(dose.share, 0.405, 0.015, "share");
    // Laminar, whose film a turbulent one beats several times over; the loop still conducts through its long tube.
    assert!(dose.reynolds < 1000.0, "{dose:?}");
    close(
        dose.heat_lost,
        1.0 - dose.conductance_w_k / check.heat.conductance_w_k,
        1e-12,
        "cost",
    );
    assert!(dose.heat_lost > 0.3 && dose.heat_lost < 0.6, "{dose:?}");
    assert!(row(&check, "glycol").slab.outdoor_c > row(&check, "as_designed").slab.outdoor_c + 2.0);
}

/// Carslaw & Jaeger §2.9: 30 m² of floor drawn at a steady 800 W, earth of 1.5 W/mK and 2.2 MJ/m³K alone; K after 1, 7, 30 days.
#[test]
fn a_floor_drawn_steadily_tires_as_the_closed_form_says() {
    let earth = GroundConfig {
        conductivity_w_mk: 1.5,
        heat_capacity_j_m3k: 2.2e6,
        ..GroundConfig::default()
    };
    for (days, want) in [(1.0, 4.87), (7.0, 12.9), (30.0, 26.7)] {
        let got = draw_down_k(&earth, 800.0 / 30.0, 0.0, days * 86_400.0);
        close(got, want, 0.05, "draw-down");
    }
    // The loop, which draws less as the floor cools, must do better than one that goes on drawing its first day's heat.
    let check = check(&demo());
    let first = &check.tiring[0];
    let steady = draw_down_k(&earth, first.heat_w / 21.5, 0.0, 86_400.0);
    let got = first.floor_c - check.tiring[1].floor_c;
    assert!(got > 0.2 * steady && got < steady, "{got} of {steady}");
}

/// Heating dry bulb, 99.6 %, of the 2009 ASHRAE Handbook as the heads of the weather files print it, and a typical year's own.
#[test]
fn design_nights_are_the_handbook_s() {
    for (station, printed_c, typical_c) in [
        (Station::Chicago, -20.0, -20.0),
        (Station::Golden, -18.8, -17.0),
    ] {
        let year = station.year();
        let (celsius, from) = design_night(&year);
        assert_eq!(celsius, printed_c);
        assert!(from.contains("ASHRAE"), "{from}");
        assert_eq!(typical_design_night_c(&year), typical_c);
        // A typical year is at most a little milder than the handbook's record.
        assert!(typical_c >= printed_c && typical_c - printed_c < 2.5);
    }
}
