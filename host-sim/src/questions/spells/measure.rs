//! What a spell came to in the house, counted from the model's truth.

use serde::{Deserialize, Serialize};

use crate::sim::plant::{Plant, Relays, TrueState};

/// Slab temperature that must hold, °C: the default settings' target.
const TARGET_C: f64 = 1.5;
/// Supply at the slab that harms tube and screed in the long run, °C (EN 1264-4 asks for at most 55 °C in cement screeds).
const HOT_C: f64 = 50.0;
/// The first day is the start's, not the control's, s.
const SETTLING_S: u64 = 86_400;
const JOULES_PER_KWH: f64 = 3.6e6;

/// One run of a spell.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// Coldest slab zone after the first day, °C.
    pub slab_min_c: f64,
    /// When that was, d.
    pub slab_min_d: f64,
    /// When a slab zone was first below 0 °C, h.
    pub below_0_from_h: Option<f64>,
    /// Time with a slab zone below 0 °C, h.
    pub below_0_h: f64,
    /// Slab at its sensor below 1.5 °C, K·h.
    pub below_target_kh: f64,
    /// Largest share of ice in any length of tube, 0..1.
    pub ice: f64,
    /// A tube froze solid.
    pub damaged: bool,
    /// Time with water above 50 °C entering the slab, h.
    pub supply_over_50_h: f64,
    /// Wood burnt, kg.
    pub wood_kg: f64,
    /// Heat the boiler gave to the water, kWh.
    pub boiler_kwh: f64,
    /// Electricity of the circulator, kWh.
    pub pump_kwh: f64,
    /// Circulator starts asked for.
    pub starts: u32,
    /// Boiler calls.
    pub calls: u32,
    /// Longest stretch of a call in which no water moved, min.
    pub call_without_flow_min: f64,
}

/// To four places: what is written is what was counted, to the bit, after reading it again.
pub(super) fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}

/// Counts as the run goes.
#[derive(Clone, Debug)]
pub(super) struct Meter {
    sums: Measured,
    without_flow_s: u64,
    longest_without_flow_s: u64,
    below_0_s: u64,
    hot_s: u64,
}

impl Meter {
    pub(super) fn new() -> Self {
        Self {
            sums: Measured {
                slab_min_c: f64::INFINITY,
                ..Measured::default()
            },
            without_flow_s: 0,
            longest_without_flow_s: 0,
            below_0_s: 0,
            hot_s: 0,
        }
    }

    /// A stretch that ended in this state with the relays as they were asked for.
    pub(super) fn stretch(&mut self, now_s: u64, length_s: u64, truth: &TrueState, relays: Relays) {
        let sums = &mut self.sums;
        let end_s = now_s + length_s;
        if now_s >= SETTLING_S {
            if truth.slab_min_c < sums.slab_min_c {
                sums.slab_min_c = truth.slab_min_c;
                sums.slab_min_d = end_s as f64 / 86_400.0;
            }
            if truth.slab_min_c < 0.0 {
                self.below_0_s += length_s;
                sums.below_0_from_h
                    .get_or_insert(rounded(now_s as f64 / 3_600.0));
            }
            let short_k = (TARGET_C - truth.slab_sensor_c).max(0.0);
            sums.below_target_kh += short_k * length_s as f64 / 3_600.0;
        }
        sums.ice = sums.ice.max(truth.ice_fraction);
        sums.damaged |= truth.frozen;
        if truth.flow_l_s > 0.0 && truth.supply_c > HOT_C {
            self.hot_s += length_s;
        }
        if relays.boiler_call && truth.flow_l_s <= 0.0 {
            self.without_flow_s += length_s;
            self.longest_without_flow_s = self.longest_without_flow_s.max(self.without_flow_s);
        } else {
            self.without_flow_s = 0;
        }
    }

    /// The relays change.
    pub(super) fn relays(&mut self, before: Relays, after: Relays) {
        self.sums.starts += u32::from(after.circulator && !before.circulator);
        self.sums.calls += u32::from(after.boiler_call && !before.boiler_call);
    }

    pub(super) fn finish(self, plant: &Plant) -> Measured {
        let ledger = plant.ledger();
        Measured {
            slab_min_c: rounded(self.sums.slab_min_c),
            slab_min_d: rounded(self.sums.slab_min_d),
            below_0_h: rounded(self.below_0_s as f64 / 3_600.0),
            below_target_kh: rounded(self.sums.below_target_kh),
            ice: rounded(self.sums.ice),
            supply_over_50_h: rounded(self.hot_s as f64 / 3_600.0),
            wood_kg: rounded(plant.true_state().wood_kg),
            boiler_kwh: rounded(ledger.boiler_j / JOULES_PER_KWH),
            pump_kwh: rounded(ledger.pump_j / JOULES_PER_KWH),
            call_without_flow_min: rounded(self.longest_without_flow_s as f64 / 60.0),
            ..self.sums
        }
    }
}
