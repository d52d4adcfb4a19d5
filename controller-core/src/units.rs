//! Temperatures, differences and rates as fixed-point numbers.
//!
//! A point on the temperature scale and a difference of two points are different types: two points
//! do not add.
//!
//! ```compile_fail
//! use controller_core::units::Celsius;
//! let nonsense = Celsius::from_milli(4_000) + Celsius::from_milli(1_500);
//! ```
//!
//! All arithmetic saturates; nothing here can panic or wrap.

use core::ops::{Add, Neg, Sub};

use fixed::types::I16F16;

use crate::time::Duration;

/// Thousandths to 1/65536, rounded half away from zero.
const fn milli_bits(milli: i32) -> i32 {
    let scaled = (milli as i64).saturating_mul(131_072);
    let half = if milli < 0 { -1_000 } else { 1_000 };
    let bits = scaled.saturating_add(half) / 2_000;
    if bits > i32::MAX as i64 {
        i32::MAX
    } else if bits < i32::MIN as i64 {
        i32::MIN
    } else {
        bits as i32
    }
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        pub struct $name(i32);

        impl $name {
            /// Zero of the unit.
            pub const ZERO: Self = Self(0);

            /// From thousandths of the unit, rounded to the nearest 1/65536.
            #[must_use]
            pub const fn from_milli(milli: i32) -> Self {
                Self(milli_bits(milli))
            }

            /// From 1/65536 of the unit.
            #[must_use]
            pub const fn from_bits(bits: i32) -> Self {
                Self(bits)
            }

            /// In 1/65536 of the unit.
            #[must_use]
            pub const fn to_bits(self) -> i32 {
                self.0
            }

            /// As a plain fixed-point number.
            #[must_use]
            pub const fn to_fixed(self) -> I16F16 {
                I16F16::from_bits(self.0)
            }

            /// From a plain fixed-point number.
            #[must_use]
            pub const fn from_fixed(number: I16F16) -> Self {
                Self(number.to_bits())
            }
        }
    };
}

quantity!(
    /// A temperature, °C. Range ±32 767 °C, resolution 1/65536 K.
    Celsius
);
quantity!(
    /// A temperature difference, K. Same range and resolution as [`Celsius`].
    Kelvin
);
quantity!(
    /// A rate of change of temperature, K/h.
    KelvinPerHour
);
quantity!(
    /// A plain number without unit: a share, a gain, a ratio.
    Ratio
);
quantity!(
    /// A heat flow or electric power, W.
    Watts
);
quantity!(
    /// A volume flow, mL/s (60 mL/s is 0.060 L/s).
    MillilitresPerSecond
);
quantity!(
    /// A specific heat, J/(kg K).
    JoulesPerKilogramKelvin
);
quantity!(
    /// An energy, kWh.
    KilowattHours
);

impl Celsius {
    /// From 1/128 K, the resolution at which readings enter and are logged.
    #[must_use]
    pub const fn from_128ths(n: i16) -> Self {
        Self((n as i32) << 9)
    }

    /// In 1/128 K, rounded down; exact for whatever came from [`Celsius::from_128ths`].
    #[must_use]
    pub const fn to_128ths(self) -> i16 {
        let n = self.0 >> 9;
        if n > i16::MAX as i32 {
            i16::MAX
        } else if n < i16::MIN as i32 {
            i16::MIN
        } else {
            n as i16
        }
    }
}

impl Kelvin {
    /// The size of the difference.
    #[must_use]
    pub const fn abs(self) -> Self {
        Self(self.0.saturating_abs())
    }

    /// Half the difference, rounded down.
    #[must_use]
    pub const fn half(self) -> Self {
        Self(self.0 >> 1)
    }

    /// The difference times a plain number.
    #[must_use]
    pub fn scaled(self, factor: Ratio) -> Self {
        Self(product(self.0, factor.0))
    }

    /// This difference as a share of another; `None` if the other is zero or the share overflows.
    #[must_use]
    pub fn over(self, other: Self) -> Option<Ratio> {
        self.to_fixed()
            .checked_div(other.to_fixed())
            .map(Ratio::from_fixed)
    }
}

impl KelvinPerHour {
    /// The change over a time, K, saturating.
    #[must_use]
    pub fn during(self, time: Duration) -> Kelvin {
        Kelvin(product(self.0, time.hours()))
    }
}

/// Product of two numbers with 16 fraction bits, rounded down, saturating.
pub(crate) fn product(a: i32, b: i32) -> i32 {
    saturate(i64::from(a).wrapping_mul(i64::from(b)) >> 16) // 32 bits by 32 fit into 64
}

/// Clamps to the range of an `i32`.
pub(crate) const fn saturate(n: i64) -> i32 {
    if n > i32::MAX as i64 {
        i32::MAX
    } else if n < i32::MIN as i64 {
        i32::MIN
    } else {
        n as i32
    }
}

impl Sub for Celsius {
    type Output = Kelvin;
    fn sub(self, other: Self) -> Kelvin {
        Kelvin(self.0.saturating_sub(other.0))
    }
}

impl Add<Kelvin> for Celsius {
    type Output = Self;
    fn add(self, difference: Kelvin) -> Self {
        Self(self.0.saturating_add(difference.0))
    }
}

impl Sub<Kelvin> for Celsius {
    type Output = Self;
    fn sub(self, difference: Kelvin) -> Self {
        Self(self.0.saturating_sub(difference.0))
    }
}

impl Add for Kelvin {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for Kelvin {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl Neg for Kelvin {
    type Output = Self;
    fn neg(self) -> Self {
        Self(self.0.saturating_neg())
    }
}

impl Sub<KelvinPerHour> for KelvinPerHour {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousandths_round_to_the_nearest_step() {
        assert_eq!(Celsius::from_milli(1_500).to_bits(), 98_304);
        assert_eq!(Celsius::from_milli(1_800).to_bits(), 117_965); // 117 964.8
        assert_eq!(Celsius::from_milli(-1_800).to_bits(), -117_965);
        assert_eq!(Celsius::from_milli(0), Celsius::ZERO);
    }

    #[test]
    fn readings_keep_their_128ths() {
        for n in [i16::MIN, -1, 0, 1, 10_880, i16::MAX] {
            assert_eq!(Celsius::from_128ths(n).to_128ths(), n);
        }
        assert_eq!(Celsius::from_128ths(10_880), Celsius::from_milli(85_000));
    }

    #[test]
    fn arithmetic_saturates() {
        let top = Celsius::from_bits(i32::MAX);
        assert_eq!(top + Kelvin::from_milli(1_000), top);
        assert_eq!((top - Celsius::from_bits(i32::MIN)).to_bits(), i32::MAX);
        assert_eq!(Kelvin::from_bits(i32::MIN).abs().to_bits(), i32::MAX);
    }

    #[test]
    fn a_rate_over_a_time_is_a_difference() {
        let rate = KelvinPerHour::from_milli(-500);
        assert_eq!(
            rate.during(Duration::from_hours(4)),
            Kelvin::from_milli(-2_000)
        );
        assert_eq!(rate.during(Duration::ZERO), Kelvin::ZERO);
    }
}
