//! The whole question: settling, ensemble, controller and fire together.

use super::ensemble::Range;
use super::night::{Course, House, Rule, first_below};
use super::start::{StoreReading, Track};
use super::weather::{MemberWeather, WeatherDraw};
use super::*;
use crate::files;
use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::closed_loop::Pace;
use crate::sim::plant::OutdoorConditions;
use crate::sim::plant::Plant;
use crate::sim::season::Run;
use crate::sim::weather::Series;
use jiff::civil::{DateTime, date, datetime};

const EVENING: DateTime = datetime(2025, 1, 15, 18, 0, 0, 0);

struct Given {
    site: SiteConfig,
    settings: Settings,
    station: Station,
    axis: Axis,
    present: Present,
    forecast: Forecast,
    history: Option<History>,
}

impl Given {
    fn new(low_c: f64, high_c: f64, sky: SkyCover) -> Given {
        let station = files::weather::demo()
            .expect("the built-in weather")
            .station;
        Given {
            site: SiteConfig::default(),
            settings: Settings::default(),
            axis: Axis::new(&station, EVENING, None),
            station,
            present: Present {
                slab_c: 6.0,
                store: StoreReading::Air(8.0),
                outdoor_c: Some(low_c + 0.6 * (high_c - low_c)),
                typed: true,
            },
            forecast: Forecast::LowHigh { low_c, high_c, sky },
            history: None,
        }
    }

    fn outlook(&self) -> Outlook {
        Outlook::new(
            &self.forecast,
            &self.station,
            &self.site.glazing(),
            self.axis,
            self.present.outdoor_c,
            self.history.as_ref(),
        )
        .expect("a period of the axis")
    }

    fn start(&self, outlook: &Outlook) -> Start {
        Start::settle(
            &by_hand(&self.site.plant),
            &self.settings,
            outlook,
            &self.present,
            self.history.as_ref(),
            1,
        )
    }

    fn answer(&self) -> Answer {
        answer(&Question {
            site: &self.site,
            settings: &self.settings,
            station: &self.station,
            axis: self.axis,
            present: self.present,
            history: self.history.as_ref(),
            forecast: &self.forecast,
            seed: 1,
            size: Size {
                members: 20,
                controlled: 2,
            },
            fire: true,
        })
        .expect("a sound question")
    }
}

#[test]
fn a_mild_night_holds_and_a_bitter_one_does_not() {
    let mild = Given::new(1.0, 8.0, SkyCover::Cloudy).answer();
    assert_eq!(mild.verdict(), Verdict::Holds);
    assert!(mild.fire.is_none());
    assert_eq!(mild.alone.below_target_s.low, f64::INFINITY);
    let bitter = Given::new(-18.0, -8.0, SkyCover::Clear).answer();
    assert_eq!(bitter.verdict(), Verdict::Fails);
    let below = bitter.alone.below_target_s;
    assert!(below.low <= below.middle && below.middle <= below.high);
    assert!(below.high < bitter.axis.sunrise_s as f64);
    let fire = bitter.fire.as_ref().expect("the demo site has a boiler");
    let light_s = fire.light_by_s.expect("it is called") as f64;
    assert!(light_s < fire.first_call_s.middle && light_s <= below.low);
    assert!(fire.wood_kg.low > 0.0);
    assert!(fire.coldest_c.middle > bitter.alone.coldest_c.middle + 1.0);
    let dies = fire
        .dies
        .as_ref()
        .expect("three o'clock lies within the night");
    assert!(dies.holding <= fire.holding);
    assert!(dies.coldest_c.low <= fire.coldest_c.low + 1e-9);
    // The air without a fire lies between the outdoors and the slab.
    let alone = &bitter.alone;
    assert!(alone.air_low_c.middle > alone.outdoor_low_c.middle);
    assert!(alone.air_low_c.middle < alone.coldest_c.middle && alone.air_below_zero_h.low > 6.0);
}

#[test]
fn a_dead_fire_never_beats_a_live_one_and_what_would_help_is_asked() {
    // A slab near its target dips before the fire is through, and is warm again at three.
    let mut given = Given::new(-20.0, -8.0, SkyCover::Clear);
    given.present.slab_c = 1.8;
    given.present.store = StoreReading::Air(4.0);
    let answer = given.answer();
    let fire = answer.fire.as_ref().expect("a fire is asked for");
    assert!(!fire.holds() && !answer.holds_with_fire(), "{fire:?}");
    let dies = fire.dies.as_ref().expect("it burns at three");
    assert!(dies.holding <= fire.holding, "{dies:?} and {fire:?}");
    for (dead, live) in [
        (dies.coldest_c.low, fire.coldest_c.low),
        (dies.coldest_c.middle, fire.coldest_c.middle),
        (dies.coldest_c.high, fire.coldest_c.high),
    ] {
        assert!(dead <= live + 1e-9, "{dies:?} and {fire:?}");
    }
    assert!(dies.below_target_s.middle < dies.at_s as f64);
    let at_once = fire.at_once.as_ref().expect("what would help is asked");
    assert!(
        at_once.coldest_c.middle >= fire.coldest_c.middle - 0.1,
        "{at_once:?}"
    );
    let curtained = answer.curtained.expect("the demo house has no curtain");
    assert!(
        curtained.coldest_c.middle >= fire.coldest_c.middle - 0.1,
        "{curtained:?}"
    );
}

#[test]
fn colder_forecasts_cloudier_skies_and_warmer_stores_move_the_answer_the_right_way() {
    let coldest = |given: &Given| given.answer().alone.coldest_c.middle;
    let clear = Given::new(-9.0, -1.0, SkyCover::Clear);
    let base = coldest(&clear);
    let colder = Given {
        forecast: Forecast::LowHigh {
            low_c: -13.0,
            high_c: -1.0,
            sky: SkyCover::Clear,
        },
        ..Given::new(-9.0, -1.0, SkyCover::Clear)
    };
    assert!(coldest(&colder) < base - 0.5);
    let cloudy = Given::new(-9.0, -1.0, SkyCover::Cloudy);
    assert!(coldest(&cloudy) > base + 0.2);
    let mut warm = Given::new(-9.0, -1.0, SkyCover::Clear);
    warm.present.store = StoreReading::Air(10.0);
    assert!(coldest(&warm) > base + 0.3);
    let mut cool_slab = Given::new(-9.0, -1.0, SkyCover::Clear);
    cool_slab.present.slab_c = 2.5;
    // The loop makes up for most of it: it starts at once instead of waiting for the slab to cool.
    assert!(coldest(&cool_slab) < base - 0.1);
}

#[test]
fn one_seed_gives_one_answer() {
    let given = Given::new(-9.0, -1.0, SkyCover::Unknown);
    let (a, b) = (given.answer(), given.answer());
    assert_eq!(a.alone, b.alone);
    assert_eq!(a.fire, b.fire);
}

#[test]
fn a_slab_below_its_target_is_below_it_now() {
    let mut given = Given::new(-9.0, -1.0, SkyCover::Clear);
    given.present.slab_c = 0.8;
    given.present.typed = false;
    let answer = given.answer();
    assert_eq!(answer.verdict(), Verdict::Fails);
    assert_eq!(answer.alone.below_target_s.high, answer.axis.now_s as f64);
}

#[test]
fn the_house_starts_at_what_was_read() {
    for store in [StoreReading::Air(7.0), StoreReading::Floor(6.5)] {
        let mut given = Given::new(-9.0, -1.0, SkyCover::Clear);
        given.present.store = store;
        let outlook = given.outlook();
        let house = given.start(&outlook).house;
        let truth = house.plant().true_state();
        assert!((truth.slab_sensor_c - 6.0).abs() < 1e-9);
        let read = match store {
            StoreReading::Air(_) => truth.store_air_c,
            StoreReading::Floor(_) => truth.store_floor_c,
        };
        assert!((read - store.celsius()).abs() < 1e-9);
        assert!(house.plant().closure() < 1e-9);
        // The floor loses heat to a cold evening: its surface is the coldest part of it.
        assert!(truth.slab_surface_c < truth.slab_core_c);
        assert!((outlook.air_c(given.axis.now_s) - -4.2).abs() < 1e-6);
    }
}

#[test]
fn a_logged_day_is_followed() {
    let mut given = Given::new(-9.0, -1.0, SkyCover::Clear);
    let start_s = given.axis.now_s - 36 * 3600;
    let track = |of: &dyn Fn(f64) -> f64| Track {
        start_s,
        values: (0..=216).map(|k| Some(of(f64::from(k) / 6.0))).collect(),
    };
    given.history = Some(History {
        start_s,
        outdoor_c: track(&|h| -3.0 - h / 12.0),
        slab_c: track(&|h| 9.0 - h / 12.0),
        store_c: track(&|_| 7.5),
    });
    given.present.typed = false;
    given.present.outdoor_c = Some(-6.0);
    let outlook = given.outlook();
    assert!((outlook.air_c(start_s + 12 * 3600) - -4.0).abs() < 0.01);
    let start = given.start(&outlook);
    assert!((start.house.plant().truth().slab_c - 6.0).abs() < 1e-9);
    assert!(start.spread.slab_k < 0.1 && start.spread.beside_k < 0.2);
}

/// The forecast's members: the named low is the coldest of the night in each, and their spread is the forecast's.
#[test]
fn drawn_nights_have_the_low_they_drew() {
    let given = Given::new(-9.0, -1.0, SkyCover::Clear);
    let outlook = given.outlook();
    let doubt = Doubt { cover_tenths: 1.5 };
    let mut lows = Vec::new();
    for draw in ensemble::draws(100, 20, 3) {
        let weather = MemberWeather::drawn(&outlook, &draw.weather, doubt);
        let coldest = (given.axis.now_s / 3600..=given.axis.until_s / 3600)
            .map(|hour| weather.at(hour * 3600).air_c)
            .fold(f64::INFINITY, f64::min);
        // Now is known: the reading cannot be above a low drawn higher.
        let wanted = (-9.0 + 2.0 * draw.weather.low).min(-4.2);
        assert!((coldest - wanted).abs() < 1.0, "{coldest} for {wanted}");
        assert!((weather.at(given.axis.now_s).air_c - -4.2).abs() < 1e-6);
        lows.push(coldest);
    }
    let range = Range::of(lows);
    assert!((range.middle - -9.0).abs() < 0.6, "{range:?}");
    assert!(
        (range.high - range.low - 2.56 * 2.0).abs() < 1.2,
        "{range:?}"
    );
    // Without errors it is the forecast itself.
    let plain = MemberWeather::drawn(&outlook, &WeatherDraw::default(), doubt);
    let forecast = MemberWeather::forecast(&outlook);
    let six_s = given.axis.now_s + 12 * 3600;
    assert!((plain.at(six_s).air_c - forecast.at(six_s).air_c).abs() < 1e-9);
}

/// This loop against the winter's own: the same plant, weather, seed and settings give the same slab to the bit.
#[test]
fn the_house_lives_as_in_a_winter() {
    let (site, settings) = (SiteConfig::default(), Settings::default());
    let year = files::weather::demo().expect("the built-in weather");
    let period = year.period(date(2025, 1, 10), 3).expect("three days");
    let series = Series::new(&year, period, &site.glazing());
    let run = Run {
        plant: &site.plant,
        settings: &settings,
        weather: &series,
        seed: 5,
        pace: Pace::USUAL,
    };
    let (mut calls, mut circulator_ms) = (0_u64, 0_u64);
    let totals = run
        .go::<Cancelled>(&Cancel::new(), |report, seen| {
            circulator_ms += u64::from(report.outputs.circulator) * seen.stands_ms;
            calls += u64::from(report.outputs.boiler_call);
            Ok(())
        })
        .expect("nothing stops it");
    let mut plant = site.plant.clone();
    let at = |second: u64| OutdoorConditions::from(series.conditions(second));
    plant.start.ground_day = at(0).ground_day;
    let mut house = House::new(Plant::new(&plant, 5), &settings, 0);
    let mut course = Course::default();
    house.run(3 * 86_400, &at, None, &mut course);
    let truth = house.plant().true_state();
    assert_eq!(truth.wood_kg, totals.wood_kg);
    assert_eq!(house.plant().closure(), totals.energy_closure);
    assert_eq!(course.slab_c.len(), 3 * 144);
}

/// The rule in place of the controller: on a night that matters the slab stays within a few tenths.
#[test]
fn the_plain_rule_stays_near_the_controller() {
    for (low_c, high_c) in [(-9.0, -1.0), (-4.0, 3.0), (-16.0, -6.0)] {
        let given = Given::new(low_c, high_c, SkyCover::Clear);
        let outlook = given.outlook();
        let start = given.start(&outlook);
        let weather = MemberWeather::forecast(&outlook);
        let at = |second: u64| weather.at(second);
        let mut course = Course::default();
        let mut house = start.house.clone();
        house.run(given.axis.until_s, &at, None, &mut course);
        let mut rule: Rule = start.rule.clone();
        let mut plant = start.house.plant().clone();
        let mut under_rule = Vec::new();
        rule.run(
            &mut plant,
            given.axis.now_s,
            given.axis.until_s,
            &at,
            |_, plant| {
                under_rule.push(plant.truth().slab_c);
            },
        );
        assert_eq!(under_rule.len(), course.slab_c.len());
        let worst = under_rule
            .iter()
            .zip(&course.slab_c)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max);
        assert!(worst < 0.35, "{worst} K at a low of {low_c}");
    }
}

#[test]
fn crossings_lie_between_samples() {
    assert_eq!(first_below(&[3.0, 2.0, 1.0], 1.5), Some(900.0));
    assert_eq!(first_below(&[1.0, 2.0], 1.5), Some(0.0));
    assert_eq!(first_below(&[3.0, 2.0], 1.5), None);
}

#[test]
fn the_axis_ends_two_hours_after_the_right_sunrise() {
    let station = files::weather::demo()
        .expect("the built-in weather")
        .station;
    let axis = |now: DateTime, until: Option<jiff::civil::Time>| Axis::new(&station, now, until);
    let evening = axis(EVENING, None);
    assert_eq!(evening.at(evening.now_s), EVENING);
    assert_eq!(evening.at(evening.until_s).date(), date(2025, 1, 16));
    let after_s = evening.until_s - evening.sunrise_s;
    assert!((7_200..7_800).contains(&after_s), "{after_s}");
    // At three in the morning it is this morning that counts.
    let night = axis(datetime(2025, 1, 16, 3, 4, 0, 0), None);
    assert_eq!(night.at(night.until_s), evening.at(evening.until_s));
    assert!(night.sunset_s < night.now_s);
    // An end this evening does not change which dawn the air is cooling towards.
    let soon = axis(EVENING, Some(jiff::civil::time(18, 10, 0, 0)));
    assert_eq!(soon.until_s - soon.now_s, 600);
    assert_eq!(soon.sunrise_s, evening.sunrise_s);
    let seven = jiff::civil::time(7, 0, 0, 0);
    let short = axis(EVENING, Some(seven));
    assert_eq!(short.at(short.until_s), datetime(2025, 1, 16, 7, 0, 0, 0));
}

/// A few weeks of the demo winter: the answers are right, and crossing times near. The whole table is
/// `cargo run --release -p host-sim --example tonight_scores`.
#[test]
fn against_nights_of_a_winter() {
    let (site, settings) = (SiteConfig::default(), Settings::default());
    let year = files::weather::demo().expect("the built-in weather");
    let season = score::Season::run(&site, &site, &settings, &year, 16, 3, 41).expect("days");
    let size = Size {
        members: 12,
        controlled: 2,
    };
    for night in &season.nights {
        let told = season
            .ask(night, score::Given::LogAndHours, size, 1)
            .expect("a sound question");
        assert!(
            (told.coldest_c.middle - told.truth_coldest_c).abs() < 0.4,
            "{}: {:?} for {}",
            night.date,
            told.coldest_c,
            told.truth_coldest_c
        );
        let guessed = season
            .ask(night, score::Given::Readings, size, 1)
            .expect("a sound question");
        assert!(
            (guessed.coldest_c.middle - guessed.truth_coldest_c).abs() < 2.5,
            "{}: {:?} for {}",
            night.date,
            guessed.coldest_c,
            guessed.truth_coldest_c
        );
    }
}
