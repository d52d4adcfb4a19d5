//! What a spell came to in the house, counted from the model's truth.

use serde::{Deserialize, Serialize};

use crate::sim::closed_loop::Stretch;
use crate::sim::plant::Plant;
use crate::sim::tally::Tally;

/// Slab temperature that must hold, °C: the default settings' target.
const TARGET_C: f64 = 1.5;
/// Supply at the slab that harms tube and screed in the long run, °C (EN 1264-4 asks for at most 55 °C in cement screeds).
const HOT_C: f64 = 50.0;
/// The first day is the start's, not the control's, s.
const SETTLING_S: u64 = 86_400;

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

/// Counts as the run goes: the house's own account, and what only a fault brings about.
#[derive(Clone, Debug)]
pub(super) struct Meter {
    tally: Tally,
    ice: f64,
    damaged: bool,
    without_flow_s: u64,
    longest_without_flow_s: u64,
    hot_s: u64,
}

impl Meter {
    pub(super) fn new(plant: &Plant) -> Self {
        Self {
            tally: Tally::new(plant, TARGET_C).settled_at(SETTLING_S),
            ice: 0.0,
            damaged: false,
            without_flow_s: 0,
            longest_without_flow_s: 0,
            hot_s: 0,
        }
    }

    /// A stretch, with the house at its end.
    pub(super) fn add(&mut self, stretch: &Stretch, plant: &Plant) {
        self.tally.add(stretch, plant);
        let truth = plant.true_state();
        self.ice = self.ice.max(truth.ice_fraction);
        self.damaged |= truth.frozen;
        if truth.flow_l_s > 0.0 && truth.supply_c > HOT_C {
            self.hot_s += stretch.length_s;
        }
        if stretch.relays.boiler_call && truth.flow_l_s <= 0.0 {
            self.without_flow_s += stretch.length_s;
            self.longest_without_flow_s = self.longest_without_flow_s.max(self.without_flow_s);
        } else {
            self.without_flow_s = 0;
        }
    }

    pub(super) fn finish(self, plant: &Plant) -> Measured {
        let season = self.tally.finish(plant);
        Measured {
            slab_min_c: rounded(season.slab_true_min_c),
            slab_min_d: rounded(season.slab_true_min_s as f64 / 86_400.0),
            below_0_from_h: season.below_0_from_s.map(|s| rounded(s as f64 / 3_600.0)),
            below_0_h: rounded(season.below_0_h),
            below_target_kh: rounded(season.below_target_kh),
            ice: rounded(self.ice),
            damaged: self.damaged,
            supply_over_50_h: rounded(self.hot_s as f64 / 3_600.0),
            wood_kg: rounded(season.wood_kg),
            boiler_kwh: rounded(season.boiler_heat_kwh),
            pump_kwh: rounded(season.pump_kwh),
            starts: season.starts,
            calls: season.calls,
            call_without_flow_min: rounded(self.longest_without_flow_s as f64 / 60.0),
        }
    }
}
