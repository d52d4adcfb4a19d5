//! One spell in closed loop: plant, faults, power, and whatever steers the relays.

use super::measure::{Measured, Meter};
use super::physical::{self, Wrongs};
use super::plan::Plan;
use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::plant::{OutdoorConditions, Plant, PlantConfig, Relays, Told};
use crate::sim::weather::Series;

/// Length of a plant step at rest and with the circulator on, s.
const REST_STEP_S: u64 = 60;
const RUNNING_STEP_S: u64 = 10;
/// Steps between looks at Ctrl-C.
const LOOK_EVERY: u64 = 4_096;

/// A stretch of time that the plant has just gone through.
pub(super) struct Stretch<'a> {
    /// Its beginning, s.
    pub from_s: u64,
    /// Its length, s.
    pub length_s: u64,
    /// The weather in it.
    pub outdoor: &'a OutdoorConditions,
}

/// What steers the relays.
pub(super) trait Steers {
    /// Power comes (back) after so long without.
    fn power_on(&mut self, _now_s: u64, _dark_s: u64, _settings_lost: bool) {}

    /// Power goes.
    fn power_off(&mut self, _now_s: u64) {}

    /// The relays at the end of a stretch.
    fn steer(&mut self, stretch: &Stretch<'_>, plant: &mut Plant) -> Relays;
}

/// Runs a spell.
pub(super) fn run(
    config: &PlantConfig,
    weather: &Series,
    plan: &Plan,
    steers: &mut dyn Steers,
    cancel: &Cancel,
) -> Result<Measured, Cancelled> {
    let end_s = weather.duration_s();
    let mut config = physical::built(config, plan);
    config.start.ground_day = weather.conditions(0).day_of_year;
    let mut plant = Plant::new(&config, plan.seed);
    let outages = physical::outages(plan, end_s);
    let mut borders: Vec<u64> = plan
        .faults
        .iter()
        .flat_map(|fault| [fault.from_s, fault.to_s])
        .collect();
    borders.extend(
        outages
            .iter()
            .flat_map(|outage| [outage.from_s, outage.to_s]),
    );
    borders.push(end_s);
    borders.sort_unstable();
    let mut outages = outages.into_iter().peekable();
    let mut wrongs = Wrongs::new(plan);
    let mut meter = Meter::new();
    let mut relays = Relays::default();
    let mut powered = true;
    let (mut now_s, mut border, mut steps) = (0, 0, 0_u64);
    steers.power_on(0, 0, false);
    while now_s < end_s {
        if steps.is_multiple_of(LOOK_EVERY) {
            cancel.check()?;
        }
        steps += 1;
        if !powered && let Some(outage) = outages.next_if(|outage| outage.to_s <= now_s) {
            powered = true;
            steers.power_on(now_s, outage.to_s - outage.from_s, outage.settings_lost);
        }
        if powered && outages.peek().is_some_and(|outage| outage.from_s <= now_s) {
            powered = false;
            relays = Relays::default();
            plant.told = Told::Nothing;
            steers.power_off(now_s);
        }
        let (faults, seen) = wrongs.at(now_s, powered, relays);
        plant.faults = faults;
        let step_s = if relays.circulator || faults.circulator_welded_on {
            RUNNING_STEP_S
        } else {
            REST_STEP_S
        };
        while borders.get(border).is_some_and(|at| *at <= now_s) {
            border += 1;
        }
        let next_border_s = borders.get(border).copied().unwrap_or(end_s).min(end_s);
        let length_s = (step_s - now_s % step_s).min(next_border_s - now_s);
        let outdoor = weather.conditions(now_s + length_s / 2).into();
        plant.step(length_s as f64, &outdoor, seen);
        meter.stretch(now_s, length_s, &plant.true_state(), relays);
        if powered {
            let stretch = Stretch {
                from_s: now_s,
                length_s,
                outdoor: &outdoor,
            };
            let after = steers.steer(&stretch, &mut plant);
            meter.relays(relays, after);
            relays = after;
        }
        now_s += length_s;
    }
    if powered {
        steers.power_off(now_s);
    }
    Ok(meter.finish(&plant))
}
