//! One sensor against the others. Only says who is contradicted; what follows from it is decided
//! elsewhere, and never so that one plausible liar defeats frost or overheat protection.

use super::flow::Flow;
use crate::sensor::{BySensor, Reading, Verdict};
use crate::settings::Settings;
use crate::time::Duration;
use crate::units::{Celsius, Kelvin, Ratio};

/// What the comparison came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct CrossReport {
    pub(super) verdicts: BySensor<Verdict>,
    pub(super) swapped: bool,
    pub(super) slab_disputed: bool,
    pub(super) slab_reads_low: bool,
}

/// What is compared.
pub(super) struct CrossInput<'a> {
    pub(super) readings: &'a BySensor<Reading>,
    pub(super) flow: Flow,
    pub(super) moving_for: Duration,
    /// Long enough for averages to stand for the water.
    pub(super) settled: bool,
    pub(super) boiler: bool,
    pub(super) boiler_off_for: Duration,
    pub(super) water_slab: Option<Celsius>,
    /// The least the slab can be by the running water, where that tells no more.
    pub(super) slab_at_least: Option<Celsius>,
    /// Was the water's word measured just now?
    pub(super) water_fresh: bool,
    pub(super) loop_yield: Ratio,
    pub(super) banking: bool,
    pub(super) supply_stuck: bool,
    pub(super) return_stuck: bool,
    pub(super) acknowledged: bool,
    pub(super) step: Duration,
}

/// Slab and water agree within this, K. Status: judgement (reading ±0.5 K, yield ±10 %).
const SLAB_DISPUTE: Kelvin = Kelvin::from_milli(1_500);
/// A disagreement must last this long.
const DISPUTE_FOR: Duration = Duration::from_mins(10);
/// Agreement clears the dispute after this long.
const AGREE_FOR: Duration = Duration::from_hours(24);
/// Water that says the slab is at least this warm, °C, may overrule a slab that asks for heat.
const WARM_WATER: Celsius = Celsius::from_milli(6_000);
/// By how much it must be warmer, at least, K and share of supply less slab.
const READS_LOW: Kelvin = Kelvin::from_milli(4_000);
const READS_LOW_SHARE: Ratio = Ratio::from_milli(300);
/// Return above supply with the boiler on, K: the supply reading is wrong.
const RETURN_ABOVE: Kelvin = Kelvin::from_milli(2_000);
/// For so long: in a call in which the supply never rose, and otherwise.
const NEVER_ROSE_FOR: Duration = Duration::from_mins(2);
const RETURN_ABOVE_FOR: Duration = Duration::from_mins(10);
/// Supply near freezing and return this much warmer, K: the supply reading is wrong.
const COLD_SUPPLY: Celsius = Celsius::from_milli(500);
const COLD_APART: Kelvin = Kelvin::from_milli(3_000);
/// Flow after which supply and return are comparable at all.
const COMPARABLE: Duration = Duration::from_mins(2);
/// A call this recent explains a hot supply.
const CALL_EXPLAINS: Duration = Duration::from_mins(60);
/// Return that shows real heat when the slab is unknown, °C.
const WARM_RETURN: Celsius = Celsius::from_milli(12_000);
/// Return above supply while harvesting, and supply above slab, K: exchanged.
const SWAP_APART: Kelvin = Kelvin::from_milli(1_000);
const SWAP_ABOVE_SLAB: Kelvin = Kelvin::from_milli(500);
/// A contradicted supply is doubted at least this long after the contradiction.
const DOUBT_KEPT: Duration = Duration::from_mins(10);

/// Does the return bear out a hot supply? Shared by the comparison and the overheat trip.
pub(crate) fn return_bears_out(
    supply: Celsius,
    ret: Option<Celsius>,
    slab: Option<Celsius>,
    loop_yield: Ratio,
) -> bool {
    let Some(ret) = ret else { return false };
    match slab {
        Some(slab) => {
            let passed_on = Ratio::from_bits(
                Ratio::from_milli(1_000)
                    .to_bits()
                    .saturating_sub(loop_yield.to_bits())
                    >> 1,
            );
            ret - slab >= (supply - slab).scaled(passed_on)
        }
        None => ret >= WARM_RETURN,
    }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct CrossCheck {
    disagree_for: Duration,
    agree_for: Duration,
    disputed: bool,
    reads_low_for: Duration,
    return_above_for: Duration,
    /// Return less supply when the call began is not needed: only whether supply rose since.
    call_start: Option<Celsius>,
    supply_doubt: Duration,
    supply_stuck: bool,
    return_stuck: bool,
    swap_seen: bool,
    swap_runs: u8,
}

impl CrossCheck {
    pub(super) const NEW: Self = Self {
        disagree_for: Duration::ZERO,
        agree_for: Duration::ZERO,
        disputed: false,
        reads_low_for: Duration::ZERO,
        return_above_for: Duration::ZERO,
        call_start: None,
        supply_doubt: Duration::ZERO,
        supply_stuck: false,
        return_stuck: false,
        swap_seen: false,
        swap_runs: 0,
    };

    pub(super) const fn is_slab_disputed(&self) -> bool {
        self.disputed
    }

    pub(super) fn update(&mut self, input: &CrossInput<'_>, settings: &Settings) -> CrossReport {
        let slab_reads_low = self.slab(input);
        self.supply(input, settings);
        self.swap(input);
        if input.moving_for >= settings.flow_shown {
            // Judged once the run is long enough; a run in which it moves clears it.
            self.supply_stuck = input.supply_stuck;
            self.return_stuck = input.return_stuck;
        }
        self.forget_lost(input.readings);
        let stuck_or = |stuck, contradicted| match (contradicted, stuck) {
            (true, _) => Verdict::Contradicted,
            (false, true) => Verdict::Stuck,
            (false, false) => Verdict::Fine,
        };
        CrossReport {
            verdicts: BySensor {
                supply: stuck_or(self.supply_stuck, self.supply_doubt > Duration::ZERO),
                ret: stuck_or(self.return_stuck, false),
                slab: stuck_or(false, self.disputed),
                outdoor: Verdict::Fine,
            },
            swapped: self.swap_runs >= 2,
            slab_disputed: self.disputed,
            slab_reads_low,
        }
    }

    /// What is lost has been judged: it is let in again and judged anew, or it never came back.
    fn forget_lost(&mut self, readings: &BySensor<Reading>) {
        self.supply_stuck &= !readings.supply.is_lost();
        self.return_stuck &= !readings.ret.is_lost();
        if readings.slab.is_lost() {
            self.disputed = false;
            self.disagree_for = Duration::ZERO;
        }
    }

    fn slab(&mut self, input: &CrossInput<'_>) -> bool {
        if input.acknowledged {
            self.disputed = false;
            self.disagree_for = Duration::ZERO;
        }
        let slab = input
            .readings
            .slab
            .seen
            .filter(|_| !input.readings.slab.is_lost());
        let settled = input.settled;
        let Some(slab) = slab else {
            self.reads_low_for = Duration::ZERO;
            return false;
        };
        if let Some(water) = input.water_slab {
            if settled && input.water_fresh {
                if (slab - water).abs() > SLAB_DISPUTE {
                    self.disagree_for = self.disagree_for + input.step;
                    self.agree_for = Duration::ZERO;
                } else {
                    self.disagree_for = Duration::ZERO;
                }
            }
            self.agree_for = self.agree_for + input.step;
        }
        if self.disagree_for >= DISPUTE_FOR {
            self.disputed = true;
        } else if self.agree_for >= AGREE_FOR {
            self.disputed = false;
        }

        let margin = || {
            let share = |supply: Celsius| (supply - slab).scaled(READS_LOW_SHARE);
            let supply = input.readings.supply.value;
            supply.map_or(READS_LOW, |supply| READS_LOW.max(share(supply)))
        };
        let low = settled
            && input
                .slab_at_least
                .or(input.water_slab)
                .is_some_and(|water| water >= WARM_WATER && water - slab > margin());
        self.reads_low_for = if low {
            self.reads_low_for + input.step
        } else {
            Duration::ZERO
        };
        if self.reads_low_for >= DISPUTE_FOR {
            self.disputed = true;
            self.agree_for = Duration::ZERO;
            return true;
        }
        false
    }

    fn supply(&mut self, input: &CrossInput<'_>, settings: &Settings) {
        self.supply_doubt = self.supply_doubt.saturating_sub(input.step);
        let supply = input.readings.supply.seen;
        let ret = input.readings.ret.raw();
        self.call_start = match (input.boiler, self.call_start) {
            (true, None) => supply,
            (true, start) => start,
            (false, _) => None,
        };
        let Some(supply) = supply else { return };
        if !input.boiler && input.moving_for == Duration::ZERO {
            self.return_above_for = Duration::ZERO;
            return; // water at rest says nothing of the sensors
        }
        let purged = matches!(input.flow, Flow::Flowing);
        let return_above = purged && ret.is_some_and(|ret| ret > supply + RETURN_ABOVE);
        self.return_above_for = if input.boiler && return_above {
            self.return_above_for + input.step
        } else {
            Duration::ZERO
        };
        let never_rose = || {
            self.call_start
                .is_some_and(|start| supply < start + Kelvin::from_milli(1_000))
        };
        let too_low = self.return_above_for >= RETURN_ABOVE_FOR
            || self.return_above_for >= NEVER_ROSE_FOR && never_rose();
        let after_call = self.supply_doubt > Duration::ZERO && return_above;
        let too_cold = purged
            && !input.banking
            && supply < COLD_SUPPLY
            && ret.is_some_and(|ret| ret > supply + COLD_APART);
        let hot = input.moving_for >= COMPARABLE
            && supply >= settings.soft_limit()
            && !input.boiler
            && input.boiler_off_for > CALL_EXPLAINS
            && !return_bears_out(supply, ret, input.readings.slab.value, input.loop_yield);
        if too_low || after_call || too_cold || hot {
            self.supply_doubt = DOUBT_KEPT;
        }
    }

    /// Heat that seems to run backwards while the slab is below both.
    fn swap(&mut self, input: &CrossInput<'_>) {
        if input.acknowledged {
            self.swap_runs = 0;
        }
        if input.moving_for == Duration::ZERO {
            self.swap_seen = false;
            return;
        }
        let quiet = !input.boiler && input.boiler_off_for > CALL_EXPLAINS && !input.banking;
        let (Some(supply), Some(ret), Some(slab)) = (
            input.readings.supply.value,
            input.readings.ret.value,
            input.readings.slab.value,
        ) else {
            return;
        };
        if !input.settled || !quiet {
            return;
        }
        if ret - supply >= SWAP_APART && supply > slab + SWAP_ABOVE_SLAB {
            if !self.swap_seen {
                self.swap_seen = true;
                self.swap_runs = self.swap_runs.saturating_add(1);
            }
        } else if supply - ret >= SWAP_APART {
            self.swap_runs = 0;
        }
    }
}
