//! The account against the plant's own ledger and an integral made apart.

use super::*;
use crate::closed_loop::{ClosedLoop, Pace};
use crate::plant::{OutdoorConditions, PlantConfig};

const TARGET_C: f64 = 6.0;
const HOURS: u64 = 60;

fn weather(at_s: u64) -> OutdoorConditions {
    OutdoorConditions {
        air_c: -15.0,
        dew_point_c: -17.0,
        infrared_w_m2: 180.0,
        wind_m_s: 2.0,
        solar_incident_w: 0.0,
        ground_day: 20.0 + at_s as f64 / DAY_S as f64,
    }
}

/// Runs two hours in three, with a call in the second of them.
fn relays(at_s: u64) -> Relays {
    let hour = at_s / 3_600 % 3;
    Relays {
        circulator: hour < 2,
        boiler_call: hour == 1,
    }
}

/// The run, with what is told after every stretch.
fn run(hours: u64, mut each: impl FnMut(&Stretch, &Plant)) -> Plant {
    let mut house = ClosedLoop::new(Plant::new(&PlantConfig::default(), 1), 0, Pace::USUAL);
    while house.now_s() < hours * 3_600 {
        house.relays = relays(house.now_s());
        let stretch = house.go_on(hours * 3_600, weather);
        each(&stretch, &house.plant);
    }
    house.plant
}

fn begin() -> Tally {
    Tally::new(&Plant::new(&PlantConfig::default(), 1), TARGET_C)
}

#[test]
fn sums_are_those_of_the_plants_ledger() {
    let mut tally = begin();
    let plant = run(HOURS, |stretch, plant| tally.add(stretch, plant));
    let season = tally.finish(&plant);
    let ledger = plant.ledger();
    for (counted_kwh, joules) in [
        (season.pump_kwh, ledger.pump_j),
        (season.boiler_heat_kwh, ledger.boiler_j),
        (season.earth_heat_kwh, ledger.earth_j),
    ] {
        assert!(joules.abs() > 1e5, "{joules}");
        assert!((counted_kwh * JOULES_PER_KWH / joules - 1.0).abs() < 1e-9);
    }
    assert!((season.wood_kg - plant.true_state().wood_kg).abs() < 1e-12);
    assert_eq!((season.starts, season.calls), (20, 20));
    // Nights end at noon: in 60 h there are noons at 12, 36 and 60 h.
    assert_eq!((season.nights_with_fire, season.days.len()), (3, 2));
}

#[test]
fn the_slab_is_integrated_as_apart() {
    let mut tally = begin();
    let (mut apart_kh, mut coldest_c, mut read_c) = (0.0, f64::INFINITY, f64::INFINITY);
    let plant = run(HOURS, |stretch, plant| {
        tally.add(stretch, plant);
        let slab_c = plant.truth().slab_c;
        apart_kh += (TARGET_C - slab_c).max(0.0) * stretch.length_s as f64 / 3_600.0;
        coldest_c = plant.slab_min_c().min(coldest_c);
        read_c = slab_c.min(read_c);
    });
    let season = tally.finish(&plant);
    assert!(apart_kh > 1.0, "{apart_kh}");
    assert!((season.below_target_kh - apart_kh).abs() < 1e-9);
    assert!((season.slab_true_min_c - coldest_c).abs() < 1e-12);
    assert!((season.slab_sensor_min_c - read_c).abs() < 1e-12);
}

#[test]
fn time_before_it_has_settled_does_not_count_for_the_slab() {
    let mut tally = begin().settled_at(HOURS * 3_600);
    let plant = run(HOURS, |stretch, plant| tally.add(stretch, plant));
    let season = tally.finish(&plant);
    assert!(season.slab_true_min_c.is_infinite());
    assert!(season.below_target_kh == 0.0 && season.pump_kwh > 0.0);
}

#[test]
fn two_accounts_that_follow_one_another_are_one() {
    let mut whole = begin();
    let mut part = begin();
    let mut parts = Vec::new();
    let plant = run(48, |stretch, plant| {
        whole.add(stretch, plant);
        part.add(stretch, plant);
        if stretch.end_s() == DAY_S {
            let next = part.following(plant);
            parts.push(std::mem::replace(&mut part, next).finish(plant));
        }
    });
    parts.push(part.finish(&plant));
    let whole = whole.finish(&plant);
    let both = Season::of_all(&parts);
    assert_eq!((both.starts, both.calls), (whole.starts, whole.calls));
    assert_eq!(both.days, whole.days);
    assert!((both.below_target_kh - whole.below_target_kh).abs() < 1e-9);
    assert!((both.pump_kwh - whole.pump_kwh).abs() < 1e-9);
    assert!((both.wood_kg - whole.wood_kg).abs() < 1e-12);
}
