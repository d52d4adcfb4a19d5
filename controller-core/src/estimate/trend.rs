//! How fast the slab warms or cools: a least-squares line through averages of equal stretches.

use crate::time::Duration;
use crate::units::{Celsius, KelvinPerHour, saturate};

/// Stretches kept; a window of 2 h makes them 3 min long.
const BINS: usize = 40;
/// Marks a stretch without a reading.
const MISSING: i16 = i16::MIN;

/// Length of one stretch for a window.
pub(crate) const fn stretch(window: Duration) -> Duration {
    window.share(1, BINS as u32)
}

/// The last [`BINS`] averages of one temperature.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Trend {
    /// 1/256 K; newest just before `next`.
    bins: [i16; BINS],
    next: u8,
    /// The stretch being filled: sum in 1/256 K, reads, time.
    sum: i32,
    reads: u16,
    filled_for: Duration,
}

impl Trend {
    pub(super) const EMPTY: Self = Self {
        bins: [MISSING; BINS],
        next: 0,
        sum: 0,
        reads: 0,
        filled_for: Duration::ZERO,
    };

    /// Takes one reading that stood for `step`; true when a stretch was completed.
    pub(super) fn update(
        &mut self,
        reading: Option<Celsius>,
        step: Duration,
        width: Duration,
    ) -> bool {
        if let Some(t) = reading {
            self.sum = self.sum.saturating_add(t.to_bits() >> 8);
            self.reads = self.reads.saturating_add(1);
        }
        self.filled_for = self.filled_for + step;
        if self.filled_for < width {
            return false;
        }
        let mean = self
            .sum
            .checked_div(i32::from(self.reads))
            .and_then(|mean| i16::try_from(mean).ok())
            .unwrap_or(MISSING);
        self.push(mean);
        self.filled_for = self.filled_for.saturating_sub(width);
        // A long gap leaves whole stretches empty, at most all of them.
        for _ in 0..BINS {
            if self.filled_for < width {
                break;
            }
            self.push(MISSING);
            self.filled_for = self.filled_for.saturating_sub(width);
        }
        self.sum = 0;
        self.reads = 0;
        true
    }

    fn push(&mut self, mean: i16) {
        if let Some(place) = self.bins.get_mut(usize::from(self.next)) {
            *place = mean;
        }
        self.next = self.next.wrapping_add(1);
        if usize::from(self.next) >= BINS {
            self.next = 0;
        }
    }

    /// Least-squares slope over the latest `time`, at most the whole window; `None` with less than
    /// three quarters of it read. Cost: one pass, one division.
    pub(super) fn slope(&self, time: Duration, width: Duration) -> Option<KelvinPerHour> {
        let wanted = time
            .as_millis()
            .checked_div(width.as_millis())?
            .min(BINS as u32);
        let (newer, older) = self.bins.split_at_checked(usize::from(self.next))?;
        let older_wanted = (wanted as usize).saturating_sub(newer.len());
        let mut sums = Sums::default();
        sums.add(latest(newer, wanted as usize));
        sums.add(latest(older, older_wanted));
        let Sums {
            n, x, xx, y, xy, ..
        } = sums;
        if n < 2 || (n.saturating_mul(4) as i64) < i64::from(wanted).saturating_mul(3) {
            return None;
        }
        let wide = |a: i32, b: i32| i64::from(a).saturating_mul(i64::from(b));
        let covariance = wide(n, xy).saturating_sub(wide(x, y));
        let variance = wide(n, xx).saturating_sub(wide(x, x));
        // Bins count backwards; 1/256 K per bin times 2¹⁶ keeps the division fine.
        let per_bin = covariance
            .saturating_neg()
            .saturating_mul(1 << 16)
            .checked_div(variance)?;
        let per_hour = per_bin
            .saturating_mul(3_600_000)
            .checked_div(i64::from(width.as_millis()))?
            >> 8;
        Some(KelvinPerHour::from_bits(saturate(per_hour)))
    }
}

/// The last `n` of these bins, or all.
fn latest(bins: &[i16], n: usize) -> &[i16] {
    bins.split_at_checked(bins.len().saturating_sub(n))
        .map_or(&[], |(_, latest)| latest)
}

/// Sums over bins counted backwards from the newest. At most [`BINS`] places of 16 bits: none
/// leaves 32 bits.
#[derive(Default)]
struct Sums {
    index: i32,
    n: i32,
    x: i32,
    xx: i32,
    y: i32,
    xy: i32,
}

impl Sums {
    fn add(&mut self, bins: &[i16]) {
        for bin in bins.iter().rev() {
            if *bin != MISSING {
                let (index, value) = (self.index, i32::from(*bin));
                self.n = self.n.wrapping_add(1);
                self.x = self.x.wrapping_add(index);
                self.xx = self.xx.wrapping_add(index.wrapping_mul(index));
                self.y = self.y.wrapping_add(value);
                self.xy = self.xy.wrapping_add(index.wrapping_mul(value));
            }
            self.index = self.index.wrapping_add(1);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WINDOW: Duration = Duration::from_hours(2);
    const STEP: Duration = Duration::from_secs(10);

    fn fed(hours: u32, temperature: impl Fn(f64) -> Option<f64>) -> Trend {
        let mut trend = Trend::EMPTY;
        for n in 0..hours * 360 {
            let t = temperature(f64::from(n) / 360.0);
            let reading = t.map(|t| Celsius::from_bits((t * 65_536.0) as i32));
            trend.update(reading, STEP, stretch(WINDOW));
        }
        trend
    }

    fn slope(trend: &Trend) -> f64 {
        let slope = trend.slope(WINDOW, stretch(WINDOW)).expect("enough read");
        slope.to_bits() as f64 / 65_536.0
    }

    #[test]
    fn a_straight_line_has_its_own_slope() {
        for rate in [-2.0, -0.3, 0.0, 0.05, 1.0] {
            let got = slope(&fed(3, |h| Some(4.0 + rate * h)));
            assert!((got - rate).abs() < 0.004, "{rate}: {got}");
        }
    }

    /// Ordinary least squares in floating point over the same averages.
    #[test]
    fn any_series_has_the_slope_of_ordinary_least_squares() {
        let curve = |h: f64| Some(3.0 + (h * 2.3).sin() + 0.4 * h);
        let trend = fed(5, curve);
        let (mut sx, mut sy, mut sxx, mut sxy, mut n) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for i in 0..7_200 / 10 {
            let h = 3.0 + f64::from(i) / 360.0;
            let y = curve(h).unwrap();
            (sx, sy, sxx, sxy, n) = (sx + h, sy + y, sxx + h * h, sxy + h * y, n + 1.0);
        }
        let closed = (n * sxy - sx * sy) / (n * sxx - sx * sx);
        let got = slope(&trend);
        assert!((got - closed).abs() < 0.02, "{closed}: {got}");
    }

    #[test]
    fn gaps_are_left_out_and_too_many_give_no_slope() {
        let holes = |h: f64| ((h * 10.0) as i32 % 8 != 0).then_some(4.0 - 0.5 * h);
        assert!((slope(&fed(3, holes)) + 0.5).abs() < 0.01);
        let half = fed(3, |h| (h < 2.0).then_some(4.0));
        assert_eq!(half.slope(WINDOW, stretch(WINDOW)), None);
    }

    #[test]
    fn part_of_the_window_is_measured_alone() {
        let bend = fed(4, |h| Some(if h < 3.0 { 4.0 - h } else { 1.0 + (h - 3.0) }));
        let last_hour = bend
            .slope(Duration::from_hours(1), stretch(WINDOW))
            .unwrap();
        assert!((last_hour.to_bits() as f64 / 65_536.0 - 1.0).abs() < 0.05);
    }

    #[test]
    fn a_stall_of_a_day_leaves_nothing_and_costs_no_more_than_the_window() {
        let mut trend = fed(3, |_| Some(4.0));
        trend.update(None, Duration::from_hours(24), stretch(WINDOW));
        assert_eq!(trend.slope(WINDOW, stretch(WINDOW)), None);
    }
}
