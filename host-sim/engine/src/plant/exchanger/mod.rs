//! Water in an embedded tube: effectiveness, the march through a zoned floor, and two floors in one loop.
//!
//! Sources: effectiveness of a stream against one temperature, ε = 1 − e^(−NTU) (Incropera eq. 11.35a, from memory); the
//! two-floor conductance follows from Q/C = ε2(T1 − Ts) = ε1(Tc − T2), T1 − T2 = Q/C.

/// Zones a floor is divided into. Four lanes also fill the registers of any machine.
pub const ZONES: usize = 4;

/// One value per zone.
pub type Zones = [f64; ZONES];

/// How the tube runs through the floor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layout {
    /// Back and forth from one end to the other: the first zone gets the warmest water.
    Serpentine,
    /// Double spiral, flow and return side by side: every zone gets a warm and a cool tube; zone 0 is the outer ring.
    CounterFlow,
}

impl Layout {
    /// Surroundings of four equal lengths of the tube, inlet first, from the zones it lies in.
    #[inline]
    pub fn along_tube(self, zones: &Zones) -> Zones {
        match self {
            Layout::Serpentine => *zones,
            Layout::CounterFlow => {
                let (outer, inner) = (0.5 * (zones[0] + zones[1]), 0.5 * (zones[2] + zones[3]));
                [outer, inner, inner, outer]
            }
        }
    }

    /// The reverse for heat: from four equal lengths of the tube to the zones.
    #[inline]
    pub fn into_zones(self, lengths: &Zones) -> Zones {
        match self {
            Layout::Serpentine => *lengths,
            Layout::CounterFlow => {
                let (outer, inner) = (
                    0.5 * (lengths[0] + lengths[3]),
                    0.5 * (lengths[1] + lengths[2]),
                );
                [outer, outer, inner, inner]
            }
        }
    }
}

/// Effectiveness of a stream against one fixed temperature.
pub fn effectiveness(transfer_units: f64) -> f64 {
    -libm::expm1(-transfer_units)
}

/// Number of transfer units L/(R' C); length m, resistance m K/W, capacity flow W/K.
pub fn transfer_units(length_m: f64, resistance_mk_w: f64, capacity_w_k: f64) -> f64 {
    length_m / (resistance_mk_w * capacity_w_k)
}

/// Heat conductance of two exchangers in one loop, W/K: heat = G (T_warm − T_cold).
pub fn loop_conductance_w_k(capacity_w_k: f64, effectiveness_1: f64, effectiveness_2: f64) -> f64 {
    capacity_w_k / (1.0 / effectiveness_1 + 1.0 / effectiveness_2 - 1.0)
}

/// Steady water temperatures of the loop, °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoopTemperatures {
    /// Entering the slab.
    pub supply_c: f64,
    /// Leaving the slab.
    pub return_c: f64,
    /// Heat the slab receives, W.
    pub slab_heat_w: f64,
}

/// Loop temperatures with a store floor at `store_c` (effectiveness `store`), a slab at `slab_c` (effectiveness `slab`) and
/// `pump_heat_w` entering the water between store and slab.
pub fn loop_temperatures(
    capacity_w_k: f64,
    store: f64,
    slab: f64,
    store_c: f64,
    slab_c: f64,
    pump_heat_w: f64,
) -> LoopTemperatures {
    let supply_c = ((1.0 - store) * slab * slab_c + store * store_c + pump_heat_w / capacity_w_k)
        / (1.0 - (1.0 - store) * (1.0 - slab));
    let slab_heat_w = capacity_w_k * slab * (supply_c - slab_c);
    LoopTemperatures {
        supply_c,
        return_c: supply_c - slab * (supply_c - slab_c),
        slab_heat_w,
    }
}

/// A tube through a zoned floor at one flow: the water decays towards each zone's core in turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exchanger {
    layout: Layout,
    /// e^(−NTU) of one segment (a zone of a serpentine, half a zone of a spiral).
    segment_decay: f64,
    /// Heat capacity flow, W/K.
    capacity_w_k: f64,
}

impl Exchanger {
    /// `transfer_units` and `capacity_w_k` of the whole tube.
    pub fn new(layout: Layout, transfer_units: f64, capacity_w_k: f64) -> Exchanger {
        let segments = match layout {
            Layout::Serpentine => ZONES,
            Layout::CounterFlow => 2 * ZONES,
        };
        Exchanger {
            layout,
            segment_decay: libm::exp(-transfer_units / segments as f64),
            capacity_w_k,
        }
    }

    /// Passes water of `inlet_c` through zones at `core_c`; returns the outlet temperature and the heat given to each
    /// zone, W. Unconditionally stable: the water ends between inlet and zone temperature whatever the flow.
    #[inline]
    pub fn march(&self, inlet_c: f64, core_c: &Zones) -> (f64, Zones) {
        let mut heat_w = [0.0; ZONES];
        let mut water_c = inlet_c;
        let mut through = |zone: usize| {
            let next_c = core_c[zone] + (water_c - core_c[zone]) * self.segment_decay;
            heat_w[zone] += self.capacity_w_k * (water_c - next_c);
            water_c = next_c;
        };
        (0..ZONES).for_each(&mut through);
        if self.layout == Layout::CounterFlow {
            (0..ZONES).rev().for_each(&mut through);
        }
        (water_c, heat_w)
    }
}

#[cfg(test)]
mod tests;
