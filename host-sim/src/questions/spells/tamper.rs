//! What a wrong sensor gives in place of what it should.

use controller_core::sensor::{ReadFault, Sample};
use controller_core::units::Celsius;

use super::draw::Draw;
use super::faults::Lie;
use crate::sim::closed_loop::framed;
use crate::sim::plant::Readings;
use crate::sim::plant::sensors::nearest;

/// Sun on all glazing taken as full, W. Status: judgement; a bright winter noon on the demo house.
const FULL_SUN_W: f64 = 8_000.0;
/// Reads of one cycle: a garbled frame is asked for again.
const READS: u32 = 4;
/// Most a drift comes to, K.
const MOST_DRIFT_K: f64 = 6.0;
/// Step of a digital sensor, as parts of a kelvin.
const STEPS_A_KELVIN: f64 = 16.0;
/// The power-on value of a digital sensor, °C (data sheet of the usual parts).
const POWER_ON_C: i16 = 85;
/// The temperature a sensor with a wrong slope still shows right, °C.
const PIVOT_C: f64 = 25.0;

/// Memory of one wrong sensor.
#[derive(Clone, Debug)]
pub(super) struct Tamper {
    held_c: Option<f64>,
    last_s: Option<f64>,
    until_s: f64,
    fails: bool,
}

/// What is true while a sensor is read.
pub(super) struct Surroundings<'a> {
    /// What right sensors show.
    pub readings: &'a Readings,
    /// Sun on the glazing, W.
    pub sun_w: f64,
    /// Now, s since the beginning.
    pub now_s: f64,
    /// When the fault began.
    pub from_s: f64,
}

fn stepped(celsius: f64) -> Sample {
    framed(nearest(celsius * STEPS_A_KELVIN) / STEPS_A_KELVIN)
}

impl Tamper {
    pub(super) fn new() -> Self {
        Self {
            held_c: None,
            last_s: None,
            until_s: 0.0,
            fails: false,
        }
    }

    /// What is read in place of `sample`.
    pub(super) fn read(
        &mut self,
        lie: Lie,
        values: [f64; 2],
        sample: Sample,
        around: &Surroundings<'_>,
        draw: &mut Draw,
    ) -> Sample {
        let (Sample::Framed(t) | Sample::Value(t)) = sample else {
            return sample;
        };
        let t = f64::from(t.to_128ths()) / 128.0;
        let dt_s = self.last_s.map_or(0.0, |last| around.now_s - last);
        self.last_s = Some(around.now_s);
        let since_d = (around.now_s - around.from_s) / 86_400.0;
        let [first, second] = values;
        match lie {
            Lie::Open => Sample::Failed(ReadFault::Absent),
            Lie::Short => Sample::Failed(ReadFault::Short),
            Lie::Missing => Sample::Failed(ReadFault::Missing),
            Lie::Checksum => {
                let all_fail = (0..READS).all(|_| draw.percent(first));
                fail(all_fail, ReadFault::Checksum, sample)
            }
            Lie::PowerOn => fail(draw.percent(first), ReadFault::PowerOn, sample),
            Lie::PowerOnUntold => {
                let shown = if draw.percent(first) {
                    f64::from(POWER_ON_C)
                } else {
                    t
                };
                Sample::Value(Celsius::from_128ths(nearest(shown * 128.0) as i16))
            }
            Lie::Stuck => framed(*self.held_c.get_or_insert(t)),
            Lie::StuckDither => {
                let held_c = *self.held_c.get_or_insert(t);
                stepped(held_c + draw.normal() * first)
            }
            Lie::Offset => framed(t + first),
            Lie::Drift => framed(t + (first * since_d).clamp(-MOST_DRIFT_K, MOST_DRIFT_K)),
            Lie::Gain => framed(PIVOT_C + (t - PIVOT_C) * first),
            Lie::Noise => framed(t + draw.normal() * first),
            Lie::Dropout => fail(draw.percent(first), ReadFault::Missing, sample),
            Lie::Intermittent => {
                if around.now_s >= self.until_s {
                    self.fails = !self.fails;
                    let mean_s = if self.fails { first } else { second };
                    self.until_s = around.now_s + draw.waiting(mean_s);
                }
                fail(self.fails, ReadFault::Absent, sample)
            }
            Lie::Constant => stepped(first + draw.normal() * 0.05),
            Lie::Air => framed(around.readings.air_c),
            Lie::Store => framed(around.readings.store_c),
            Lie::Outdoor => framed(around.readings.outdoor_c),
            Lie::Sunlit => framed(t + first * (around.sun_w / FULL_SUN_W).min(1.0)),
            Lie::Lag => {
                let held_c = self.held_c.get_or_insert(t);
                *held_c += (t - *held_c) * -libm::expm1(-dt_s / (first * 3_600.0));
                framed(*held_c)
            }
            Lie::Spikes if draw.percent(first) => framed(t + second),
            Lie::Spikes => sample,
            Lie::ComingLoose => {
                let share = (since_d / first).min(1.0);
                framed(t + (around.readings.air_c - t) * share)
            }
        }
    }
}

fn fail(fails: bool, fault: ReadFault, otherwise: Sample) -> Sample {
    if fails {
        Sample::Failed(fault)
    } else {
        otherwise
    }
}
