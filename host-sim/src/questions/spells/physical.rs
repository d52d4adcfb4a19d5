//! What is wrong in the plant at a moment, and when there is no power.

use super::draw::Draw;
use super::faults::{Does, Part, Upset};
use super::plan::{Fault, Plan};
use crate::sim::plant::config::BoilerKind;
use crate::sim::plant::operating::{LoopDesign, Path, REFERENCE_C};
use crate::sim::plant::{Faults, PlantConfig, Relays};

/// A stretch without power.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Outage {
    /// Its beginning, s.
    pub from_s: u64,
    /// Its end, s.
    pub to_s: u64,
    /// The settings are unreadable after it.
    pub settings_lost: bool,
}

/// Length of the cuts of a boot loop, s.
const BLINK_S: u64 = 1;
/// Length of the cut after which the settings are lost, s.
const CUT_S: u64 = 2;

/// Every stretch without power in order; those that touch are one.
pub(super) fn outages(plan: &Plan, end_s: u64) -> Vec<Outage> {
    let mut all = Vec::new();
    for fault in &plan.faults {
        let cut = |from_s: u64, length_s: u64, settings_lost| Outage {
            from_s,
            to_s: from_s + length_s.max(1),
            settings_lost,
        };
        let [first, second] = fault.values;
        match fault.kind.does {
            Does::Upset(Upset::PowerCut) => {
                all.push(cut(fault.from_s, (first * 3_600.0) as u64, false))
            }
            Does::Upset(Upset::BootLoop) => {
                let every_s = second as u64;
                all.extend(
                    (0..first as u64).map(|k| cut(fault.from_s + k * every_s, BLINK_S, false)),
                );
            }
            Does::Upset(Upset::SettingsLost) => all.push(cut(fault.from_s, CUT_S, true)),
            _ => {}
        }
    }
    all.sort_by_key(|outage| outage.from_s);
    let mut merged: Vec<Outage> = Vec::new();
    for outage in all.into_iter().filter(|outage| outage.from_s < end_s) {
        match merged.last_mut() {
            Some(last) if outage.from_s <= last.to_s => {
                last.to_s = last.to_s.max(outage.to_s);
                last.settings_lost |= outage.settings_lost;
            }
            _ => merged.push(outage),
        }
    }
    merged
}

/// The house as it is from the beginning.
pub(super) fn built(plant: &PlantConfig, plan: &Plan) -> PlantConfig {
    let mut built = plant.clone();
    for fault in &plan.faults {
        match fault.kind.does {
            Does::Part(Part::PumpWeak) => {
                let design = LoopDesign::new(plant).flow_point(Path::Series, REFERENCE_C);
                let flow_l_s = design.flow_l_s;
                built.circulator.measured_flow_l_s = Some(fault.values[0] * flow_l_s);
            }
            Does::Part(Part::FirePoor) => {
                match built.boiler.as_mut().map(|boiler| &mut boiler.kind) {
                    Some(BoilerKind::HandFired(fire)) => fire.rated_w /= 2.0,
                    Some(BoilerKind::Injection { capacity_w }) => *capacity_w /= 2.0,
                    None => {}
                }
            }
            _ => {}
        }
    }
    built
}

/// The plant's faults with what they have to remember.
pub(super) struct Wrongs<'a> {
    wrongs: Vec<Wrong<'a>>,
    circulator_was_on: bool,
}

struct Wrong<'a> {
    fault: &'a Fault,
    part: Part,
    draw: Draw,
    until_s: u64,
    is_stopped: bool,
}

impl<'a> Wrongs<'a> {
    pub(super) fn new(plan: &'a Plan) -> Self {
        let wrong = |(index, fault): (usize, &'a Fault)| match fault.kind.does {
            Does::Part(part) => Some(Wrong {
                fault,
                part,
                draw: Draw::for_fault(plan.seed, index),
                until_s: 0,
                is_stopped: false,
            }),
            _ => None,
        };
        Self {
            wrongs: plan.faults.iter().enumerate().filter_map(wrong).collect(),
            circulator_was_on: false,
        }
    }

    /// The faults from now on, and the relays as the plant sees them.
    pub(super) fn at(&mut self, now_s: u64, powered: bool, relays: Relays) -> (Faults, Relays) {
        let mut faults = Faults {
            power_off: !powered,
            ..Faults::default()
        };
        let mut seen = relays;
        let starts = relays.circulator && !self.circulator_was_on;
        self.circulator_was_on = relays.circulator;
        for wrong in self
            .wrongs
            .iter_mut()
            .filter(|wrong| wrong.fault.is_on(now_s))
        {
            let [first, second] = wrong.fault.values;
            match wrong.part {
                Part::PumpDead => faults.circulator_dead = true,
                Part::PumpSticky => {
                    if starts {
                        wrong.is_stopped = wrong.draw.percent(first);
                    }
                    faults.circulator_dead |= wrong.is_stopped;
                }
                Part::Air => faults.air_locked = true,
                Part::AirIntermittent => {
                    if now_s >= wrong.until_s {
                        wrong.is_stopped = !wrong.is_stopped;
                        let mean_s = if wrong.is_stopped { first } else { second };
                        wrong.until_s = now_s + wrong.draw.waiting(mean_s) as u64 + 1;
                    }
                    faults.air_locked |= wrong.is_stopped;
                }
                Part::PumpRelayWelded => faults.circulator_welded_on = true,
                Part::BoilerRelayWelded => faults.boiler_welded_on = true,
                Part::BoilerRelayOpen => seen.boiler_call = false,
                Part::FireOut => faults.fire_out = true,
                Part::NoFuel => faults.no_fuel = true,
                // Built so from the beginning.
                Part::PumpWeak | Part::FirePoor => {}
            }
        }
        (faults, seen)
    }
}
