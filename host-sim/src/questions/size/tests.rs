//! The check's own behaviour: verdicts, words, sweeps. Values against published references are in `system-tests`.

use std::collections::BTreeSet;

use rayon::prelude::*;

use super::*;
use crate::files::site::{Changeable, SiteConfig};
use crate::present::size::text;
use crate::sim::plant::config::{
    BoilerKind, GroundConfig, Piping, RunConfig, StoreConfig, Surroundings,
};
use crate::sim::plant::exchanger::Layout;

const ASKED: Asked = Asked {
    hold_c: 2.0,
    store_c: Some(9.0),
    design_c: -18.8,
};

fn check(change: impl FnOnce(&mut PlantConfig)) -> Check {
    let mut plant = PlantConfig::default();
    change(&mut plant);
    plant.check().expect("a plant that can be built");
    Check::of(&plant, &ASKED.question(&plant))
}

fn line(check: &Check, key: &str) -> Line {
    lines(check, Units::Si)
        .into_iter()
        .find(|line| line.key == key)
        .unwrap_or_else(|| panic!("no line {key}"))
}

#[track_caller]
fn verdict(check: &Check, key: &str, want: Verdict) {
    let line = line(check, key);
    assert_eq!(line.verdict, want, "{line:?}");
}

#[test]
fn every_line_says_value_rule_source_verdict_and_what_would_change_it() {
    let check = check(|_| {});
    for units in [Units::Si, Units::Us] {
        let lines = lines(&check, units);
        let keys: BTreeSet<_> = lines.iter().map(|line| &line.key).collect();
        assert_eq!(keys.len(), lines.len(), "every key once");
        for line in &lines {
            for text in [&line.what, &line.shown, &line.rule, &line.why, &line.change] {
                assert!(!text.trim().is_empty(), "{line:?}");
                assert!(!text.contains("NaN") && !text.contains("inf "), "{line:?}");
                assert!(!text.ends_with('.'), "{line:?}");
            }
            assert!(!line.source.is_empty(), "{line:?}");
            assert!(line.value.is_none_or(f64::is_finite), "{line:?}");
        }
        for group in Group::ALL {
            assert!(lines.iter().any(|line| line.group == group), "{group:?}");
        }
    }
}

#[test]
fn the_demo_works_and_says_what_it_cannot() {
    let check = check(|_| {});
    let shown = Shown::new(&check, None, Units::Si);
    assert_eq!(shown.verdict, Verdict::Caution);
    assert!(
        shown.plainly.contains("down to -7.3 °C"),
        "{}",
        shown.plainly
    );
    assert!(shown.plainly.contains("from a boiler"), "{}", shown.plainly);
    verdict(&check, "slab.circuit_length", Verdict::Fine);
    verdict(&check, "slab.velocity", Verdict::Look);
    verdict(&check, "slab.reynolds", Verdict::Fine);
    verdict(&check, "store.holds_slab", Verdict::Look);
    verdict(&check, "backup.needed", Verdict::Fine);
}

#[test]
fn what_cannot_work_is_called_so() {
    // 1.2 m of head push 0.02 L/s through the loop.
    let weak = check(|plant| plant.circulator.shutoff_head_m = 1.2);
    verdict(&weak, "slab.velocity", Verdict::WillNotWork);
    verdict(&weak, "store_floor.velocity", Verdict::WillNotWork);
    let impossible = check(|plant| {
        plant.circulator.shutoff_head_m = 4.0;
        plant.circulator.measured_flow_l_s = Some(0.09);
    });
    verdict(&impossible, "circulator.flow", Verdict::WillNotWork);
    let small = check(|plant| {
        if let Some(BoilerKind::HandFired(fire)) = plant.boiler.as_mut().map(|b| &mut b.kind) {
            fire.rated_w = 1_500.0;
        }
    });
    verdict(&small, "backup.needed", Verdict::WillNotWork);
    let cool = check(|plant| plant.boiler.as_mut().unwrap().mixing_c = Some(8.0));
    verdict(&cool, "backup.needed", Verdict::WillNotWork);
    let none = check(|plant| plant.boiler = None);
    verdict(&none, "backup.needed", Verdict::WillNotWork);
    for bad in [&weak, &impossible, &small, &cool, &none] {
        let shown = Shown::new(bad, None, Units::Si);
        assert_eq!(shown.verdict, Verdict::WillNotWork);
        assert!(shown.answer.contains("will not work"));
    }
    let cold_store = Check::of(
        &PlantConfig::default(),
        &Question {
            hold_c: 2.0,
            store_c: 1.5,
            design_c: -5.0,
        },
    );
    verdict(&cold_store, "loop.conductance", Verdict::WillNotWork);
}

#[test]
fn a_mild_place_needs_no_boiler() {
    let plant = PlantConfig {
        boiler: None,
        ..PlantConfig::default()
    };
    let mild = Asked {
        design_c: 0.0,
        ..ASKED
    };
    let check = Check::of(&plant, &mild.question(&plant));
    verdict(&check, "backup.needed", Verdict::Fine);
    verdict(&check, "store.holds_slab", Verdict::Fine);
    assert!(check.backup.tired_store_holds);
}

#[test]
fn a_limit_crossed_is_a_verdict_changed() {
    let long = check(|plant| {
        plant.floor.circuit_length_m = 91.0;
        plant.circulator.shutoff_head_m = 12.0;
    });
    verdict(&long, "slab.circuit_length", Verdict::Look);
    verdict(&long, "store_floor.circuit_length", Verdict::Fine);
    let spiral = check(|plant| plant.floor.layout = Layout::CounterFlow);
    verdict(&spiral, "slab.evenness", Verdict::Fine);
    verdict(&check(|_| {}), "slab.evenness", Verdict::Look);
    let strong = check(|plant| {
        plant.circulator.shutoff_head_m = 45.0;
    });
    verdict(&strong, "slab.velocity", Verdict::Look);
    let glycol = check(|plant| plant.fluid = Fluid::Propylene(0.3));
    verdict(&glycol, "slab.reynolds", Verdict::Caution);
    verdict(&glycol, "slab.resistance", Verdict::Look);
    verdict(&glycol, "filling.glycol", Verdict::Fine);
}

#[test]
fn water_outdoors_is_to_be_looked_at_and_enough_glycol_is_not() {
    let outdoors = |fluid| {
        check(move |plant| {
            plant.fluid = fluid;
            plant.return_run = RunConfig {
                surroundings: Surroundings::Outdoor,
                insulation_m: 0.0,
                ..RunConfig::default()
            };
        })
    };
    let water = outdoors(Fluid::Water);
    verdict(&water, "return_run.time_to_freezing", Verdict::Caution);
    verdict(&water, "supply_run.time_to_freezing", Verdict::Fine);
    verdict(&water, "filling.glycol", Verdict::Caution);
    let thin = outdoors(Fluid::Propylene(0.2));
    verdict(&thin, "filling.glycol", Verdict::Caution);
    let enough = outdoors(Fluid::Propylene(0.45));
    verdict(&enough, "filling.glycol", Verdict::Fine);
    verdict(&enough, "return_run.time_to_freezing", Verdict::Fine);
    // 45 % freezes at about −26 °C; −18.8 °C never reaches it.
    assert_eq!(
        enough.freeze[1].design().unwrap().as_built.to_freezing_s,
        None
    );
}

#[test]
fn series_piping_counts_the_tired_store_and_bypass_does_not() {
    let bypass = check(|_| {});
    let series = check(|plant| plant.boiler.as_mut().unwrap().piping = Piping::Series);
    assert_eq!(bypass.backup.store_w, 0.0);
    assert!((series.backup.store_w - series.tired().heat_w).abs() < 1e-9);
    assert!(series.backup.needed_w < bypass.backup.needed_w);
}

/// Earth straight below alone, made of the same stuff as the floor, without walls, air or sides: the simulated store has to
/// follow the closed form (Carslaw & Jaeger §2.7), which begins at the tube plane.
#[test]
fn a_store_without_walls_tires_as_the_closed_form_says() {
    let mut plant = PlantConfig::default();
    plant.floor.underside_w_m2k = 0.0;
    plant.ground = GroundConfig {
        amplitude_k: 0.0,
        mean_c: 9.0,
        lateral_gain: false,
        column_depth_m: 40.0,
        conductivity_w_mk: plant.store.floor.conductivity_w_mk,
        heat_capacity_j_m3k: plant.store.floor.heat_capacity_j_m3k,
        ..plant.ground
    };
    let mut floor = plant.store.floor.clone();
    // The tube as near to the top as it fits, so that hardly any concrete lies above it.
    floor.tube_depth_m = 0.009;
    plant.store = StoreConfig {
        floor,
        wall_area_m2: 1e-6,
        air_volume_m3: 1e-6,
        contents_j_k: 0.0,
        ..plant.store
    };
    let question = Question {
        store_c: 9.0,
        ..ASKED.question(&plant)
    };
    let check = Check::of(&plant, &question);
    for row in &check.tiring {
        // A day's heat of the centimetre above the tube, and four zones against one.
        assert!((row.floor_c - row.earth_alone_c).abs() < 0.15, "{row:?}");
    }
    let [fresh, day, week, month, season] = check.tiring[..] else {
        panic!("five rows");
    };
    for (earlier, later) in [(fresh, day), (day, week), (week, month), (month, season)] {
        assert!(later.floor_c < earlier.floor_c && later.outdoor_c > earlier.outdoor_c);
    }
}

#[test]
fn walls_and_sides_carry_much_of_a_long_spell() {
    let check = check(|_| {});
    for row in &check.tiring[1..] {
        assert!(row.floor_c > row.earth_alone_c + 0.5, "{row:?}");
    }
}

#[test]
fn a_warmer_store_asked_for_is_the_same_earth_shifted() {
    let plant = PlantConfig::default();
    let asked = |store_c| Asked { store_c, ..ASKED }.question(&plant);
    let undisturbed = asked(None);
    assert!((undisturbed.store_c - 9.08).abs() < 0.01, "{undisturbed:?}");
    let [one, two] = [8.0, 10.0].map(|store_c| Check::of(&plant, &asked(Some(store_c))));
    assert!((one.tiring[0].floor_c - 8.0).abs() < 0.01);
    assert!((two.tiring[0].floor_c - 10.0).abs() < 0.01);
}

#[test]
fn like_parts_are_said_once_to_people_and_twice_to_programs() {
    let check = check(|_| {});
    let shown = Shown::new(&check, None, Units::Si);
    let velocities = |lines: &[Line]| {
        lines
            .iter()
            .filter(|line| line.what.ends_with(": velocity"))
            .count()
    };
    assert_eq!(
        (velocities(&shown.points), velocities(&shown.lines)),
        (1, 2)
    );
    let text = text(&shown);
    assert!(text.contains("slab and store floor: velocity"), "{text}");
    assert!(
        text.lines().all(|line| line.chars().count() <= 110),
        "{text}"
    );
    let json = serde_json::to_value(&shown).expect("JSON");
    assert_eq!(json["verdict"], "caution");
    assert!(json["heat"]["conductance_w_k"].as_f64().unwrap() > 100.0);
}

fn swept(text: &str) -> Result<Sweep, VaryError> {
    Vary::parse(text, 7)?.run(&SiteConfig::default(), &ASKED)
}

#[test]
fn closer_spacing_conducts_more_and_serves_the_same_floor() {
    let sweep = swept("spacing=0.15..0.30 m").unwrap();
    assert_eq!(sweep.points.len(), 7);
    assert_eq!(sweep.key, "slab.spacing and store_floor.spacing");
    for pair in sweep.points.windows(2) {
        assert!(
            pair[0].conductance_w_k > pair[1].conductance_w_k,
            "{pair:?}"
        );
        assert!(pair[0].slab_outdoor_c < pair[1].slab_outdoor_c, "{pair:?}");
    }
    for point in &sweep.points {
        let area = point.circuit_length_m * point.number.unwrap();
        assert!((area - 21.5).abs() < 1e-6, "{point:?}");
    }
    // The demo's own point is the demo.
    let demo = check(|_| {});
    let own = sweep
        .points
        .iter()
        .find(|point| point.setting == "0.25 m")
        .unwrap();
    assert_eq!(own.slab_outdoor_c, demo.balance[0].slab.outdoor_c);
}

#[test]
fn sweeps_of_words_counts_and_single_places() {
    let layouts = swept("slab.layout = serpentine, counter-flow").unwrap();
    assert_eq!(layouts.points.len(), 2);
    assert_eq!(layouts.points[1].number, None);
    let circuits = swept("circuits=1..3").unwrap();
    let lengths: Vec<f64> = circuits.points.iter().map(|p| p.circuit_length_m).collect();
    assert!((lengths[0] - 86.0).abs() < 1e-9 && (lengths[1] - 43.0).abs() < 1e-9);
    assert!(circuits.points[1].flow_l_s > circuits.points[0].flow_l_s);
    let heads = swept("shutoff_head=30 ft, 9 m").unwrap();
    assert!((heads.points[0].number.unwrap() - 9.144).abs() < 1e-9);
    let inches = swept("slab.spacing=6..12 in").unwrap();
    assert_eq!(inches.points[0].setting, "0.1524 m");
    let backwards = swept("slab.spacing=0.3..0.2 m").unwrap();
    assert_eq!(backwards.points[0].setting, "0.3 m");
}

#[test]
fn a_sweep_that_cannot_be_is_refused_in_words() {
    for (text, parts) in [
        ("spacing", vec!["KEY=FROM..TO"]),
        ("spacing=", vec!["no values", "slab.spacing"]),
        ("spacing= ", vec!["no values"]),
        ("spacing=0.2..0.2 m", vec!["two different"]),
        ("spacing=0.2 m", vec!["two different"]),
        ("spaceing=0.1..0.2 m", vec!["unknown key", "slab.spacing"]),
        ("spacing=0.1..0.2", vec!["without a unit"]),
        ("shutoff_head=12, 20", vec!["12", "with its unit"]),
        ("spacing=0.1..0.2 kg", vec!["a length"]),
        ("spacing=0.01..0.2 m", vec!["0.03 to 1 m"]),
        ("spacing=0.2..5 m", vec!["0.03 to 1 m"]),
        ("circuit_length=80..120 m", vec!["at most 95 m", "21.6 m²"]),
        ("circuits=1..4000", vec!["50 at most"]),
        ("circuits=0..3", vec!["1 to 50"]),
        ("layout=serpentine..counter-flow", vec!["words", "commas"]),
        (
            "layout=serpentine, round",
            vec!["\"round\"", "counter-flow"],
        ),
        ("length=3, 4 m", vec!["several sections", "runs.length"]),
        ("weather=a, b", vec!["text"]),
        (
            "curtain.glazing_u_value=1.5..3 W/m²K",
            vec!["part the site does not have", "[curtain]"],
        ),
        ("glycol=20..40 %", vec!["does not have"]),
    ] {
        let message = swept(text).expect_err(text).to_string();
        for part in parts {
            assert!(
                message.contains(part),
                "{text}: \"{part}\" is not in: {message}"
            );
        }
    }
}

/// Every number of a site at both ends of what is possible, as far as such a site can be built.
#[test]
fn the_ends_of_every_range_are_answered_in_words() {
    let cases: Vec<_> = Changeable::every()
        .into_iter()
        .filter(|key| !key.name().starts_with("sensor"))
        .flat_map(|key| key.ends().into_iter().map(move |end| (key.clone(), end)))
        .collect();
    let checked = cases
        .par_iter()
        .filter(|(key, end)| {
            let Ok(site) = key.put(&SiteConfig::default(), end) else {
                return false;
            };
            if site.check_relations().is_err() {
                return false;
            }
            let check = Check::of(&site.plant, &ASKED.question(&site.plant));
            let text = text(&Shown::new(&check, None, Units::Si));
            for word in ["NaN", "inf"] {
                assert!(
                    !text
                        .split_whitespace()
                        .any(|found| found.trim_matches('-') == word),
                    "{} = {end}: {text}",
                    key.name()
                );
            }
            true
        })
        .count();
    assert!(checked > 100, "{checked} of {} could be built", cases.len());
}

/// A house of 30 by 16 ft with one circuit of 380 ft of 1/2 in tube in each floor, at 15, 8 and 4 in.
#[test]
fn tube_that_leaves_floor_bare_is_not_rewarded() {
    let at = |spacing_m: f64| {
        check(|plant| {
            (plant.house.width_m, plant.house.length_m) = (4.8768, 9.144);
            for floor in [&mut plant.floor, &mut plant.store.floor] {
                floor.tube = crate::sim::plant::tube::Tube::ALL[1];
                floor.circuit_length_m = 115.824;
                floor.spacing_m = spacing_m;
            }
        })
    };
    let [covered, half, quarter] = [0.381, 0.2032, 0.1016].map(at);
    for (check, share, slab, store) in [
        (&covered, 0.99, Verdict::Fine, Verdict::Fine),
        (&half, 0.53, Verdict::Look, Verdict::Look),
        (&quarter, 0.26, Verdict::WillNotWork, Verdict::Look),
    ] {
        for floor in &check.floors {
            assert!((floor.covered - share).abs() < 0.005, "{floor:?}");
        }
        verdict(check, "slab.coverage", slab);
        verdict(check, "store_floor.coverage", store);
    }
    let outdoor_c = |check: &Check| check.balance[0].slab.outdoor_c;
    let tired_c = |check: &Check| check.tired().outdoor_c;
    for colder in [outdoor_c, tired_c] {
        assert!(colder(&covered) < colder(&half) && colder(&half) < colder(&quarter));
    }
    assert!(half.balance[0].slab.bare_c < Some(2.0));
}
