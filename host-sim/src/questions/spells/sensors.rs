//! What a unit's four sensors read in a spell: the plant's readings, but for those of wrong sensors.

use controller_core::sensor::{BySensor, Sample, Sensor};

use super::draw::Draw;
use super::faults::Does;
use super::plan::{Fault, Plan};
use super::tamper::{Surroundings, Tamper};
use crate::sim::closed_loop::{Stretch, framed};
use crate::sim::plant::Plant;

/// The sensors, with what is wrong with them.
pub(super) struct Sensors<'a> {
    wrong: Vec<Wrong<'a>>,
}

struct Wrong<'a> {
    fault: &'a Fault,
    tamper: Tamper,
    draw: Draw,
}

impl<'a> Sensors<'a> {
    pub(super) fn new(plan: &'a Plan) -> Self {
        let is_sensors =
            |fault: &Fault| matches!(fault.kind.does, Does::Lie(_) | Does::Exchange(..));
        let wrong = |(index, fault)| Wrong {
            fault,
            tamper: Tamper::new(),
            draw: Draw::for_fault(plan.seed, index),
        };
        let numbered = plan.faults.iter().enumerate();
        Self {
            wrong: numbered
                .filter(|(_, fault)| is_sensors(fault))
                .map(wrong)
                .collect(),
        }
    }

    /// What is read so many seconds into a stretch.
    pub(super) fn read(
        &mut self,
        into_s: f64,
        stretch: &Stretch,
        plant: &mut Plant,
    ) -> BySensor<Sample> {
        let readings = plant.read_at(into_s);
        let mut samples = [
            readings.supply_c,
            readings.return_c,
            readings.slab_c,
            readings.outdoor_c,
        ]
        .map(framed);
        for wrong in &mut self.wrong {
            if !wrong.fault.is_on(stretch.from_s) {
                continue;
            }
            match (wrong.fault.kind.does, wrong.fault.sensor) {
                (Does::Exchange(a, b), _) => samples.swap(a as usize, b as usize),
                (Does::Lie(lie), Some(sensor)) => {
                    let around = Surroundings {
                        readings: &readings,
                        sun_w: stretch.outdoor.solar_incident_w,
                        now_s: stretch.from_s as f64 + into_s,
                        from_s: wrong.fault.from_s as f64,
                    };
                    let (values, sample) = (wrong.fault.values, &mut samples[sensor as usize]);
                    *sample = wrong
                        .tamper
                        .read(lie, values, *sample, &around, &mut wrong.draw);
                }
                _ => {}
            }
        }
        let of = |sensor: Sensor| samples[sensor as usize];
        BySensor {
            supply: of(Sensor::Supply),
            ret: of(Sensor::Return),
            slab: of(Sensor::Slab),
            outdoor: of(Sensor::Outdoor),
        }
    }
}
