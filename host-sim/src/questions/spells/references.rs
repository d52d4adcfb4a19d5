//! What a spell is compared with: controls too simple to be misled. They read the truth, so no sensor's fault reaches
//! them; the plant's faults, the weather and the power cuts do.

use super::run::Steers;
use crate::sim::closed_loop::Stretch;
use crate::sim::plant::{Plant, Relays};

/// A reference.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Reference {
    /// Thermostats on the true slab: circulator and boiler.
    Plain,
    /// The circulator without pause, no boiler.
    AlwaysOn,
    /// No circulator, no boiler.
    Nothing,
}

/// Slab at which the plain control's circulator starts and stops, °C. The limits are those of the default settings'
/// band; all of these are judgement.
const CIRCULATOR_C: [f64; 2] = [3.5, 4.5];
/// Slab at which its call begins and ends, °C.
const CALL_C: [f64; 2] = [2.0, 3.5];
/// The coldest zone counts with so much added, K: a slab's edge is colder than its middle.
const ZONE_K: f64 = 0.3;
/// Water colder than this is moved, °C.
const COLD_PIPE_C: f64 = 2.0;
/// Water warmer than this is moved on, °C, and warmer than that ends a call.
const WARM_PIPE_C: f64 = 30.0;
const HOT_PIPE_C: f64 = 45.0;

/// A reference at work.
pub(super) struct Simple {
    reference: Reference,
    has_boiler: bool,
    circulator: bool,
    call: bool,
}

impl Simple {
    pub(super) fn new(reference: Reference, has_boiler: bool) -> Self {
        Self {
            reference,
            has_boiler,
            circulator: false,
            call: false,
        }
    }
}

/// On at or below the first, off at or above the second.
fn between(on: bool, t_c: f64, limits_c: [f64; 2]) -> bool {
    if on {
        t_c < limits_c[1]
    } else {
        t_c <= limits_c[0]
    }
}

impl Steers for Simple {
    fn steer(&mut self, _: &Stretch, plant: &mut Plant) -> Relays {
        let circulator = match self.reference {
            Reference::Nothing => return Relays::default(),
            Reference::AlwaysOn => true,
            Reference::Plain => {
                let (supply_c, return_c, slab_c) = {
                    let truth = plant.truth();
                    (truth.supply_c, truth.return_c, truth.slab_c)
                };
                let slab_c = slab_c.min(plant.slab_min_c() + ZONE_K);
                self.circulator = between(self.circulator, slab_c, CIRCULATOR_C);
                self.call = self.has_boiler && between(self.call, slab_c, CALL_C);
                let moves = supply_c.min(return_c) < COLD_PIPE_C || supply_c > WARM_PIPE_C;
                return Relays {
                    circulator: self.circulator || self.call || moves,
                    boiler_call: self.call && supply_c < HOT_PIPE_C,
                };
            }
        };
        Relays {
            circulator,
            boiler_call: false,
        }
    }
}
