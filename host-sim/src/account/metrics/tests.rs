//! Numbers against short sequences counted by hand.

use controller_core::alarm::AlarmSet;
use controller_core::sensor::ReadingFault;
use controller_core::units::{Kelvin, Watts};
use controller_core::{ActualRelays, Flow};
use jiff::civil::date;

use super::sample::row_at;
use super::*;

const TEN_MINUTES: u64 = 600_000;
const HOUR: u64 = 3_600_000;

fn metrics(start: Option<DateTime>) -> Metrics {
    Metrics::new(MetricsOptions::from_settings(&Settings::default(), start))
}

/// One row every ten minutes, each standing ten minutes, changed by `change`.
fn run(
    start: Option<DateTime>,
    rows: u64,
    mut change: impl FnMut(u64, &mut TraceRow, &mut Extra),
) -> SummaryNumbers {
    let mut metrics = metrics(start);
    for n in 0..rows {
        let mut row = row_at(n * 10);
        let mut extra = Extra::default();
        change(n, &mut row, &mut extra);
        metrics.push(&row, TEN_MINUTES, &extra);
    }
    metrics.finish()
}

fn celsius_of(milli: i32) -> Option<Celsius> {
    Some(Celsius::from_milli(milli))
}

#[test]
fn slab_below_target_and_zero() {
    let slab = [2_000, 1_000, -500, 1_000, 2_000];
    let n = run(None, 5, |i, row, _| {
        row.readings.slab.value = celsius_of(slab[i as usize])
    });
    assert_eq!(n.slab_min_c, Some(-0.5));
    assert_eq!(n.slab_min_time_ms, Some(2 * TEN_MINUTES));
    assert_eq!(n.slab_hours_below_target, Some(0.5));
    // (0.5 + 2.0 + 0.5) K for ten minutes each.
    assert_eq!(n.slab_degree_hours_below_target, Some(0.5));
    assert_eq!(n.slab_hours_below_zero, Some(0.167));
    assert_eq!(n.slab_longest_hours_below_target, Some(0.5));
    assert_eq!(n.rows, 5);
    assert_eq!(n.days, 0.035); // 50 min of 1440
}

#[test]
fn the_target_itself_is_not_below_it() {
    let n = run(None, 3, |_, row, _| {
        row.readings.slab.value = celsius_of(1_500)
    });
    assert_eq!(n.slab_hours_below_target, Some(0.0));
    assert_eq!(n.slab_degree_hours_below_target, Some(0.0));
}

#[test]
fn an_unknown_slab_ends_a_spell_and_is_counted() {
    let n = run(None, 5, |i, row, _| {
        row.readings.slab.value = if i == 2 { None } else { celsius_of(1_000) };
    });
    assert_eq!(n.slab_longest_hours_below_target, Some(0.333));
    assert_eq!(n.slab_hours_below_target, Some(0.667));
    assert_eq!(n.slab_hours_unknown, Some(0.167));
}

#[test]
fn starts_belong_to_the_day_of_the_wall_clock() {
    // 23:45; rows at :45, :55 and then 00:05, 00:15, 00:25 and so on.
    let start = Some(date(2025, 1, 14).at(23, 45, 0, 0));
    let on = [true, false, true, false, true, true, false];
    let n = run(start, 7, |i, row, _| {
        row.outputs.circulator = on[i as usize]
    });
    assert_eq!(n.circulator_starts, 3);
    assert_eq!(n.circulator_starts_per_day_max, 2);
    assert_eq!(n.circulator_hours, 0.667);
    // Without a wall clock they are all of the first day.
    let n = run(None, 7, |i, row, _| row.outputs.circulator = on[i as usize]);
    assert_eq!(n.circulator_starts_per_day_max, 3);
}

#[test]
fn a_day_is_found_again_after_a_gap_of_days() {
    let mut m = metrics(None);
    for minutes in [0, 20, 5 * 1_440, 5 * 1_440 + 20, 5 * 1_440 + 40] {
        let mut row = row_at(minutes);
        row.outputs.circulator = true;
        m.push(&row, TEN_MINUTES, &Extra::default());
        row.now = row.now + Duration::from_mins(10);
        row.outputs.circulator = false;
        m.push(&row, TEN_MINUTES, &Extra::default());
    }
    let n = m.finish();
    assert_eq!(
        (n.circulator_starts, n.circulator_starts_per_day_max),
        (5, 3)
    );
    // The gap itself is not covered: ten rows of ten minutes.
    assert_eq!(n.days, 0.069);
}

#[test]
fn circulator_electricity_is_hours_times_power() {
    let n = run(None, 12, |_, row, _| row.outputs.circulator = true);
    assert_eq!(n.circulator_hours, 2.0);
    assert_eq!(n.pump_kwh, 0.09); // 2 h at the demo's 45 W
    assert_eq!(n.circulator_longest_rest_hours, Some(0.0));
}

#[test]
fn heat_counters_go_on_over_a_reboot() {
    let wh = [1_000, 1_500, 0, 200];
    let n = run(None, 4, |i, row, _| {
        row.estimate.earth_wh = wh[i as usize];
        row.estimate.flow = Flow::Flowing;
        row.estimate.heat = Some(Watts::from_milli(500_000));
        row.outputs.circulator = true;
    });
    assert_eq!(n.earth_heat_kwh, Some(1.7));
    // 40 min × 0.2 K × 0.060 L/s × 4200 J/(kg K) = 33.6 Wh
    assert_eq!(n.earth_heat_error_kwh, Some(0.034));
    assert_eq!(n.cop, Some(56.667)); // 1.7 kWh over 40 min × 45 W = 0.03 kWh
    assert_eq!(n.heat_hours_unmeasured, None);
}

#[test]
fn heat_of_a_flow_nobody_could_meter_is_unknown_and_that_of_no_flow_is_none() {
    let unmetered = run(None, 6, |_, row, _| {
        row.estimate.flow = Flow::Flowing;
        row.estimate.heat = None;
    });
    assert_eq!(unmetered.earth_heat_kwh, None);
    assert_eq!(unmetered.cop, None);
    assert_eq!(unmetered.heat_hours_unmeasured, Some(1.0));
    let at_rest = run(None, 6, |_, _, _| {});
    assert_eq!(at_rest.earth_heat_kwh, Some(0.0));
}

#[test]
fn the_store_counts_only_where_it_was_measured() {
    let store = [3_000, 8_000, 7_000, 7_500];
    let n = run(None, 4, |i, row, _| {
        row.estimate.store = celsius_of(store[i as usize]);
        row.estimate.flow = Flow::Flowing;
        // The first is only the guess one starts with.
        row.estimate.store_age = if i == 0 {
            Duration::MAX
        } else {
            Duration::ZERO
        };
        row.readings.ret.value = celsius_of(9_000 + 1_000 * i as i32);
    });
    assert_eq!(
        (n.store_first_c, n.store_min_c, n.store_last_c),
        (Some(8.0), Some(7.0), Some(7.5))
    );
    assert_eq!(n.return_max_c, Some(12.0));
    // Above 10 °C, over a food store: 11 and 12.
    assert_eq!(n.return_hours_above_limit, Some(0.333));
}

#[test]
fn boiler_calls_and_those_without_heat() {
    let on = [false, true, true, false, true, false];
    let failed = [0, 0, 0, 1, 1, 2];
    let n = run(None, 6, |i, row, _| {
        row.outputs.boiler_call = on[i as usize];
        row.summary.failed_calls = failed[i as usize];
    });
    assert_eq!((n.boiler_calls, n.boiler_calls_without_heat), (2, 2));
    assert_eq!(n.boiler_call_hours, 0.5);
}

#[test]
fn cold_held_without_the_boiler_needs_a_day_without_one() {
    let count = |off_for, slab| {
        run(None, 200, |i, row, _| {
            row.status.boiler_off_for = off_for;
            row.readings.slab.value = celsius_of(slab);
            let mean = if i < 10 { -20_000 } else { -5_000 };
            row.estimate.outdoor_mean = celsius_of(mean);
        })
        .outdoor_mean_held_alone_c
    };
    assert_eq!(count(Duration::MAX, 2_000), Some(-5.0));
    assert_eq!(count(Duration::from_hours(23), 2_000), None);
    assert_eq!(count(Duration::MAX, 1_400), None);
}

#[test]
fn reasons_sum_to_the_time_covered() {
    let n = run(None, 6, |i, row, _| {
        row.reason = if i < 2 {
            Reason::Frost
        } else {
            Reason::WarmEnough
        };
    });
    assert_eq!(n.frost_override_hours, 0.333);
    assert_eq!(n.reasons["frost"], 0.333);
    assert_eq!(n.reasons["warm_enough"], 0.667);
    assert_eq!(n.reasons.len(), 2);
}

#[test]
fn alarms_tell_when_how_long_and_how_often() {
    let n = run(None, 6, |i, row, _| {
        row.alarms = AlarmSet::NONE
            .with(Alarm::FireOut, matches!(i, 1 | 2 | 4))
            .with(Alarm::Noisy, i == 5);
    });
    let fire = &n.alarms[0];
    assert_eq!(
        (fire.name.as_str(), fire.advice, fire.count),
        ("fire_out", false, 2)
    );
    assert_eq!(
        (fire.first_time_ms, fire.hours, fire.standing),
        (TEN_MINUTES, 0.5, false)
    );
    let noisy = &n.alarms[1];
    assert_eq!(
        (noisy.name.as_str(), noisy.advice, noisy.standing),
        ("noisy", true, true)
    );
    assert_eq!(n.alarms.len(), 2);
}

#[test]
fn sensors_doubted_and_lost() {
    let n = run(None, 6, |i, row, _| {
        let slab = &mut row.readings.slab;
        (slab.trust, slab.fault) = match i {
            0 => (Trust::Suspect, ReadingFault::Unseen),
            1 | 2 => (Trust::Suspect, ReadingFault::Jump),
            3 => (Trust::Bad, ReadingFault::Lost),
            _ => (Trust::Good, ReadingFault::None),
        };
        row.readings.supply.trust = Trust::Good;
    });
    let slab = &n.faults["slab"];
    assert_eq!(
        (slab.times, slab.doubted_hours, slab.lost_hours),
        (1, 0.333, 0.167)
    );
    assert_eq!(slab.kinds["jump"], 0.333);
    assert_eq!(slab.kinds["lost"], 0.167);
    assert!(!n.faults.contains_key("supply"));
}

#[test]
fn faults_are_listed_in_the_order_of_their_numbers() {
    for (place, fault) in counts::FAULTS.into_iter().enumerate() {
        assert_eq!(fault as usize, place);
    }
}

#[test]
fn agreement_with_logged_relays() {
    // ours:   off on  on  off off off
    // theirs: off off off off on  ?
    let ours = [false, true, true, false, false, false];
    let theirs = [
        Some(false),
        Some(false),
        Some(false),
        Some(false),
        Some(true),
        None,
    ];
    let n = run(None, 6, |i, row, extra| {
        row.outputs.circulator = ours[i as usize];
        row.reason = if i == 1 {
            Reason::StoreHeat
        } else {
            Reason::WarmEnough
        };
        extra.logged_circulator = theirs[i as usize];
    });
    let agreement = n.agreement.expect("a relay is logged");
    assert_eq!(agreement.boiler, None);
    let circulator = agreement.circulator.expect("it is logged");
    assert_eq!(circulator.compared_hours, 0.833);
    assert_eq!(circulator.equal_share, 0.4);
    assert_eq!(circulator.ours_on_theirs_off_hours, 0.333);
    assert_eq!(circulator.ours_off_theirs_on_hours, 0.167);
    let told: Vec<_> = agreement
        .differing
        .iter()
        .map(|d| (d.ours_on, d.start_time_ms, d.hours, d.reason.as_str()))
        .collect();
    assert_eq!(
        told,
        [
            (true, TEN_MINUTES, 0.333, "store_heat"),
            (false, 4 * TEN_MINUTES, 0.167, "warm_enough"),
        ]
    );
}

#[test]
fn heat_of_a_call_that_another_made_is_not_the_earths() {
    let measured = |called: Option<bool>| {
        run(None, 6, |i, row, _| {
            row.estimate.flow = Flow::Flowing;
            row.estimate.heat = Some(Watts::ZERO);
            row.shadow = called.map(|called| ActualRelays {
                circulator: Some(true),
                boiler_call: Some(called && i < 3),
            });
        })
        .earth_heat_error_kwh
    };
    let all = measured(None);
    assert_eq!(measured(Some(false)), all);
    // Three rows of ten minutes with the call, and the half hour after.
    assert!(measured(Some(true)) < all, "{all:?}");
}

#[test]
fn only_the_longest_differences_are_told() {
    let mut m = metrics(None);
    let mut minutes = 0;
    for length in 1..=30 {
        let mut row = row_at(minutes);
        row.outputs.boiler_call = true;
        let logged = |on| Extra {
            logged_boiler: Some(on),
            ..Extra::default()
        };
        m.push(&row, length * HOUR, &logged(false));
        minutes += length * 60;
        m.push(&row_at(minutes), HOUR, &logged(false));
        minutes += 60;
    }
    let told = m.finish().agreement.expect("logged").differing;
    let hours: Vec<f64> = told.iter().map(|d| d.hours).collect();
    let expected: Vec<f64> = (11..=30).rev().map(f64::from).collect();
    assert_eq!(hours, expected);
}

#[test]
fn the_summary_has_the_agreed_keys_and_leaves_out_what_is_unknown() {
    let mut n = run(None, 3, |_, row, _| {
        row.readings.slab.value = None;
        row.readings.outdoor.value = None;
    });
    let keys = |n: &SummaryNumbers| match serde_json::to_value(n).expect("plain numbers") {
        serde_json::Value::Object(map) => map.keys().cloned().collect::<Vec<_>>(),
        other => panic!("an object, not {other}"),
    };
    let sparse = keys(&n);
    for unknown in [
        "slab_min_c",
        "slab_hours_below_target",
        "outdoor_min_c",
        "wood_kg",
        "air_min_c",
        "agreement",
        "energy_closure",
    ] {
        assert!(!sparse.contains(&unknown.to_owned()), "{unknown}");
    }
    n = run(None, 3, |_, row, extra| {
        row.estimate.flow = Flow::Flowing;
        row.estimate.store = celsius_of(8_000);
        row.estimate.store_age = Duration::ZERO;
        row.estimate.heat = Some(Watts::from_milli(1));
        row.estimate.difference = Some(Kelvin::ZERO);
        row.outputs.circulator = true;
        extra.air_c = Some(1.0);
    });
    n.label_times(|ms| format!("+{ms}"));
    (n.wood_kg, n.energy_closure) = (Some(1.0), Some(1e-12));
    (n.trace_sha256, n.settings_sha256) = (Some(String::new()), Some(String::new()));
    let full = keys(&n);
    for key in [
        "days",
        "rows",
        "outdoor_min_c",
        "slab_min_c",
        "slab_min_time",
        "slab_hours_below_target",
        "slab_degree_hours_below_target",
        "slab_hours_below_zero",
        "air_min_c",
        "circulator_hours",
        "circulator_starts",
        "circulator_starts_per_day_max",
        "pump_kwh",
        "boiler_calls",
        "boiler_call_hours",
        "boiler_heat_kwh",
        "wood_kg",
        "earth_heat_kwh",
        "cop",
        "store_min_c",
        "frost_override_hours",
        "reasons",
        "faults",
        "alarms",
        "energy_closure",
        "trace_sha256",
        "settings_sha256",
    ] {
        assert!(full.contains(&key.to_owned()), "{key}");
    }
    assert_eq!(n.slab_min_time.as_deref(), Some("+0"));
}

#[test]
fn a_slab_too_cold_for_its_sensor_counts_by_the_models() {
    let options = MetricsOptions::from_settings(&Settings::default(), None);
    let mut metrics = Metrics::new(options);
    let mut row = row_at(0);
    row.readings.slab.value = None;
    let extra = Extra {
        slab_c: Some(-22.5),
        air_c: Some(-1.0),
        ..Extra::default()
    };
    metrics.push(&row, 3_600_000, &extra);
    let numbers = metrics.finish();
    assert_eq!(numbers.slab_hours_below_target, Some(1.0));
    assert_eq!(numbers.slab_degree_hours_below_target, Some(24.0));
    assert_eq!(numbers.slab_hours_unknown, None);
    assert_eq!(numbers.slab_min_c, Some(-22.5));
    assert_eq!(numbers.air_hours_below_zero, Some(1.0));
}
