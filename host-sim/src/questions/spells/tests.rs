use std::collections::BTreeSet;

use controller_core::sensor::{ReadFault, Sample};
use controller_core::settings::{Field, RawSettings};

use super::draw::Draw;
use super::faults::{Does, FAMILIES, Kind, Lie, Spread, Upset};
use super::houses::{House, names};
use super::judge::{Avoidable, Beside, Brief, by_fault, in_any_case, warning};
use super::plan::Fault;
use super::results::{Numbered, Results, ResultsError};
use super::tamper::{Surroundings, Tamper};
use super::*;
use crate::sim::closed_loop::framed;
use crate::sim::plant::Readings;

const FORTNIGHT_S: u64 = 14 * 86_400;

fn kinds() -> impl Iterator<Item = &'static Kind> {
    FAMILIES.iter().flat_map(|family| family.kinds)
}

fn kind(key: &str) -> &'static Kind {
    kinds().find(|kind| kind.key == key).expect("in the table")
}

fn fault(key: &str, values: [f64; 2], from_s: u64, to_s: u64) -> Fault {
    Fault::of(kind(key), values, from_s, to_s)
}

fn plan_with(faults: Vec<Fault>) -> Plan {
    Plan {
        seed: 1,
        house: 0,
        weather: 0,
        faults,
        origin_ms: 0,
        jitter_s: 0,
    }
}

#[test]
fn the_demo_house_needs_no_other_settings_than_the_defaults() {
    let demo = House::built_in("demo").expect("built in");
    assert_eq!(*demo.settings.raw(), RawSettings::DEFAULT);
}

#[test]
fn every_house_is_another_one_and_its_settings_say_so() {
    let houses: Vec<House> = names()
        .map(|name| House::built_in(name).expect("built in"))
        .collect();
    assert_eq!(houses.len(), 10);
    for (index, house) in houses.iter().enumerate() {
        let others = &houses[..index];
        assert!(
            others.iter().all(|other| other.site != house.site),
            "{}",
            house.name
        );
    }
    let of = |name: &str| {
        houses
            .iter()
            .find(|house| house.name == name)
            .expect("there")
    };
    let raw = |name: &str| *of(name).settings.raw();
    assert!(
        raw("long").transit > raw("demo").transit && raw("small").transit < raw("demo").transit
    );
    assert!(raw("long").settling_time >= raw("long").transit.times(2));
    assert!(raw("wide").flow > raw("demo").flow);
    assert!(raw("oncall").proof_time > raw("demo").proof_time);
    assert!(raw("injection").return_to_store && !raw("demo").return_to_store);
    assert!(raw("glycol").specific_heat < raw("demo").specific_heat);
    assert_eq!(
        raw("no-boiler").boiler,
        controller_core::settings::BoilerKind::None
    );
    assert!(of("unmixed").is_known_hazard());
    let usual = House::usual().expect("built in");
    assert!(usual.len() == 9 && usual.iter().all(|house| !house.is_known_hazard()));
    let refusal = House::built_in("villa").expect_err("unknown");
    assert!(
        refusal.contains("villa") && refusal.contains("oncall"),
        "{refusal}"
    );
}

#[test]
fn keys_of_the_table_are_told_apart() {
    let mut keys = BTreeSet::new();
    for kind in kinds() {
        let sensors = if kind.on.is_empty() {
            vec![""]
        } else {
            kind.on.iter().map(|s| s.name()).collect()
        };
        for sensor in sensors {
            assert!(keys.insert((sensor, kind.key)), "{sensor} {}", kind.key);
        }
        assert!(kind.parameters.len() <= 2 && kind.weight > 0);
        assert!(
            kind.parameters
                .iter()
                .all(|parameter| parameter.low < parameter.high)
        );
    }
    assert_eq!(
        FAMILIES.iter().map(|family| family.weight).sum::<u32>(),
        100
    );
}

#[test]
fn what_is_drawn_keeps_to_the_table() {
    let houses = House::usual().expect("built in");
    let mut seen = BTreeSet::new();
    let mut counts = [0; 3];
    for seed in 0..2_000 {
        let plan = Plan::draw(seed, &houses, 24, FORTNIGHT_S, FaultCount::Mixed);
        counts[plan.faults.len()] += 1;
        for fault in &plan.faults {
            seen.insert(fault.key());
            assert!(
                fault.from_s < fault.to_s && fault.to_s <= FORTNIGHT_S,
                "{fault:?}"
            );
            for (value, parameter) in fault.values.iter().zip(fault.kind.parameters) {
                let size = if parameter.spread == Spread::EitherSign {
                    value.abs()
                } else {
                    *value
                };
                assert!(
                    (parameter.low..=parameter.high).contains(&size),
                    "{fault:?}"
                );
            }
            let changed = fault.kind.does == Does::Upset(Upset::SettingsChanged);
            assert_eq!(fault.settings.is_some(), changed);
            if let Some(settings) = &fault.settings {
                let base = houses[plan.house].settings.raw();
                let differ: Vec<&str> = Field::all()
                    .iter()
                    .filter(|field| settings.raw().bits(field.key) != base.bits(field.key))
                    .map(|field| field.name)
                    .collect();
                assert!((1..=4).contains(&differ.len()), "{differ:?}");
                let kept = |name: &&str| {
                    ["mode", "boiler", "return_to_store"].contains(name)
                        || name.ends_with("_trim")
                        || name.starts_with("hard_limit")
                };
                assert!(!differ.iter().any(kept), "{differ:?}");
            }
        }
    }
    assert!(
        counts[0] == 0 && counts[1] > counts[2] && counts[2] > 600,
        "{counts:?}"
    );
    // Every kind comes up, on every sensor but for the rarest.
    let every: usize = kinds().map(|kind| kind.on.len().max(1)).sum();
    assert!(seen.len() * 20 >= every * 19, "{} of {every}", seen.len());
}

#[test]
fn faults_and_weather_do_not_hang_on_the_houses_asked_for() {
    let all = House::usual().expect("built in");
    let one = vec![House::built_in("demo").expect("built in")];
    for seed in 0..200 {
        let [a, b] =
            [&all, &one].map(|houses| Plan::draw(seed, houses, 24, FORTNIGHT_S, FaultCount::Mixed));
        assert_eq!((a.weather, a.origin_ms), (b.weather, b.origin_ms));
        let keys = |plan: &Plan| {
            plan.faults
                .iter()
                .map(|f| (f.key(), f.from_s))
                .collect::<Vec<_>>()
        };
        assert_eq!(keys(&a)[0], keys(&b)[0]);
    }
}

/// What a wrong sensor gives at these times, h after the fault's beginning, where 5 °C is true.
fn read(lie: Lie, values: [f64; 2], hours: &[f64]) -> Vec<Sample> {
    let mut tamper = Tamper::new();
    let mut draw = Draw::for_fault(3, 0);
    let readings = Readings {
        slab_c: 5.0,
        air_c: 1.0,
        store_c: 8.0,
        outdoor_c: -9.0,
        ..Readings::default()
    };
    let one = |h: &f64| {
        let around = Surroundings {
            readings: &readings,
            sun_w: 4_000.0,
            now_s: 1e5 + h * 3_600.0,
            from_s: 1e5,
        };
        // The truth falls by a kelvin an hour.
        tamper.read(lie, values, framed(5.0 - h), &around, &mut draw)
    };
    hours.iter().map(one).collect()
}

#[test]
fn a_wrong_sensor_lies_as_the_table_says() {
    let at = |lie, values: [f64; 2], shown: [f64; 2]| {
        assert_eq!(read(lie, values, &[0.0, 1.0]), shown.map(framed), "{lie:?}");
    };
    at(Lie::Stuck, [0.0; 2], [5.0, 5.0]);
    at(Lie::Offset, [-2.5, 0.0], [2.5, 1.5]);
    at(Lie::Drift, [24.0, 0.0], [5.0, 5.0]);
    at(Lie::Gain, [0.8, 0.0], [9.0, 8.2]);
    at(Lie::Air, [0.0; 2], [1.0, 1.0]);
    at(Lie::Store, [0.0; 2], [8.0, 8.0]);
    at(Lie::Outdoor, [0.0; 2], [-9.0, -9.0]);
    at(Lie::Sunlit, [10.0, 0.0], [10.0, 9.0]);
    at(Lie::Spikes, [100.0, -3.0], [2.0, 1.0]);
    at(Lie::Spikes, [0.0, -3.0], [5.0, 4.0]);
    assert_eq!(
        read(Lie::ComingLoose, [1.0, 0.0], &[0.0, 24.0]),
        [5.0, 1.0].map(framed)
    );
    // A drift ends at six kelvin.
    assert_eq!(
        read(Lie::Drift, [2.0, 0.0], &[0.0, 240.0])[1],
        framed(5.0 - 240.0 + 6.0)
    );
    let failed = [
        (Lie::Open, ReadFault::Absent),
        (Lie::Short, ReadFault::Short),
        (Lie::Missing, ReadFault::Missing),
        (Lie::Checksum, ReadFault::Checksum),
        (Lie::PowerOn, ReadFault::PowerOn),
        (Lie::Dropout, ReadFault::Missing),
    ];
    for (lie, fault) in failed {
        assert_eq!(
            read(lie, [100.0, 0.0], &[0.0, 1.0]),
            [Sample::Failed(fault); 2],
            "{lie:?}"
        );
    }
    let untold = read(Lie::PowerOnUntold, [100.0, 0.0], &[0.0]);
    assert_eq!(untold[0].value().map(|t| t.to_128ths()), Some(85 * 128));
}

#[test]
fn what_scatters_scatters_by_as_much_as_it_says() {
    let hours: Vec<f64> = (0..4_000).map(|i| f64::from(i) * 1e-6).collect();
    let spread = |samples: Vec<Sample>| {
        let values: Vec<f64> = samples
            .iter()
            .filter_map(|s| s.value().map(|t| f64::from(t.to_128ths()) / 128.0 - 5.0))
            .collect();
        let square: f64 = values.iter().map(|v| v * v).sum();
        (values.len(), (square / values.len() as f64).sqrt())
    };
    let (count, noise_k) = spread(read(Lie::Noise, [1.5, 0.0], &hours));
    assert!(count == 4_000 && (noise_k - 1.5).abs() < 0.1, "{noise_k}");
    let (_, dither_k) = spread(read(Lie::StuckDither, [0.2, 0.0], &hours));
    assert!((dither_k - 0.2).abs() < 0.03, "{dither_k}");
    let (read_at_all, _) = spread(read(Lie::Dropout, [30.0, 0.0], &hours));
    assert!((2_600..3_000).contains(&read_at_all), "{read_at_all}");
    // Each garbled frame is asked for again: 0.5^4 fail.
    let (read_at_all, _) = spread(read(Lie::Checksum, [50.0, 0.0], &hours));
    assert!((3_650..3_850).contains(&read_at_all), "{read_at_all}");
    let minutes: Vec<f64> = (0..4_000).map(|i| f64::from(i) / 60.0 * 0.01).collect();
    let (on, _) = spread(read(Lie::Intermittent, [60.0, 60.0], &minutes));
    assert!((500..3_500).contains(&on), "{on}");
}

#[test]
fn a_lagging_sensor_follows_by_its_time_constant() {
    let shown = read(Lie::Lag, [1.0, 0.0], &[0.0, 1.0]);
    // 63 % of the kelvin fallen in the hour.
    let value = shown[1].value().map(|t| f64::from(t.to_128ths()) / 128.0);
    assert!(
        (value.expect("reads") - (5.0 - 0.632)).abs() < 0.01,
        "{value:?}"
    );
}

#[test]
fn outages_that_touch_are_one_and_none_is_behind_the_end() {
    let outage = |from_s, to_s, settings_lost| physical::Outage {
        from_s,
        to_s,
        settings_lost,
    };
    let plan = plan_with(vec![
        fault("power-cut", [1.0, 0.0], 1_000, 9_000),
        fault("settings-lost", [0.0, 0.0], 4_600, 9_000),
        fault("boot-loop", [3.0, 100.0], 20_000, 30_000),
    ]);
    assert_eq!(
        physical::outages(&plan, 20_150),
        [
            outage(1_000, 4_602, true),
            outage(20_000, 20_001, false),
            outage(20_100, 20_101, false)
        ]
    );
}

fn brief(slab_min_c: f64) -> Brief {
    Brief::from(&Measured {
        slab_min_c,
        ..Measured::default()
    })
}

fn beside(fault_free_c: f64, plain_c: f64, always_on_c: f64) -> Beside {
    Beside {
        fault_free: brief(fault_free_c),
        plain: brief(plain_c),
        always_on: brief(always_on_c),
        nothing: brief(-9.0),
    }
}

#[test]
fn a_freeze_is_avoidable_where_a_reference_held_by_as_much_as_counts() {
    let ours = |slab_min_c| Measured {
        slab_min_c,
        ..Measured::default()
    };
    let any = |ours_c, beside: &Beside| in_any_case(&ours(ours_c), beside).freeze;
    assert!(any(-0.1, &beside(1.0, 1.0, -5.0)));
    assert!(any(-1.1, &beside(1.0, -5.0, -0.5)));
    assert!(
        !any(-1.1, &beside(1.0, -5.0, -0.6)),
        "the reference froze, too"
    );
    assert!(!any(-0.3, &beside(1.0, 0.1, -5.0)), "not half a kelvin");
    assert!(!any(0.0, &beside(1.0, 1.0, 1.0)), "no freeze");
    let free_of_it = beside(0.0, 1.0, 1.0);
    let never_did = beside(-0.1, 1.0, 1.0);
    let harm = Avoidable {
        freeze: true,
        ..Avoidable::default()
    };
    assert!(by_fault(harm, &free_of_it).freeze);
    assert!(!by_fault(harm, &never_did).freeze);
}

#[test]
fn damage_and_ice_are_avoidable_where_a_reference_has_none() {
    let ours = Measured {
        damaged: true,
        ice: 1.0,
        ..Measured::default()
    };
    let mut others = beside(1.0, 1.0, 1.0);
    let harm = in_any_case(&ours, &others);
    assert!(harm.damage && harm.ice && by_fault(harm, &others) == harm);
    others.fault_free.damaged = true;
    others.fault_free.ice = 0.5;
    assert_eq!(by_fault(harm, &others), Avoidable::default());
    for reference in [&mut others.plain, &mut others.always_on] {
        reference.damaged = true;
        reference.ice = 0.9;
    }
    assert_eq!(in_any_case(&ours, &others), Avoidable::default());
}

#[test]
fn a_bell_counts_if_it_leaves_an_hour_or_rings_at_once() {
    let told = |is_advice, first_after_fault_h| Told {
        alarm: "any".to_owned(),
        is_advice,
        onsets: 1,
        hours: 1.0,
        first_after_fault_h,
    };
    let frozen = |h| Measured {
        below_0_from_h: Some(h),
        ..Measured::default()
    };
    let judged = |alarms: &[Told], below_h| {
        let warning = warning(&frozen(below_h), alarms, 100.0);
        (warning.told, warning.silent)
    };
    assert_eq!(
        judged(&[told(false, Some(5.0))], 106.0),
        (Some(true), false)
    );
    assert_eq!(
        judged(&[told(false, Some(5.0))], 105.9),
        (Some(false), false)
    );
    assert_eq!(
        judged(&[told(false, Some(0.2))], 100.3),
        (Some(true), false)
    );
    assert_eq!(judged(&[told(true, Some(0.2))], 110.0), (Some(false), true));
    assert_eq!(judged(&[told(false, None)], 110.0), (Some(false), true));
    let fine = warning(&Measured::default(), &[told(true, Some(2.0))], 100.0);
    assert!(fine.told.is_none() && !fine.silent && fine.first_word_h == Some(2.0));
}

#[test]
fn results_come_in_order_on_any_number_of_cores_and_end_at_the_first_error() {
    let numbers: Vec<u64> = (10..60).collect();
    for cores in [0, 1, 7] {
        let mut taken = Vec::new();
        let work = |n: u64| {
            std::thread::sleep(std::time::Duration::from_micros((60 - n) * 20));
            Ok::<_, String>(n * n)
        };
        batch::in_order(&numbers, cores, work, |square| {
            taken.push(square);
            Ok(())
        })
        .expect("no error");
        assert_eq!(taken, numbers.iter().map(|n| n * n).collect::<Vec<_>>());
        let mut taken = Vec::new();
        let stops = |n: u64| {
            if n == 20 {
                Err("twenty".to_owned())
            } else {
                Ok(n)
            }
        };
        let ended = batch::in_order(&numbers, cores, stops, |n| {
            taken.push(n);
            Ok(())
        });
        assert_eq!(ended, Err("twenty".to_owned()));
        assert!(
            taken.len() <= 10 && taken.iter().zip(10..).all(|(a, b)| *a == b),
            "{taken:?}"
        );
    }
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Square(u64, u64);

impl Numbered for Square {
    fn number(&self) -> u64 {
        self.0
    }
}

#[test]
fn a_file_of_results_is_gone_on_with_and_another_questions_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("found.jsonl");
    let open =
        |arguments: &str, question: &str| Results::<Square>::open(&path, arguments, question);
    let mut results = open("two", "two of the demo").expect("new");
    results.add(&Square(3, 9)).expect("written");
    results.add(&Square(5, 25)).expect("written");
    drop(results);
    // A power cut in the middle of a line.
    let mut text = std::fs::read_to_string(&path).expect("there");
    text.push_str("[7,4");
    std::fs::write(&path, text).expect("written");
    let mut results = open("two", "two of the demo").expect("known");
    assert_eq!(results.known().keys().copied().collect::<Vec<_>>(), [3, 5]);
    assert!(results.confirm(&Square(3, 9)).is_ok());
    assert!(matches!(
        results.confirm(&Square(3, 8)),
        Err(ResultsError::OtherProgram(_, 3))
    ));
    results.add(&Square(7, 49)).expect("written");
    drop(results);
    assert_eq!(
        open("two", "two of the demo").expect("known").known().len(),
        3
    );
    let refused = open("one", "one of the demo")
        .expect_err("another question")
        .to_string();
    assert!(
        refused.contains("two") && refused.contains("one"),
        "{refused}"
    );
    let refused = open("two", "two of the other")
        .expect_err("another site")
        .to_string();
    assert!(refused.contains("site"), "{refused}");
    std::fs::write(&path, "day,slab\n1,2\n").expect("written");
    let refused = open("two", "two of the demo")
        .expect_err("no results")
        .to_string();
    assert!(refused.contains("line 1"), "{refused}");
    assert_eq!(
        std::fs::read_to_string(&path).expect("there"),
        "day,slab\n1,2\n"
    );
}
