//! The fire: light it by when, how much wood, and what if it dies at three.
//!
//! Asked of the members under the controller, which calls the boiler as it would at night. A fire lit before the first call only
//! smoulders until then; a call that finds no fire is given up after the proof time and bypasses the store meanwhile. So the time
//! to name is that of the first call, as early as one night in ten has it, less what a fire takes to catch.

use jiff::civil::Time;
use rayon::prelude::*;

use super::SURE;
use super::ensemble::{Ensemble, Range};
use super::night::{Course, House, SAMPLE_S, first_below};
use crate::sim::plant::config::{BoilerKind, HandFiredConfig, PlantConfig};
use controller_core::settings::Settings;

/// Time a hand-laid fire takes to catch, s (common practice, no source).
const CATCHES_S: u64 = 1_800;
/// A fire is fed when its charge has come down to this share.
const FED_AT_SHARE: f64 = 0.1;
/// The hour at which it is asked what a dead fire would do.
pub const DIES_AT: Time = jiff::civil::time(3, 0, 0, 0);

/// What there is to burn in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Backup {
    /// A fire a person lays, with its full charge, kg.
    Fire {
        /// A full charge, kg.
        charge_kg: f64,
    },
    /// A boiler that needs nobody.
    Automatic,
}

/// What the fire does for the night.
#[derive(Clone, Debug, PartialEq)]
pub struct FireAnswer {
    /// What is burnt in.
    pub backup: Backup,
    /// Nights asked.
    pub nights: usize,
    /// In how many of them the controller calls.
    pub called: usize,
    /// When it first does, s of the axis.
    pub first_call_s: Range,
    /// Nights in which the slab holds its target if the call is left on and nobody lights a fire; the same for a boiler that does
    /// not start.
    pub unlit_holding: usize,
    /// Coldest slab then, °C.
    pub unlit_coldest_c: Range,
    /// When the fire has to be lit, s of the axis; `None` for a boiler that needs nobody, or if it is never called.
    pub light_by_s: Option<u64>,
    /// Nights in which the slab then holds its target.
    pub holding: usize,
    /// Coldest slab with the fire, °C.
    pub coldest_c: Range,
    /// The slab with the fire by time, one entry every ten minutes from now on.
    pub fan_c: Vec<Range>,
    /// From when on the slab stays above its target, s of the axis: now, unless it is too cold already.
    pub safe_from_s: Range,
    /// Wood until morning, kg.
    pub wood_kg: Range,
    /// When the first charge is down to a tenth, s of the axis: feed it then.
    pub feed_again_s: Range,
    /// Heat of the boiler to the loop until morning, kWh.
    pub heat_kwh: Range,
    /// What follows if the fire dies; `None` if the question does not arise.
    pub dies: Option<DeadFire>,
    /// What lighting and calling at once would do; asked only where the fire alone does not hold for sure.
    pub at_once: Option<AtOnce>,
}

impl FireAnswer {
    /// Whether the slab holds for sure with the fire.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.holding as f64 >= SURE * self.nights as f64
    }
}

/// A fire that is lit at once and called by hand from now on.
#[derive(Clone, Debug, PartialEq)]
pub struct AtOnce {
    /// Nights in which the slab then holds its target.
    pub holding: usize,
    /// Coldest slab, °C.
    pub coldest_c: Range,
    /// Wood until morning, kg.
    pub wood_kg: Range,
}

/// What follows if the fire dies at [`DIES_AT`].
#[derive(Clone, Debug, PartialEq)]
pub struct DeadFire {
    /// When, s of the axis.
    pub at_s: u64,
    /// Nights in which the slab holds its target, from now until morning as in every other figure.
    pub holding: usize,
    /// Nights in which it stays at or above 0 °C.
    pub above_zero: usize,
    /// Coldest slab, °C.
    pub coldest_c: Range,
    /// When the slab falls below the target, s of the axis.
    pub below_target_s: Range,
}

/// One night with the fire.
struct Night {
    course: Course,
    wood_kg: f64,
    heat_kwh: f64,
    fed_again_s: Option<u64>,
    /// The house as the question of the dead fire begins, and how many samples of the slab there were.
    at_three: Option<(House, usize)>,
}

/// Asks the controlled members. `quiet` are the settings without a boiler.
pub(super) fn ask(
    ensemble: &Ensemble<'_>,
    plant: &PlantConfig,
    settings: &Settings,
    quiet: &Settings,
    target_c: f64,
) -> Option<FireAnswer> {
    let fire = match &plant.boiler.as_ref()?.kind {
        BoilerKind::HandFired(fire) => Some(*fire),
        BoilerKind::Injection { .. } => None,
    };
    let axis = ensemble.outlook.axis;
    let members = &ensemble.controlled;
    let unlit: Vec<Course> = members
        .par_iter()
        .map(|&member| unlit(ensemble, member, settings))
        .collect();
    let calls: Vec<Option<u64>> = unlit.iter().map(|course| course.first_call_s).collect();
    let first_call_s = Range::of(
        calls
            .iter()
            .map(|call| call.map_or(f64::INFINITY, |s| s as f64)),
    );
    let earliest = calls.iter().flatten().min().copied();
    let named_s = if first_call_s.low.is_finite() {
        Some(first_call_s.low as u64)
    } else {
        earliest
    };
    let light_s = named_s.map(|s| s.saturating_sub(CATCHES_S).max(axis.now_s));
    let dies_s = [axis.now_s, axis.now_s + 86_400]
        .into_iter()
        .filter_map(|day_s| axis.second(axis.at(day_s).date().to_datetime(DIES_AT)))
        .find(|&s| s > axis.now_s)
        .filter(|&s| s < axis.until_s && light_s.is_some_and(|lit_s| lit_s < s))
        .map(|s| s - s % SAMPLE_S);
    let nights: Vec<Night> = members
        .par_iter()
        .map(|&member| with_fire(ensemble, member, settings, fire, light_s, dies_s, false))
        .collect();
    let dies =
        dies_s.map(|at_s| dead_fire(ensemble, &nights, quiet, fire.is_some(), at_s, target_c));
    let holding = count_holding(nights.iter().map(|night| &night.course), target_c);
    let sure = holding as f64 >= SURE * nights.len() as f64;
    let at_once = (!sure).then(|| {
        let now = Some(axis.now_s);
        let nights: Vec<Night> = members
            .par_iter()
            .map(|&member| with_fire(ensemble, member, settings, fire, now, None, true))
            .collect();
        AtOnce {
            holding: count_holding(nights.iter().map(|night| &night.course), target_c),
            coldest_c: Range::of(nights.iter().map(|night| night.course.coldest_c())),
            wood_kg: Range::of(nights.iter().map(|night| night.wood_kg)),
        }
    });
    Some(FireAnswer {
        at_once,
        backup: fire.map_or(Backup::Automatic, |fire| Backup::Fire {
            charge_kg: fire.charge_kg,
        }),
        nights: members.len(),
        called: calls.iter().flatten().count(),
        first_call_s,
        unlit_holding: count_holding(unlit.iter(), target_c),
        unlit_coldest_c: Range::of(unlit.iter().map(Course::coldest_c)),
        light_by_s: light_s.filter(|_| fire.is_some()),
        holding,
        coldest_c: Range::of(nights.iter().map(|night| night.course.coldest_c())),
        fan_c: by_time(&nights),
        safe_from_s: Range::of(
            nights
                .iter()
                .map(|night| safe_from_s(&night.course, axis.now_s, target_c)),
        ),
        wood_kg: Range::of(nights.iter().map(|night| night.wood_kg)),
        feed_again_s: Range::of(
            nights
                .iter()
                .map(|night| night.fed_again_s.map_or(f64::INFINITY, |s| s as f64)),
        ),
        heat_kwh: Range::of(nights.iter().map(|night| night.heat_kwh)),
        dies,
    })
}

/// The slab of all nights by time.
fn by_time(nights: &[Night]) -> Vec<Range> {
    let samples = nights.iter().map(|night| night.course.slab_c.len()).max();
    (0..samples.unwrap_or(0))
        .map(|k| {
            let slab_c = |night: &Night| night.course.slab_c.get(k).copied();
            Range::of(nights.iter().filter_map(slab_c))
        })
        .collect()
}

fn count_holding<'a>(courses: impl Iterator<Item = &'a Course>, limit_c: f64) -> usize {
    courses
        .filter(|course| first_below(&course.slab_c, limit_c).is_none())
        .count()
}

/// From when on a course stays at or above a limit, s of the axis; infinite for never.
fn safe_from_s(course: &Course, now_s: u64, limit_c: f64) -> f64 {
    match course.slab_c.iter().rposition(|&t| t < limit_c) {
        None => now_s as f64,
        Some(last) if last + 1 == course.slab_c.len() => f64::INFINITY,
        Some(last) => (now_s + (last as u64 + 1) * SAMPLE_S) as f64,
    }
}

/// A night in which the controller calls and nobody has lit anything.
fn unlit(ensemble: &Ensemble<'_>, member: usize, settings: &Settings) -> Course {
    let weather = ensemble.weather(member);
    let at = |second: u64| weather.at(second);
    let mut house = ensemble.house(member);
    let mut course = Course {
        slab_c: vec![house.plant().truth().slab_c],
        first_call_s: None,
    };
    house.run(
        ensemble.outlook.axis.until_s,
        &at,
        Some(settings),
        &mut course,
    );
    course
}

/// A night with a fire lit at `light_s` and fed whenever it runs low.
fn with_fire(
    ensemble: &Ensemble<'_>,
    member: usize,
    settings: &Settings,
    fire: Option<HandFiredConfig>,
    light_s: Option<u64>,
    dies_s: Option<u64>,
    called_by_hand: bool,
) -> Night {
    let weather = ensemble.weather(member);
    let at = |second: u64| weather.at(second);
    let until_s = ensemble.outlook.axis.until_s;
    let mut house = ensemble.house(member);
    house.called_by_hand = called_by_hand;
    let mut course = Course {
        slab_c: vec![house.plant().truth().slab_c],
        first_call_s: None,
    };
    let before_j = house.plant().ledger().boiler_j;
    let mut adopt = Some(settings);
    let mut lit = false;
    let mut fed_again_s = None;
    let mut at_three = None;
    while house.now_s() < until_s {
        if let (Some(fire), Some(light_s)) = (fire, light_s)
            && house.now_s() + SAMPLE_S > light_s
        {
            let low = house.plant().true_state().fuel_kg < FED_AT_SHARE * fire.charge_kg;
            if lit && low {
                fed_again_s.get_or_insert(house.now_s());
            }
            if low || !lit {
                house.plant_mut().load_fuel(fire.charge_kg);
                house.plant_mut().light_fire();
                lit = true;
            }
        }
        if dies_s == Some(house.now_s()) {
            at_three = Some((house.clone(), course.slab_c.len()));
        }
        let next_s = (house.now_s() + SAMPLE_S).min(until_s);
        house.run(next_s, &at, adopt.take(), &mut course);
    }
    let truth = house.plant().true_state();
    Night {
        course,
        wood_kg: truth.wood_kg,
        heat_kwh: (house.plant().ledger().boiler_j - before_j) / 3.6e6,
        fed_again_s,
        at_three,
    }
}

fn dead_fire(
    ensemble: &Ensemble<'_>,
    nights: &[Night],
    quiet: &Settings,
    by_hand: bool,
    at_s: u64,
    target_c: f64,
) -> DeadFire {
    let (now_s, until_s) = (ensemble.outlook.axis.now_s, ensemble.outlook.axis.until_s);
    let courses: Vec<Course> = ensemble
        .controlled
        .par_iter()
        .zip(nights)
        .filter_map(|(&member, night)| {
            let (mut house, samples) = night.at_three.clone()?;
            // The night until then is the same.
            let mut course = Course {
                slab_c: night.course.slab_c.iter().take(samples).copied().collect(),
                first_call_s: None,
            };
            let weather = ensemble.weather(member);
            let at = |second: u64| weather.at(second);
            house.plant_mut().faults.fire_out = true;
            house.plant_mut().faults.no_fuel = true;
            // A boiler without a fire of ours is taken away from the controller instead.
            house.run(until_s, &at, (!by_hand).then_some(quiet), &mut course);
            Some(course)
        })
        .collect();
    DeadFire {
        at_s,
        holding: count_holding(courses.iter(), target_c),
        above_zero: count_holding(courses.iter(), 0.0),
        coldest_c: Range::of(courses.iter().map(Course::coldest_c)),
        below_target_s: Range::of(courses.iter().map(|course| {
            first_below(&course.slab_c, target_c).map_or(f64::INFINITY, |s| now_s as f64 + s)
        })),
    }
}
