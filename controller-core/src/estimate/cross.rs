//! One sensor against the others. A call is an experiment: proven heat must move what lies behind
//! it, so a reading that does not answer is not one of the slab or of its water.

use crate::sensor::{BySensor, Reading, Verdict};
use crate::settings::{Rule, Settings};
use crate::time::Duration;
use crate::units::{Celsius, Kelvin, Ratio};

/// Supply above its value at the call's start that counts as heat sent into the slab, K.
const HEAT_SENT: Kelvin = Kelvin::from_milli(8_000);
/// Such heat must move the return by `RETURN_MOVES` within the first time and the slab by
/// `SLAB_MOVES` within the second. In the model it moves them by more than 5 K and 2 K.
const RETURN_ANSWERS: Duration = Duration::from_mins(40);
const SLAB_ANSWERS: Duration = Duration::from_mins(120);
const RETURN_MOVES: Kelvin = Kelvin::from_milli(1_000);
const SLAB_MOVES: Kelvin = Kelvin::from_milli(500);
/// Slab and moving water disagree: the slab is colder than both pipes, or warmer than both, by this.
const APART: Kelvin = Kelvin::from_milli(2_000);
/// A disagreement must last this long to be told.
const APART_FOR: Duration = Duration::from_mins(10);
/// A supply that was contradicted is trusted again after this.
const WRONG_KEPT: Duration = Duration::from_hours(2);
/// A verdict that nothing has contradicted since is dropped after this.
const KEPT: Duration = Duration::from_hours(24);
/// Return that shows real heat when the slab is unknown, °C.
const WARM_RETURN: Celsius = Celsius::from_milli(12_000);

/// Does the return confirm a hot supply?
pub(crate) fn return_bears_out(
    supply: Celsius,
    ret: Option<Celsius>,
    slab: Option<Celsius>,
    loop_effectiveness: Ratio,
) -> bool {
    let Some(ret) = ret else { return false };
    match slab {
        Some(slab) => {
            let passed_on = Ratio::from_bits(
                Ratio::from_milli(1_000)
                    .to_bits()
                    .saturating_sub(loop_effectiveness.to_bits())
                    >> 1,
            );
            ret - slab >= (supply - slab).scaled(passed_on)
        }
        None => ret >= WARM_RETURN,
    }
}

/// What is compared.
pub(super) struct CrossInput<'a> {
    pub(super) readings: &'a BySensor<Reading>,
    /// Water moves past the sensors, as far as anybody knows.
    pub(super) settled: bool,
    pub(super) boiler: bool,
    pub(super) boiler_off_for: Duration,
    pub(super) acknowledged: bool,
    pub(super) step: Duration,
}

/// Highest and lowest of a reading since heat was first sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Span {
    low: Celsius,
    high: Celsius,
}

impl Span {
    fn take(span: &mut Option<Self>, t: Celsius) -> Kelvin {
        let seen = span.get_or_insert(Self { low: t, high: t });
        seen.low = seen.low.min(t);
        seen.high = seen.high.max(t);
        seen.high - seen.low
    }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct CrossCheck {
    supply_at_start: Option<Celsius>,
    /// Time of heat in the present call, and what slab and return did meanwhile.
    heated_for: Duration,
    slab_span: Option<Span>,
    return_span: Option<Span>,
    /// Time left of a verdict.
    slab_silent: Duration,
    return_silent: Duration,
    /// A hot supply that the return does not confirm, for so long, and time left of the verdict.
    unborne_for: Duration,
    supply_wrong: Duration,
    apart_for: Duration,
    disputed: Duration,
}

impl CrossCheck {
    pub(super) const NEW: Self = Self {
        supply_at_start: None,
        heated_for: Duration::ZERO,
        slab_span: None,
        return_span: None,
        slab_silent: Duration::ZERO,
        return_silent: Duration::ZERO,
        unborne_for: Duration::ZERO,
        supply_wrong: Duration::ZERO,
        apart_for: Duration::ZERO,
        disputed: Duration::ZERO,
    };

    /// Verdicts on the sensors, for the next step's checks.
    pub(super) fn update(
        &mut self,
        input: &CrossInput<'_>,
        settings: &Settings,
    ) -> BySensor<Verdict> {
        if input.acknowledged {
            *self = Self::NEW;
        }
        for left in [
            &mut self.slab_silent,
            &mut self.return_silent,
            &mut self.supply_wrong,
            &mut self.disputed,
        ] {
            *left = left.saturating_sub(input.step);
        }
        if settings.keeps(Rule::Answer) {
            self.answer(input);
        }
        if settings.keeps(Rule::HotSupply) {
            self.hot_supply(input, settings);
        }
        self.dispute(input);
        let silent = |left: Duration| {
            if left > Duration::ZERO {
                Verdict::Stuck
            } else {
                Verdict::Fine
            }
        };
        BySensor {
            supply: silent(self.supply_wrong),
            ret: silent(self.return_silent),
            slab: silent(self.slab_silent),
            outdoor: Verdict::Fine,
        }
    }

    /// The slab reading and its water disagree, or one of them answers no heat.
    pub(super) fn is_disputed(&self) -> bool {
        self.disputed > Duration::ZERO
    }

    /// Do slab and return answer the heat of a call?
    fn answer(&mut self, input: &CrossInput<'_>) {
        let (supply, ret, slab) = (
            input.readings.supply.seen,
            input.readings.ret.seen,
            input.readings.slab.seen,
        );
        if !input.boiler {
            self.supply_at_start = None;
            self.heated_for = Duration::ZERO;
            self.slab_span = None;
            self.return_span = None;
            return;
        }
        let Some(supply) = supply else { return };
        let start = *self.supply_at_start.get_or_insert(supply);
        let slab_moved = slab.map(|t| Span::take(&mut self.slab_span, t));
        let return_moved = ret.map(|t| Span::take(&mut self.return_span, t));
        if !input.settled || supply - start < HEAT_SENT {
            return;
        }
        self.heated_for = self.heated_for + input.step;
        if return_moved.is_some_and(|k| k >= RETURN_MOVES) {
            self.return_silent = Duration::ZERO;
        } else if return_moved.is_some() && self.heated_for >= RETURN_ANSWERS {
            self.return_silent = KEPT;
        }
        if slab_moved.is_some_and(|k| k >= SLAB_MOVES) {
            self.slab_silent = Duration::ZERO;
        } else if slab_moved.is_some() && self.heated_for >= SLAB_ANSWERS {
            self.slab_silent = KEPT;
        }
    }

    /// A supply at its limit is the water's only if the return is warm as well.
    fn hot_supply(&mut self, input: &CrossInput<'_>, settings: &Settings) {
        let readings = input.readings;
        let Some(supply) = readings.supply.seen else {
            return;
        };
        let slab = readings.slab.value;
        let unborne = input.settled
            && supply >= settings.supply_soft
            && readings.ret.value.is_some()
            && !return_bears_out(
                supply,
                readings.ret.value,
                slab,
                settings.loop_effectiveness,
            );
        self.unborne_for = if unborne {
            self.unborne_for + input.step
        } else {
            Duration::ZERO
        };
        if self.unborne_for >= APART_FOR {
            self.supply_wrong = WRONG_KEPT;
        }
    }

    /// Water that moves leaves the slab between supply and slab temperature.
    fn dispute(&mut self, input: &CrossInput<'_>) {
        let heated = input.boiler_off_for < super::water::HEAT_GONE;
        let (Some(supply), Some(ret), Some(slab)) = (
            input.readings.supply.good(),
            input.readings.ret.good(),
            input.readings.slab.seen,
        ) else {
            return;
        };
        if heated || !input.settled {
            return;
        }
        let (low, high) = (supply.min(slab), supply.max(slab));
        let outside = ret < low - APART || ret > high + APART;
        self.apart_for = if outside {
            self.apart_for + input.step
        } else {
            Duration::ZERO
        };
        if self.apart_for >= APART_FOR {
            self.disputed = KEPT;
        }
    }
}
