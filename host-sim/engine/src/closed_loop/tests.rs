//! Stretches and steps in time.

use std::convert::Infallible;

use controller_core::Controller;
use controller_core::restart::Restart;
use controller_core::settings::Settings;

use super::*;
use crate::plant::PlantConfig;

const COLD: OutdoorConditions = OutdoorConditions {
    air_c: -10.0,
    dew_point_c: -12.0,
    infrared_w_m2: 200.0,
    wind_m_s: 2.0,
    solar_incident_w: 0.0,
    ground_day: 20.0,
};

fn house(now_s: u64, pace: Pace) -> ClosedLoop {
    ClosedLoop::new(Plant::new(&PlantConfig::default(), 1), now_s, pace)
}

#[test]
fn stretches_of_either_length_meet_at_whole_minutes() {
    let mut house = house(7, Pace::USUAL);
    let mut ends = Vec::new();
    for runs in [false, true, true, false, false] {
        house.relays.circulator = runs;
        ends.push(house.go_on(1_000, |_| COLD).end_s());
    }
    assert_eq!(ends, [60, 70, 80, 120, 180]);
    assert_eq!(house.now_s(), 180);
}

#[test]
fn a_stretch_ends_where_it_is_told_to() {
    let mut house = house(0, Pace::USUAL);
    assert_eq!(house.go_on(45, |_| COLD).length_s, 45);
    assert_eq!(house.go_on(1_000, |_| COLD).length_s, 15);
}

#[test]
fn a_length_out_of_range_is_the_nearest_in_it() {
    assert_eq!(Pace::of_rest(0), Pace::of_rest(1));
    assert_eq!(Pace::of_rest(3_600), Pace::USUAL);
    assert_eq!(Pace::of_rest(30).rest_s(), 30);
}

#[test]
fn the_weather_is_asked_for_the_middle() {
    let mut house = house(0, Pace::USUAL);
    let mut asked = Vec::new();
    house.go_on(60, |at_s| {
        asked.push(at_s);
        COLD
    });
    assert_eq!(asked, [30]);
}

#[test]
fn relays_reach_the_house_with_the_next_stretch() {
    let mut house = house(0, Pace::USUAL);
    house.go_on(60, |_| COLD);
    house.relays.circulator = true;
    assert!(house.plant.true_state().flow_l_s <= 0.0);
    let stretch = house.go_on(120, |_| COLD);
    assert!(stretch.relays.circulator);
    assert!(house.plant.true_state().flow_l_s > 0.0);
}

#[test]
fn relays_that_do_something_else_are_kept_apart_from_what_was_asked_for() {
    let mut house = house(0, Pace::USUAL);
    let welded = Relays {
        circulator: true,
        boiler_call: false,
    };
    let stretch = house.go_on_with(welded, true, 60, |_| COLD);
    assert_eq!((stretch.length_s, stretch.relays), (10, Relays::default()));
    assert!(house.plant.true_state().flow_l_s > 0.0);
}

#[test]
fn a_controller_is_called_at_every_time_it_asks_for() {
    let settings = Settings::default();
    let mut controller = Controller::boot(settings, Instant::from_millis(0), Restart::ORDINARY);
    let mut house = house(0, Pace::USUAL);
    let mut place = None;
    let mut times = Vec::new();
    for _ in 0..3 {
        let stretch = house.go_on(180, |_| COLD);
        let last = house.now_s() == 180;
        let Ok(()) = house.steer(
            &mut controller,
            &mut place,
            &stretch,
            last,
            |samples| Inputs {
                samples,
                ..Inputs::default()
            },
            |report, _, now, _| {
                times.push((now.as_millis(), report.next.as_millis()));
                Ok::<(), Infallible>(())
            },
        );
    }
    assert!(times.len() >= 3, "{times:?}");
    // Each step is at the time the one before asked for, the last at the very end.
    for pair in times.windows(2) {
        assert_eq!(pair[0].1, pair[1].0, "{times:?}");
    }
    assert_eq!(times.last().map(|(now, _)| *now), Some(180_000));
}
