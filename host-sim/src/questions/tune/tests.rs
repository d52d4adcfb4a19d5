use std::collections::HashSet;

use controller_core::settings::{Field, Group, Key, Kind, RawSettings, Settings};
use proptest::prelude::*;

use super::candidate::Space;
use super::parameters::PARAMETERS;
use super::resume::{Memory, ResumeError};
use super::score::{AIMS, Aim, Order, Score, WINTERS, dominates, front};
use super::screen::{COLD_DAYS, ERRORS, LEAD_DAYS, Season};
use super::search::{self, Plan, Tried};
use crate::files;
use crate::files::quantity::Units;
use crate::files::settings_file;

fn space() -> Space {
    Space::new(Settings::default())
}

#[test]
fn nothing_that_protects_or_describes_is_tuned() {
    for parameter in PARAMETERS {
        let field = parameter.key.field();
        let may_be = match field.group {
            // What the house is for and what stands in it is no question of tuning, nor is what must hold.
            Group::Yours => {
                matches!(field.kind, Kind::Temperature | Kind::Difference)
                    && field.key != Key::Target
            }
            Group::Expert => field.kind == Kind::Difference,
            Group::Measured | Group::Protects => false,
        };
        assert!(may_be, "{}", field.name);
    }
}

#[test]
fn ranges_lie_inside_the_checked_ones_and_hold_the_defaults() {
    for parameter in PARAMETERS {
        let field = parameter.key.field();
        for end in [0.0, 1.0] {
            let bits = super::parameters::bits(field.kind, parameter.at(end));
            assert!((field.min..=field.max).contains(&bits), "{}", field.name);
        }
        let home = parameter.of(&RawSettings::DEFAULT);
        assert!(
            (parameter.low..=parameter.high).contains(&home),
            "{}: {home}",
            field.name
        );
        let back = parameter.at(parameter.place(home));
        assert!((back - home).abs() < parameter.step, "{}", field.name);
    }
}

#[test]
fn without_a_boiler_its_settings_are_left_alone() {
    let raw = RawSettings {
        boiler: controller_core::settings::BoilerKind::None,
        ..RawSettings::DEFAULT
    };
    let space = Space::new(Settings::check(raw).expect("no boiler is allowed"));
    assert!(space.parameters().iter().all(|p| !p.boiler));
    assert_eq!(space.parameters().len() + 1, PARAMETERS.len());
}

#[test]
fn the_starting_settings_are_their_own_point() {
    let space = space();
    let base = space.base();
    assert_eq!(space.candidate(&space.point(&base)), base);
    assert!(space.changed(&base).is_empty());
}

proptest! {
    /// Any point becomes settings that pass every check, differ from the start only in what may be tuned, and lie on
    /// the grid a person would use.
    #[test]
    fn every_point_is_a_set_of_settings(point in proptest::collection::vec(0.0_f64..=1.0, PARAMETERS.len())) {
        let space = space();
        let candidate = space.candidate(&point);
        prop_assert!(Settings::check(*candidate.raw()).is_ok());
        for field in Field::all() {
            if PARAMETERS.iter().all(|p| p.key != field.key) {
                prop_assert_eq!(candidate.raw().bits(field.key), RawSettings::DEFAULT.bits(field.key));
            }
        }
        for parameter in space.changed(&candidate) {
            let steps = (parameter.of(candidate.raw()) - parameter.low) / parameter.step;
            prop_assert!((steps - steps.round()).abs() < 1e-2, "{}", parameter.key.field().name);
        }
        // A settings file gives them back to the last bit.
        let text = settings_file::to_toml(candidate.raw(), Units::Si);
        let read = settings_file::parse(&text, "found.toml").expect("settings");
        prop_assert_eq!(read.raw(), candidate.raw());
        // What is taken back alone is the start's value and nothing else.
        for parameter in space.changed(&candidate) {
            if let Some(without) = space.without(&candidate, &[parameter.key]) {
                prop_assert_eq!(space.changed(&without).len() + 1, space.changed(&candidate).len());
            }
        }
    }

    /// The number a search is told and the order of aims never contradict each other by more than a step.
    #[test]
    fn the_number_follows_the_order(a in score(), b in score()) {
        match WINTERS.compare(&a, &b) {
            std::cmp::Ordering::Less if WINTERS.apart(&a, &b) >= 2.0 && differs_early(&a, &b) =>
                prop_assert!(WINTERS.number(&a) < WINTERS.number(&b)),
            std::cmp::Ordering::Greater if WINTERS.apart(&a, &b) >= 2.0 && differs_early(&a, &b) =>
                prop_assert!(WINTERS.number(&a) > WINTERS.number(&b)),
            _ => {}
        }
    }

    #[test]
    fn a_front_holds_exactly_what_nothing_beats(scores in proptest::collection::vec(score(), 1..12)) {
        let front = front(&scores);
        for (place, score) in scores.iter().enumerate() {
            let beaten = scores.iter().any(|other| dominates(other, score));
            let twin_before = scores[..place].contains(score);
            prop_assert_eq!(front.contains(&place), !beaten && !twin_before);
        }
    }

    #[test]
    fn sums_do_not_depend_on_their_order(mut scores in proptest::collection::vec(score(), 1..8)) {
        let forth: Score = scores.iter().copied().sum();
        scores.reverse();
        let back: Score = scores.iter().copied().sum();
        prop_assert_eq!(forth, back);
        prop_assert_eq!(forth.runs as usize, scores.len());
    }
}

/// Do they differ in danger or holding by whole steps?
fn differs_early(a: &Score, b: &Score) -> bool {
    [Aim::Danger, Aim::Hold].iter().any(|aim| {
        let line = super::aim_line(*aim);
        (a.mean(*aim) - b.mean(*aim)).abs() >= 2.0 * line.step
    })
}

prop_compose! {
    fn score()(
        danger_s in prop_oneof![Just(0_u64), 0_u64..20_000],
        deficit_mkh in 0_u64..50_000,
        wood_g in 0_u64..4_000_000,
        pump_wh in 0_u64..90_000,
        starts in 0_u64..3_000,
        slab_min_mc in -10_000_i32..4_000,
    ) -> Score {
        Score { runs: 1, danger_s, deficit_mkh, wood_g, pump_wh, starts, slab_min_mc, ..Score::default() }
    }
}

#[test]
fn an_earlier_aim_outweighs_all_later_ones() {
    let plain = Score {
        runs: 1,
        wood_g: 2_000_000,
        ..Score::default()
    };
    let dangerous = Score {
        danger_s: 10,
        wood_g: 0,
        ..plain
    };
    assert!(super::better(&plain, &dangerous));
    assert!(WINTERS.number(&plain) < WINTERS.number(&dangerous));
    let frozen = Score { frozen: 1, ..plain };
    assert!(super::better(&dangerous, &frozen));
    let thrifty = Score {
        wood_g: 1_000_000,
        deficit_mkh: 200,
        ..plain
    };
    // 0.2 K·h is less than half a step: wood decides.
    assert!(super::better(&thrifty, &plain));
    let cold = Score {
        deficit_mkh: 2_000,
        ..thrifty
    };
    assert!(super::better(&plain, &cold));
}

/// A made-up house whose best settings are known: place 0 holds the slab from 0.6 up and costs wood; wood is least at 0.3
/// of place 1; electricity at 0.8 of place 2 decides only where wood is the same; place 3 does nothing.
fn made_up(point: &[f64]) -> Tried {
    let deficit = 40.0 * (0.6 - point[0]).max(0.0);
    let wood = 500.0 + 1_000.0 * point[0] + 2_000.0 * (point[1] - 0.3).powi(2);
    let electricity = 30.0 + 40.0 * (point[2] - 0.8).powi(2);
    let thousandths = |value: f64| (value * 1_000.0).round() as u64;
    Tried {
        point: point.to_vec(),
        score: Score {
            runs: 1,
            danger_s: u64::from(point[0] < 0.2) * 3_600,
            deficit_mkh: thousandths(deficit),
            wood_g: thousandths(wood),
            pump_wh: thousandths(electricity),
            starts: 1_000,
            ..Score::default()
        },
    }
}

const START: [f64; 4] = [0.3, 0.9, 0.2, 0.5];

fn searched(seed: u64, candidates: usize) -> Vec<Tried> {
    let plan = Plan {
        candidates,
        seed,
        order: WINTERS,
    };
    let mut tried = Vec::new();
    search::search(&START, &plan, &mut tried, |points| {
        Ok::<_, ()>(points.iter().map(|p| made_up(p)).collect())
    })
    .expect("the made-up house refuses nothing");
    tried
}

#[test]
fn a_known_optimum_is_found() {
    // Half a step of holding is 0.25 K·h: the search may stop 0.25 / 40 short of 0.6, where the least wood is.
    let edge = 0.6 - 0.25 / 40.0;
    let least_wood = 500.0 + 1_000.0 * edge;
    for seed in 1..=5 {
        let tried = searched(seed, 400);
        assert_eq!(tried.len(), 400);
        let best = search::best(&tried, WINTERS).expect("something was tried");
        assert_eq!(best.score.danger_s, 0, "seed {seed}");
        assert!(best.score.mean(Aim::Hold) < 0.25, "seed {seed}: {best:?}");
        let wood = best.score.mean(Aim::Wood);
        assert!(
            wood < least_wood + super::aim_line(Aim::Wood).step,
            "seed {seed}: {best:?}"
        );
        assert!((best.point[0] - edge).abs() < 0.03, "seed {seed}: {best:?}");
        assert!((best.point[1] - 0.3).abs() < 0.12, "seed {seed}: {best:?}");
    }
}

#[test]
fn the_same_seed_tries_the_same_and_another_does_not() {
    let points = |seed| {
        let tried = searched(seed, 120);
        tried.into_iter().map(|t| t.point).collect::<Vec<_>>()
    };
    assert_eq!(points(7), points(7));
    assert_ne!(points(7), points(8));
}

#[test]
fn any_budget_is_kept_exactly() {
    for candidates in [1, 2, 19, 21, 60, 111] {
        assert_eq!(searched(3, candidates).len(), candidates);
    }
}

#[test]
fn a_search_that_is_stopped_leaves_what_it_tried() {
    let plan = Plan {
        candidates: 200,
        seed: 1,
        order: WINTERS,
    };
    let mut tried = Vec::new();
    let mut left = 2;
    let ended = search::search(&START, &plan, &mut tried, |points| {
        left -= 1;
        if left < 0 {
            return Err("enough");
        }
        Ok(points.iter().map(|p| made_up(p)).collect())
    });
    assert_eq!(ended, Err("enough"));
    assert_eq!(tried.len(), 1 + search::BROAD);
}

#[test]
fn the_coldest_weeks_are_the_coldest() {
    let year = files::weather::demo().expect("the weather built in");
    let from = jiff::civil::date(2025, 10, 15);
    let season = Season { from, days: 182 };
    let glazing = crate::files::site::SiteConfig::default().glazing();
    let coldest = season.coldest(&year, &glazing);
    assert_eq!(coldest.days, COLD_DAYS + LEAD_DAYS);
    // By the file's own rows: mean of each stretch of fourteen days.
    let mean = |first: jiff::civil::Date| {
        let days: HashSet<(u8, u8)> = (0..COLD_DAYS)
            .map(|day| {
                let date = first + jiff::Span::new().days(i64::from(day));
                (date.month().unsigned_abs(), date.day().unsigned_abs())
            })
            .collect();
        let rows = year
            .hours
            .iter()
            .filter(|h| days.contains(&(h.month, h.day)));
        rows.map(|h| h.dry_bulb_c).sum::<f64>() / f64::from(COLD_DAYS * 24)
    };
    let lead = jiff::Span::new().days(i64::from(LEAD_DAYS));
    let found = mean(coldest.from + lead);
    for offset in 0..182 - i64::from(COLD_DAYS + LEAD_DAYS) {
        let other = mean(from + lead + jiff::Span::new().days(offset));
        // Hourly stamps against values between them: a hundredth of a kelvin apart at most.
        assert!(found <= other + 0.05, "{found} against {other} at {offset}");
    }
    let short = Season { from, days: 3 };
    assert_eq!(short.coldest(&year, &glazing), short);
}

#[test]
fn errors_push_one_way_and_stand_against_each_other() {
    let [exact, warm, cold] = ERRORS;
    assert_eq!((exact.share, exact.pair_k), (0.0, 0.0));
    assert_eq!((warm.share, warm.pair_k), (-cold.share, -cold.pair_k));
    assert!(warm.share > 0.0 && warm.pair_k < 0.0);
}

mod resume {
    use super::*;

    fn known(wood_g: u64) -> Vec<Score> {
        vec![Score {
            runs: 1,
            wood_g,
            slab_min_mc: -1_250,
            ..Score::default()
        }]
    }

    #[test]
    fn what_was_kept_comes_back_to_the_last_digit() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("kept.jsonl");
        let mut memory = Memory::open(&path, "q").expect("a new file");
        memory
            .keep("weeks", vec![1, -2], known(1_234_567))
            .expect("written");
        memory.keep("weeks", vec![3, 4], known(7)).expect("written");
        drop(memory);
        let again = Memory::open(&path, "q").expect("the same question");
        assert_eq!(again.len(), 2);
        assert_eq!(again.get("weeks", &[1, -2]), Some(&known(1_234_567)[..]));
        assert_eq!(again.get("winters", &[1, -2]), None);
        assert!(again.confirm("weeks", &[3, 4], &known(7)).is_ok());
        assert!(matches!(
            again.confirm("weeks", &[3, 4], &known(8)),
            Err(ResumeError::OtherAnswer(_))
        ));
    }

    #[test]
    fn a_line_cut_short_is_dropped_and_written_anew() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("kept.jsonl");
        let mut memory = Memory::open(&path, "q").expect("a new file");
        memory.keep("weeks", vec![1], known(1)).expect("written");
        memory.keep("weeks", vec![2], known(2)).expect("written");
        drop(memory);
        let whole = std::fs::read_to_string(&path).expect("readable");
        std::fs::write(&path, &whole[..whole.len() - 9]).expect("cut");
        let mut again = Memory::open(&path, "q").expect("cut short is no error");
        assert_eq!(again.len(), 1);
        again.keep("weeks", vec![2], known(2)).expect("written");
        drop(again);
        assert_eq!(std::fs::read_to_string(&path).expect("readable"), whole);
    }

    #[test]
    fn another_question_and_another_file_are_refused_and_left_alone() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("kept.jsonl");
        drop(Memory::open(&path, "q").expect("a new file"));
        assert!(matches!(
            Memory::open(&path, "other"),
            Err(ResumeError::OtherQuestion(_))
        ));
        for text in ["slab_set = 4\n", "no line feed"] {
            std::fs::write(&path, text).expect("written");
            assert!(matches!(
                Memory::open(&path, "q"),
                Err(ResumeError::Line { line: 1, .. })
            ));
            assert_eq!(std::fs::read_to_string(&path).expect("readable"), text);
        }
    }
}

#[test]
fn what_two_moves_do_together_is_what_does_not_add_up() {
    let wood = |kg: u64| Score {
        runs: 1,
        wood_g: kg * 1_000,
        ..Score::default()
    };
    let parameter = PARAMETERS[0];
    let step = super::effects::Move { parameter, to: 5.0 };
    let pair = |both: u64| super::effects::Pair {
        moves: [step, step],
        scores: [wood(110), wood(130), wood(both)],
    };
    assert!(pair(140).together(&wood(100), Aim::Wood).abs() < 1e-9);
    assert!((pair(155).together(&wood(100), Aim::Wood) - 15.0).abs() < 1e-9);
    assert!((pair(120).together(&wood(100), Aim::Wood) + 20.0).abs() < 1e-9);
}

#[test]
fn a_wish_to_stop_before_anything_was_tried_leaves_the_starting_settings() {
    let year = files::weather::demo().expect("the weather built in");
    let tuned_on = super::winters::tuned_on(vec![year], 1).expect("a December");
    let kept_back = super::winters::kept_back(Vec::new(), &tuned_on[0], 1).expect("a December");
    let task = super::Task {
        site: crate::files::site::SiteConfig::default(),
        base: Settings::default(),
        tuned_on,
        kept_back,
        season: Season {
            from: jiff::civil::date(2026, 2, 8),
            days: 1,
        },
        error_k: 0.5,
        budget: super::Budget {
            candidates: 50,
            finalists: 4,
            last: 2,
        },
        seed: 1,
        take: None,
        notes: Vec::new(),
    };
    let stages = super::Stages::new(&task).expect("the days are there");
    let cancel = crate::sim::cancel::Cancel::new();
    cancel.request();
    let bar = indicatif::ProgressBar::hidden();
    let tuned = super::tune(&task, &stages, Memory::new(), &cancel, &bar).expect("no file");
    assert!(tuned.stopped && tuned.screened.is_empty());
    assert_eq!(tuned.chosen, tuned.space.base());
    // What is written says so and is a settings file.
    let text =
        crate::present::tune::settings_file(&task, &tuned, crate::files::quantity::Units::Si);
    assert!(text.contains("STOPPED EARLY") && text.contains("NOT TRIED"));
    let read = settings_file::parse(&text, "found.toml").expect("settings");
    assert_eq!(read.raw(), tuned.chosen.raw());
}

#[test]
fn three_winters_are_tuned_on_and_none_of_them_is_kept_back() {
    let year = || files::weather::demo().expect("the weather built in");
    let seeds = |winters: &[super::screen::Winter]| -> HashSet<u64> {
        winters.iter().map(|winter| winter.seed).collect()
    };
    for files in 1..=4 {
        let years = (0..files).map(|_| year()).collect();
        let tuned_on = super::winters::tuned_on(years, 5).expect("a December");
        assert_eq!(tuned_on.len(), (files + 1).max(3));
        let kept_back =
            super::winters::kept_back(vec![year()], &tuned_on[0], 5).expect("a December");
        assert_eq!(kept_back.len(), 3);
        assert!(seeds(&tuned_on).is_disjoint(&seeds(&kept_back)));
        // A snap makes the year colder somewhere, and differs from the other snaps.
        let cold = |winter: &super::screen::Winter| -> f64 {
            winter.year.hours.iter().map(|h| h.dry_bulb_c).sum()
        };
        assert!(cold(&tuned_on[files]) < cold(&tuned_on[0]));
        assert_ne!(tuned_on[files].year.hours, kept_back[1].year.hours);
    }
}

/// Aims in the order of the words in the documentation.
#[test]
fn aims_stand_in_their_order() {
    let aims: Vec<Aim> = AIMS.iter().map(|line| line.aim).collect();
    assert_eq!(
        aims,
        [
            Aim::Danger,
            Aim::Hold,
            Aim::Wood,
            Aim::Electricity,
            Aim::Starts
        ]
    );
    let half = Order { share: 0.5 };
    let a = Score {
        runs: 1,
        wood_g: 26_000,
        ..Score::default()
    };
    let none = Score {
        runs: 1,
        ..Score::default()
    };
    // 26 kg are a whole step of half weight, and about half a step of a winter.
    assert!((half.apart(&a, &none) - 1.04).abs() < 1e-9);
    assert!((WINTERS.apart(&a, &none) - 0.52).abs() < 1e-9);
}
