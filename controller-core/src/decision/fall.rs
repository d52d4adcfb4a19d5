//! How fast the slab falls while nothing warms it.

use super::fire::quotient;
use crate::time::Duration;
use crate::units::{Celsius, KelvinPerHour};

/// A fall is measured over this long. Status: judgement; a reading's step of 1/16 K is 0.1 K/h over it.
const MEASURED_OVER: Duration = Duration::from_mins(30);
/// A slab that seems to fall faster is read by another sensor than before. Status: judgement.
const MOST: KelvinPerHour = KelvinPerHour::from_milli(2_000);

/// Memory of a fall.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Fall {
    from: Option<Celsius>,
    measured_for: Duration,
    per_hour: Option<KelvinPerHour>,
}

impl Fall {
    pub(super) const UNKNOWN: Self = Self {
        from: None,
        measured_for: Duration::ZERO,
        per_hour: None,
    };

    /// `step` since the last time; `slab`: only while nothing warms it.
    pub(super) fn update(&mut self, slab: Option<Celsius>, step: Duration) {
        self.measured_for = self.measured_for + step;
        let (Some(from), Some(now)) = (self.from, slab) else {
            (self.from, self.measured_for) = (slab, Duration::ZERO);
            return;
        };
        if self.measured_for < MEASURED_OVER {
            return;
        }
        let per_hour = quotient(from - now, self.measured_for.hours(), 1 << 16);
        let per_hour = KelvinPerHour::from_bits(i32::try_from(per_hour).unwrap_or(i32::MAX));
        self.per_hour = Some(per_hour.min(MOST));
        (self.from, self.measured_for) = (slab, Duration::ZERO);
    }

    /// As last measured; zero for a slab that rose.
    pub(super) const fn per_hour(&self) -> Option<KelvinPerHour> {
        self.per_hour
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fall_is_that_of_the_last_half_hour() {
        let mut fall = Fall::UNKNOWN;
        let mut after = |minutes: u32, slab: Option<i32>| {
            fall.update(slab.map(Celsius::from_milli), Duration::from_mins(minutes));
            fall.per_hour()
                .map(|rate| (f64::from(rate.to_bits()) / 65_536.0 * 100.0).round())
        };
        assert_eq!(after(1, Some(4_000)), None);
        assert_eq!(after(15, Some(3_900)), None);
        assert_eq!(after(15, Some(3_800)), Some(40.0));
        // Warmed meanwhile: it begins anew, and the last value stays.
        assert_eq!(after(20, None), Some(40.0));
        assert_eq!(after(20, Some(3_000)), Some(40.0));
        assert_eq!(after(30, Some(3_100)), Some(0.0));
        assert_eq!(after(60, Some(-9_000)), Some(200.0));
    }
}
