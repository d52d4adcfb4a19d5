//! What whoever feeds a fire by hand is told.

use controller_core::sensor::Sensor;
use controller_core::settings::{BoilerKind, RawSettings};
use controller_core::{BoilerState, StepReport, WoodAdvice, WoodRequest};

use super::boiler::{called, cold, heating, state};
use crate::support::{Bench, c, hours, k, mins};

fn wood(report: &StepReport) -> WoodAdvice {
    report.row.summary.wood
}

#[test]
fn wood_is_asked_for_before_the_call_and_no_more_of_it_once_the_slab_is_warm() {
    let mut bench = cold(3.3, |_| {});
    bench.set(Sensor::Return, 5.0);
    bench.pass(mins(65));
    assert_eq!(wood(bench.report()).request, WoodRequest::NoMore);
    // Half a kelvin an hour, down to 2.5 °C.
    let mut asked = None;
    for step in 1..=12 {
        bench.slab_to(3.3 - f64::from(step) / 16.0);
        bench.pass(mins(8));
        if !called(bench.report()) && wood(bench.report()).request == WoodRequest::Light {
            asked.get_or_insert(wood(bench.report()));
        }
    }
    let asked = asked.expect("asked for before the call");
    assert!((40..=90).contains(&asked.within_min), "{asked:?}");
    bench.slab_to(2.4);
    bench.wait_for(mins(20), "the call", called);
    bench.pass(mins(2));
    // It lacks 1.1 K and loses about half a kelvin in the hour in which it burns: two at 1.1 K a kilogram.
    let now = wood(bench.report());
    assert_eq!(
        (now.request, now.kg, now.within_min),
        (WoodRequest::Light, 2, 0)
    );
    bench.set(Sensor::Supply, 20.0);
    bench.set(Sensor::Return, 8.0);
    for step in 1..=12 {
        bench.slab_to(2.4 + f64::from(step) / 10.0);
        bench.pass(mins(8));
    }
    assert_eq!(wood(bench.report()).request, WoodRequest::NoMore);
}

#[test]
fn near_the_call_nobody_hears_no_more_wood_before_the_fall_is_known() {
    let mut bench = Bench::new();
    for (sensor, celsius) in [
        (Sensor::Supply, 6.0),
        (Sensor::Return, 5.0),
        (Sensor::Slab, 2.8),
        (Sensor::Outdoor, -3.0),
    ] {
        bench.set(sensor, celsius);
    }
    bench.always(mins(29), "nothing is known yet", |r| {
        wood(r) == WoodAdvice::default()
    });
    bench.pass(mins(10));
    assert_eq!(
        wood(bench.report()).request,
        WoodRequest::NoMore,
        "it does not fall"
    );
    // Far from the call it needs no fall to be known.
    let mut bench = cold(3.8, |_| {});
    bench.pass(mins(2));
    assert_eq!(wood(bench.report()).request, WoodRequest::NoMore);
}

#[test]
fn a_fire_that_is_out_is_asked_for_again_and_a_limit_asks_for_none() {
    let mut bench = cold(1.7, |_| {});
    bench.wait_for(mins(20), "the call", called);
    bench.wait_for(mins(40), "the failure", |r| {
        r.row.summary.boiler == BoilerState::Failed
    });
    bench.always(mins(30), "wood is wanted", |r| {
        wood(r).request == WoodRequest::Light
    });
    let mut bench = heating(2.1, |_| {});
    bench.pass(mins(1));
    assert_eq!(wood(bench.report()).request, WoodRequest::Light);
    bench.set(Sensor::Supply, 41.0);
    bench.wait_for(mins(5), "the limit", |r| {
        r.row.summary.boiler == BoilerState::Barred
    });
    assert_eq!(state(&bench), BoilerState::Barred);
    bench.always(mins(20), "no wood where a limit stands", |r| {
        wood(r).request != WoodRequest::Light || r.row.summary.boiler != BoilerState::Barred
    });
}

#[test]
fn nothing_is_said_where_nobody_feeds_a_fire() {
    let silent = |change: fn(&mut RawSettings)| {
        let mut bench: Bench = cold(2.1, change);
        bench.always(hours(1), "nothing is said", |r| {
            wood(r) == WoodAdvice::default()
        });
    };
    silent(|raw| raw.boiler = BoilerKind::Injection);
    silent(|raw| raw.wood_most = 0);
    let mut bench = cold(1.0, |raw| {
        raw.wood_most = 3;
        raw.wood_rise = k(0.2);
        raw.backup_slab = c(4.0);
    });
    bench.pass(mins(2));
    assert_eq!(wood(bench.report()).kg, 3, "what fits");
}
