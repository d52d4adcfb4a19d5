//! What to go by when sensors are lost: one row for each of the sixteen combinations.
//!
//! Freezing first for the circulator, overheating first for the boiler: with little known the
//! circulator runs and the boiler does not. The same table, with its reasons, is in
//! `docs/control-rules.md`.

use crate::sensor::{BySensor, Reading};
use crate::time::Duration;
use crate::units::Celsius;

/// How a run's worth is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Worth {
    /// Supply less return.
    Difference,
    /// Return less slab, through the loop's yield.
    Return,
    /// Supply less slab, through the loop's yield.
    Supply,
    /// Not at all: the slab thermostat alone.
    Unjudged,
}

/// Where the slab's temperature comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SlabFrom {
    /// Its sensor.
    Sensor,
    /// Its water.
    Water,
}

/// When the circulator runs whatever the slab says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Always {
    /// Never.
    Never,
    /// In winter.
    Winter,
    /// While the outdoor mean is below this, °C.
    OutdoorBelow(Celsius),
    /// While the slab's water is below this or unknown, °C, in winter.
    WaterBelow(Celsius),
    /// While the purged supply is at least this, °C, in winter.
    SupplyAbove(Celsius),
}

/// A run repeated by the clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Timed {
    /// Time running.
    pub on: Duration,
    /// Time at rest.
    pub off: Duration,
    /// Only while the outdoor mean is below this, or unknown, °C.
    pub outdoor_below: Celsius,
}

/// What may call the boiler.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CallOn {
    /// All of the rules: emergency, not holding, cold outdoors and not holding.
    Everything,
    /// Emergency and not holding, by the slab.
    Slab,
    /// The slab's water at the backup temperature, or the outdoor mean below its own.
    WaterOrOutdoor,
    /// The slab's water alone.
    Water,
    /// The outdoor mean alone.
    Outdoor,
    /// A return below 3 °C.
    ColdReturn,
    /// A supply below 5 °C with the earth alone, in winter.
    ColdSupply,
    /// Nothing known: by the clock, if the owner set it.
    Blind,
}

/// How the boiler may be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Call {
    /// On what.
    pub on: CallOn,
    /// Only with a tested independent hard limit.
    pub needs_hard_limit: bool,
    /// Largest share of time, in hundredths.
    pub duty_percent: u8,
    /// Supply an injection aims for at most, °C.
    pub supply_target: Celsius,
    /// Supply that ends a call at most, °C.
    pub supply_soft: Celsius,
    /// Return that ends a call, °C.
    pub return_stop: Option<Celsius>,
}

/// One row of the matrix.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Row {
    /// How worth is judged.
    pub worth: Worth,
    /// Where the slab's temperature comes from.
    pub slab: SlabFrom,
    /// When the circulator always runs.
    pub always: Always,
    /// Otherwise by the clock, if so.
    pub timed: Option<Timed>,
    /// Supply, after the purge, below which the circulator rests, °C.
    pub supply_stop: Option<Celsius>,
    /// Shortest run is half an hour.
    pub long_runs: bool,
    /// The boiler.
    pub call: Call,
}

const fn c(celsius: i32) -> Celsius {
    Celsius::from_milli(celsius.saturating_mul(1_000))
}
const fn m(minutes: u32) -> Duration {
    Duration::from_mins(minutes)
}
/// So warm that it never binds.
const ANY: Celsius = c(1_000);
/// Ten minutes an hour.
const TEN_OF_SIXTY: u8 = 16;

const fn every(on: u32, off: u32, outdoor_below: Celsius) -> Option<Timed> {
    Some(Timed {
        on: m(on),
        off: m(off),
        outdoor_below,
    })
}

const NORMAL: Row = Row {
    worth: Worth::Difference,
    slab: SlabFrom::Sensor,
    always: Always::Never,
    timed: None,
    supply_stop: None,
    long_runs: false,
    call: call(CallOn::Everything, 100, ANY, ANY),
};

/// A call allowed without an independent limit.
const fn call(on: CallOn, duty_percent: u8, supply_target: Celsius, supply_soft: Celsius) -> Call {
    Call {
        on,
        needs_hard_limit: false,
        duty_percent,
        supply_target,
        supply_soft,
        return_stop: None,
    }
}

/// A call without a supply reading: only behind a tested limit, ten minutes an hour.
const fn blind(on: CallOn, return_stop: Option<Celsius>) -> Call {
    Call {
        on,
        needs_hard_limit: true,
        duty_percent: TEN_OF_SIXTY,
        supply_target: ANY,
        supply_soft: ANY,
        return_stop,
    }
}

/// Bits of the table's index.
pub(crate) const SUPPLY: u8 = 1;
pub(crate) const RETURN: u8 = 2;
pub(crate) const SLAB: u8 = 4;
pub(crate) const OUTDOOR: u8 = 8;

/// Indexed by the lost sensors: supply 1, return 2, slab 4, outdoor 8.
#[rustfmt::skip]
const MATRIX: [Row; 16] = [
    /* none    */ NORMAL,
    /* S       */ Row { worth: Worth::Return, call: blind(CallOn::Slab, Some(c(25))), ..NORMAL },
    /* R       */ Row { worth: Worth::Supply, call: call(CallOn::Everything, 50, c(30), c(35)), ..NORMAL },
    /* S+R     */ Row { worth: Worth::Unjudged, long_runs: true, call: blind(CallOn::Slab, None), ..NORMAL },
    /* L       */ Row { slab: SlabFrom::Water, always: Always::OutdoorBelow(c(0)), timed: every(15, 30, c(5)), call: call(CallOn::WaterOrOutdoor, 50, c(30), ANY), ..NORMAL },
    /* S+L     */ Row { worth: Worth::Unjudged, slab: SlabFrom::Water, always: Always::OutdoorBelow(c(-5)), timed: every(15, 15, c(5)), call: blind(CallOn::Water, Some(c(25))), ..NORMAL },
    /* R+L     */ Row { worth: Worth::Unjudged, slab: SlabFrom::Water, always: Always::OutdoorBelow(c(3)), timed: every(15, 45, ANY), supply_stop: Some(c(1)), call: call(CallOn::Outdoor, 30, c(30), ANY), ..NORMAL },
    /* S+R+L   */ Row { worth: Worth::Unjudged, slab: SlabFrom::Water, always: Always::OutdoorBelow(c(3)), timed: every(15, 45, ANY), call: blind(CallOn::Outdoor, None), ..NORMAL },
    /* O       */ Row { call: call(CallOn::Slab, 100, ANY, ANY), ..NORMAL },
    /* S+O     */ Row { worth: Worth::Return, call: blind(CallOn::Slab, Some(c(25))), ..NORMAL },
    /* R+O     */ Row { worth: Worth::Supply, call: call(CallOn::Slab, 50, c(30), c(35)), ..NORMAL },
    /* S+R+O   */ Row { worth: Worth::Unjudged, long_runs: true, call: blind(CallOn::Slab, None), ..NORMAL },
    /* L+O     */ Row { slab: SlabFrom::Water, always: Always::WaterBelow(c(5)), timed: every(15, 30, ANY), call: call(CallOn::Water, 50, c(30), ANY), ..NORMAL },
    /* S+L+O   */ Row { worth: Worth::Unjudged, slab: SlabFrom::Water, always: Always::WaterBelow(c(3)), timed: every(15, 15, ANY), call: blind(CallOn::ColdReturn, Some(c(25))), ..NORMAL },
    /* R+L+O   */ Row { worth: Worth::Unjudged, slab: SlabFrom::Water, always: Always::SupplyAbove(c(1)), timed: every(15, 45, ANY), supply_stop: Some(c(1)), call: call(CallOn::ColdSupply, 20, c(30), ANY), ..NORMAL },
    /* all     */ Row { worth: Worth::Unjudged, slab: SlabFrom::Water, always: Always::Winter, timed: every(15, 45, ANY), call: blind(CallOn::Blind, None), ..NORMAL },
];

/// Which sensors are lost, as the table's index.
#[must_use]
pub fn lost(readings: &BySensor<Reading>) -> u8 {
    let bit = |reading: &Reading, bit| if reading.is_lost() { bit } else { 0 };
    bit(&readings.supply, SUPPLY)
        | bit(&readings.ret, RETURN)
        | bit(&readings.slab, SLAB)
        | bit(&readings.outdoor, OUTDOOR)
}

/// The row for a set of lost sensors.
#[must_use]
pub fn row(lost: u8) -> &'static Row {
    const ROWS: &[Row; 16] = &MATRIX;
    ROWS.get(usize::from(lost & 15)).unwrap_or(&ROWS[15])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_row_without_a_supply_reading_calls_for_heat_without_a_tested_limit() {
        for lost in 0..16 {
            if lost & SUPPLY != 0 {
                assert!(row(lost).call.needs_hard_limit, "{lost:04b}");
                assert!(row(lost).call.duty_percent <= 16, "{lost:04b}");
            }
        }
    }

    #[test]
    fn losing_one_more_sensor_never_frees_the_boiler() {
        for lost in 0..16_u8 {
            for more in [SUPPLY, RETURN, SLAB, OUTDOOR] {
                let (before, after) = (row(lost).call, row(lost | more).call);
                assert!(
                    after.duty_percent <= before.duty_percent,
                    "{lost:04b} + {more:04b}"
                );
                assert!(
                    after.needs_hard_limit >= before.needs_hard_limit,
                    "{lost:04b} + {more:04b}"
                );
            }
        }
    }

    #[test]
    fn without_a_slab_reading_something_else_keeps_the_circulator_going() {
        for lost in 0..16_u8 {
            if lost & SLAB != 0 {
                let row = row(lost);
                assert!(
                    row.always != Always::Never && row.timed.is_some(),
                    "{lost:04b}"
                );
                assert_eq!(row.slab, SlabFrom::Water);
            }
        }
    }

    #[test]
    fn what_is_lost_is_not_gone_by() {
        for lost in 0..16_u8 {
            let row = row(lost);
            let gone = |sensors| lost & sensors == sensors;
            // A run's worth takes one pipe and the slab, or both pipes.
            let judged = match gone(SLAB) {
                true => lost & (SUPPLY | RETURN) == 0,
                false => !gone(SUPPLY | RETURN),
            };
            assert_eq!(row.worth != Worth::Unjudged, judged, "{lost:04b}");
            let by_weather = matches!(
                row.call.on,
                CallOn::Everything | CallOn::WaterOrOutdoor | CallOn::Outdoor
            );
            assert!(!by_weather || !gone(OUTDOOR), "{lost:04b}");
            let supply_alone = gone(RETURN | SLAB) && !gone(SUPPLY);
            assert_eq!(row.supply_stop.is_some(), supply_alone, "{lost:04b}");
        }
    }
}
