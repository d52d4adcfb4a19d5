//! Smoothing: median of five against single wild reads, then a first-order lag.

use crate::time::Duration;
use crate::units::Celsius;

/// First-order lag whose state keeps 32 fraction bits, so that steps of α = 0.0002 are not lost.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Smoother {
    /// State, 2⁻³² K; [`EMPTY_STATE`] before the first input.
    state: i64,
    /// The step α was computed for, and α in 2⁻³¹.
    step: Duration,
    alpha: i32,
}

/// No temperature: far outside ±32 768 K in 2⁻³² K.
const EMPTY_STATE: i64 = i64::MIN;

impl Smoother {
    pub(crate) const EMPTY: Self = Self {
        state: EMPTY_STATE,
        step: Duration::ZERO,
        alpha: 0,
    };

    /// α = dt / τ, at most 1; backward Euler would be dt / (τ + dt), which differs by less than
    /// dt / 2τ and never leaves the inputs' range either.
    fn alpha(step: Duration, time_constant: Duration) -> i32 {
        let step = u64::from(step.as_millis().min(time_constant.as_millis()));
        let alpha = (step << 31).checked_div(u64::from(time_constant.as_millis()));
        i32::try_from(alpha.unwrap_or(0)).unwrap_or(i32::MAX)
    }

    /// Takes one input that stood for `step`; the first one sets the state.
    pub(crate) fn update(
        &mut self,
        input: Celsius,
        step: Duration,
        time_constant: Duration,
    ) -> Celsius {
        if step != self.step {
            self.step = step;
            self.alpha = Self::alpha(step, time_constant);
        }
        self.state = if self.state == EMPTY_STATE {
            i64::from(input.to_bits()) << 16
        } else {
            // Readings are within ±256 °C, so that in 2⁻²⁰ K all fits into 32 bits; times α in 2⁻³¹ it is
            // 2⁻⁵¹ in 64 bits. With α at most 1 the state stays between the inputs.
            let here = (self.state >> 12) as i32;
            let difference = (input.to_bits() << 4).wrapping_sub(here);
            let change = i64::from(difference).wrapping_mul(i64::from(self.alpha)) >> 19;
            self.state.wrapping_add(change)
        };
        Self::rounded(self.state)
    }

    /// The smoothed value, °C.
    pub(crate) fn value(&self) -> Option<Celsius> {
        (self.state != EMPTY_STATE).then(|| Self::rounded(self.state))
    }

    fn rounded(state: i64) -> Celsius {
        // To the nearest: rounding down could fall a step short of what was read.
        Celsius::from_bits((state.wrapping_add(1 << 15) >> 16) as i32)
    }

    /// Forgets everything; the next input sets the state.
    pub(crate) fn clear(&mut self) {
        self.state = EMPTY_STATE;
    }
}

/// Median of the last five inputs, in 1/128 K.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct MedianOfFive {
    /// Oldest first.
    last: [i16; 5],
    empty: bool,
}

impl MedianOfFive {
    pub(super) const EMPTY: Self = Self {
        last: [0; 5],
        empty: true,
    };

    /// Takes one input and gives the median; the first input fills all five places.
    pub(super) fn update(&mut self, input: i16) -> i16 {
        if self.empty {
            self.empty = false;
            self.last = [input; 5];
        } else {
            let [_, b, c, d, e] = self.last;
            self.last = [b, c, d, e, input];
        }
        median(self.last)
    }

    pub(super) fn clear(&mut self) {
        self.empty = true;
    }
}

/// Median by a seven-exchange network (Knuth, The Art of Computer Programming 3, 5.3.3; from memory).
fn median([a, b, c, d, e]: [i16; 5]) -> i16 {
    let (a, b) = (a.min(b), a.max(b));
    let (d, e) = (d.min(e), d.max(e));
    let (a, d) = (a.min(d), a.max(d)); // a is not above three others
    let (b, e) = (b.min(e), b.max(e)); // e is not below three others
    let _ = (a, e);
    let (b, c) = (b.min(c), b.max(c));
    let (c, d) = (c.min(d), c.max(d));
    let _ = d;
    b.max(c)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Step response against 1 − e^(−t/τ), the closed form of a first-order lag.
    #[test]
    fn a_step_is_followed_as_the_closed_form_says() {
        let tau = Duration::from_hours(12);
        let mut lag = Smoother::EMPTY;
        lag.update(Celsius::ZERO, Duration::from_secs(10), tau);
        for step in 1..=3 * 12 * 360 {
            let y = lag.update(Celsius::from_milli(10_000), Duration::from_secs(10), tau);
            if step % 360 == 0 {
                let t = f64::from(step) / 360.0;
                let closed = 10.0 * (1.0 - (-t / 12.0_f64).exp());
                let got = y.to_fixed().to_num::<f64>();
                assert!((got - closed).abs() < 0.002, "{t} h: {got} for {closed}");
            }
        }
    }

    #[test]
    fn a_tiny_difference_is_still_followed() {
        // 1/128 K through α = 0.000231 is 1.8e-6 K a step: lost with 16 fraction bits.
        let mut lag = Smoother::EMPTY;
        let tau = Duration::from_hours(12);
        lag.update(Celsius::ZERO, Duration::from_secs(10), tau);
        for _ in 0..5 * 12 * 360 {
            lag.update(Celsius::from_128ths(1), Duration::from_secs(10), tau);
        }
        let left = Celsius::from_128ths(1) - lag.value().unwrap();
        assert!(left < Kelvin::from_milli(1), "{left:?}");
    }

    #[test]
    fn what_stays_is_reached_to_the_bit_from_above_and_from_below() {
        let stays = Celsius::from_milli(3_000);
        for start in [Celsius::from_milli(2_000), Celsius::from_milli(4_000)] {
            let (mut lag, step) = (Smoother::EMPTY, Duration::from_secs(10));
            lag.update(start, step, Duration::from_mins(1));
            for _ in 0..200 {
                lag.update(stays, step, Duration::from_mins(1));
            }
            assert_eq!(lag.value(), Some(stays));
        }
    }

    #[test]
    fn the_median_is_of_the_last_five_inputs() {
        let mut median = MedianOfFive::EMPTY;
        let mut last = [0; 5];
        for n in 0..50 {
            let input = n * 37 % 50;
            last.rotate_left(1);
            last[4] = input;
            let mut sorted = last;
            sorted.sort_unstable();
            let middle = median.update(input);
            assert!(n < 4 || middle == sorted[2], "{n}: {middle} of {sorted:?}");
        }
    }

    #[test]
    fn median_equals_sorting_for_every_order() {
        let values = [3, 1, 4, 1, 5, 9, 2, 6];
        for a in values {
            for b in values {
                for c in values {
                    for d in values {
                        for e in values {
                            let mut sorted = [a, b, c, d, e];
                            sorted.sort_unstable();
                            assert_eq!(median([a, b, c, d, e]), sorted[2], "{:?}", [a, b, c, d, e]);
                        }
                    }
                }
            }
        }
    }

    use crate::units::Kelvin;
}
