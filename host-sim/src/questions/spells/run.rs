//! One spell in closed loop: plant, faults, power, and whatever steers the relays.

use super::measure::{Measured, Meter};
use super::physical::{self, Wrongs};
use super::plan::Plan;
use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::closed_loop::{ClosedLoop, Pace, Stretch};
use crate::sim::plant::{Plant, PlantConfig, Relays, Told};
use crate::sim::weather::Series;

/// Steps between looks at Ctrl-C.
const LOOK_EVERY: u64 = 4_096;

/// What steers the relays.
pub(super) trait Steers {
    /// Power comes (back) after so long without.
    fn power_on(&mut self, _now_s: u64, _dark_s: u64, _settings_lost: bool) {}

    /// Power goes.
    fn power_off(&mut self, _now_s: u64) {}

    /// The relays at the end of a stretch.
    fn steer(&mut self, stretch: &Stretch, plant: &mut Plant) -> Relays;
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
    let mut house = ClosedLoop::new(Plant::new(&config, plan.seed), 0, Pace::USUAL);
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
    let mut meter = Meter::new(&house.plant);
    let mut powered = true;
    let (mut border, mut steps) = (0, 0_u64);
    steers.power_on(0, 0, false);
    while house.now_s() < end_s {
        let now_s = house.now_s();
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
            house.relays = Relays::default();
            house.plant.told = Told::Nothing;
            steers.power_off(now_s);
        }
        let (faults, actual) = wrongs.at(now_s, powered, house.relays);
        house.plant.faults = faults;
        let runs = house.relays.circulator || faults.circulator_welded_on;
        while borders.get(border).is_some_and(|at| *at <= now_s) {
            border += 1;
        }
        let next_border_s = borders.get(border).copied().unwrap_or(end_s).min(end_s);
        let stretch = house.go_on_with(actual, runs, next_border_s, |at_s| {
            weather.conditions(at_s).into()
        });
        meter.add(&stretch, &house.plant);
        if powered {
            house.relays = steers.steer(&stretch, &mut house.plant);
        }
    }
    if powered {
        steers.power_off(house.now_s());
    }
    Ok(meter.finish(&house.plant))
}
