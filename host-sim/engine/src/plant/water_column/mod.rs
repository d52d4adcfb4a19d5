//! The water actually in a tube: plug flow in parcels, equal cells at rest, ice.
//!
//! Water that moves keeps its order: what goes in comes out one tube volume later. Heat on the way is exchanged at the inlet by
//! the caller (the quasi-steady march), so a column is pure delay while it flows. At rest it becomes [`ZONES`] equal cells that
//! take the temperature of their surroundings, and may freeze: pure water supercools to a few kelvin below its freezing
//! point, then ice forms at once and the rest freezes as fast as the surroundings carry off the heat of fusion.
//! Heat is conserved exactly; one constant heat capacity per litre is used throughout.

use super::exchanger::{ZONES, Zones};

/// Heat of fusion of ice, J/kg (IAPWS, 273.15 K).
pub const FUSION_J_KG: f64 = 333.55e3;
/// Conductivity of ice at 0 °C, W/(m K) (from memory).
pub const ICE_W_MK: f64 = 2.2;
/// How far still water cools below its freezing point before ice forms, K (pipe-freezing research: 4–7 K).
pub const SUPERCOOLING_K: f64 = 4.0;
/// Ice fraction from which a cell lets no water through (common practice, no source: slush can still be pumped).
pub const BLOCKING_ICE: f64 = 0.30;
/// Ice fraction from which the tube counts as frozen solid, and damaged.
pub const SOLID_ICE: f64 = 0.95;

/// Most parcels a column is divided into.
const CAPACITY: usize = 16;
/// A parcel smaller than this share of the column is filled up before a new one is begun.
const QUANTUM: f64 = 0.1;

#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Parcel {
    litres: f64,
    temperature_c: f64,
}

/// Liquid data a column needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Liquid {
    /// Heat capacity, J/(L K).
    pub heat_capacity_j_lk: f64,
    /// Freezing point, °C.
    pub freezing_c: f64,
}

/// Water in a tube, inlet to outlet.
#[derive(Clone, Debug, PartialEq)]
pub struct WaterColumn {
    parcels: [Parcel; CAPACITY],
    /// Index of the oldest parcel, the one at the outlet.
    oldest: usize,
    count: usize,
    litres: f64,
    /// Length of one resting cell, m.
    cell_m: f64,
    liquid: Liquid,
    resting: bool,
    /// Ice in each resting cell, inlet first, kg.
    ice_kg: Zones,
    /// Step length the decay belongs to, and decay towards the surroundings over it.
    rest_dt_s: f64,
    rest_decay: f64,
    /// Conductance of one resting cell to its surroundings, W/K.
    cell_w_k: f64,
    damaged: bool,
}

impl WaterColumn {
    /// Liquid of `start_c` at rest in `length_m` of tube holding `litres`, exchanging `rest_w_k` with its surroundings when it
    /// does not flow.
    pub fn new(
        litres: f64,
        length_m: f64,
        start_c: f64,
        rest_w_k: f64,
        liquid: Liquid,
    ) -> WaterColumn {
        let mut column = WaterColumn {
            parcels: [Parcel::default(); CAPACITY],
            oldest: 0,
            count: 0,
            litres,
            cell_m: length_m / ZONES as f64,
            liquid,
            resting: true,
            ice_kg: [0.0; ZONES],
            rest_dt_s: f64::NAN,
            rest_decay: 1.0,
            cell_w_k: rest_w_k / ZONES as f64,
            damaged: false,
        };
        column.fill([start_c; ZONES]);
        column
    }

    /// Volume, L.
    pub fn litres(&self) -> f64 {
        self.litres
    }

    /// Pushes `litres` of `inlet_c` in and returns the mean temperature of what comes out.
    #[inline]
    pub fn pass(&mut self, litres: f64, inlet_c: f64) -> f64 {
        self.put(litres, inlet_c);
        self.take(litres)
    }

    /// Takes `litres` (less than the column holds) from the outlet ahead of what will be put in; their mean temperature.
    #[inline]
    pub fn take(&mut self, litres: f64) -> f64 {
        self.resting = false;
        let outlet_c = self.pop(litres);
        if self.ice_kg == [0.0; ZONES] {
            outlet_c
        } else {
            self.melt(litres, outlet_c)
        }
    }

    /// Puts `litres` of `inlet_c` in at the inlet. Water supercooled too far brings its ice with it.
    #[inline]
    pub fn put(&mut self, litres: f64, inlet_c: f64) {
        self.resting = false;
        let freezing_c = self.liquid.freezing_c;
        if inlet_c > freezing_c - SUPERCOOLING_K {
            self.push(litres, inlet_c);
        } else {
            let latent_j = litres * self.liquid.heat_capacity_j_lk * (freezing_c - inlet_c);
            let cell_kg = latent_j / FUSION_J_KG / ZONES as f64;
            self.ice_kg = self.ice_kg.map(|kg| kg + cell_kg);
            self.push(litres, freezing_c);
        }
    }

    /// Heat content above liquid at 0 °C, J (ice counts negative).
    pub fn stored_j(&self) -> f64 {
        let liquid: f64 = (0..self.count)
            .map(|i| {
                let parcel = self.parcels[(self.oldest + i) % CAPACITY];
                parcel.litres * parcel.temperature_c
            })
            .sum();
        liquid * self.liquid.heat_capacity_j_lk - self.ice_kg.iter().sum::<f64>() * FUSION_J_KG
    }

    /// Largest share of ice in any cell, 0..1. A litre holds about a kilogram.
    pub fn ice_fraction(&self) -> f64 {
        self.ice_kg.iter().fold(0.0, |most: f64, &kg| most.max(kg)) / self.cell_kg()
    }

    /// Whether ice stops the flow.
    #[inline]
    pub fn is_blocked(&self) -> bool {
        self.ice_kg != [0.0; ZONES] && self.ice_fraction() >= BLOCKING_ICE
    }

    /// Whether it has ever frozen solid: the tube must be taken as burst.
    pub fn is_damaged(&self) -> bool {
        self.damaged
    }

    /// Temperature of the water at the outlet, °C.
    pub fn outlet_c(&self) -> f64 {
        self.parcels[self.oldest].temperature_c
    }

    /// Water at rest for `dt_s` beside surroundings at `around_c`, inlet first. Returns the heat each cell gives to them,
    /// W, mean over the step.
    pub fn rest(&mut self, dt_s: f64, around_c: &Zones) -> Zones {
        if !self.resting {
            self.settle();
        }
        if self.rest_dt_s != dt_s {
            self.rest_dt_s = dt_s;
            self.rest_decay = libm::exp(-self.cell_w_k * dt_s / self.cell_j_k());
        }
        let mut heat_w = [0.0; ZONES];
        let per_second = self.cell_j_k() / dt_s;
        for (cell, heat) in heat_w.iter_mut().enumerate() {
            // At rest the cells are the first parcels, outlet first.
            let parcel = &mut self.parcels[ZONES - 1 - cell];
            let before = parcel.temperature_c;
            parcel.temperature_c = around_c[cell] + (before - around_c[cell]) * self.rest_decay;
            *heat = per_second * (before - parcel.temperature_c);
        }
        let coldest = self.parcels[..ZONES]
            .iter()
            .map(|parcel| parcel.temperature_c)
            .fold(f64::MAX, f64::min);
        if coldest < self.liquid.freezing_c || self.ice_kg != [0.0; ZONES] {
            for cell in 0..ZONES {
                self.freeze(cell, dt_s, around_c[cell], &mut heat_w[cell]);
            }
        }
        heat_w
    }

    fn cell_kg(&self) -> f64 {
        self.litres / ZONES as f64
    }

    fn cell_j_k(&self) -> f64 {
        self.litres / ZONES as f64 * self.liquid.heat_capacity_j_lk
    }

    /// Corrects one cell, already relaxed as a liquid, for freezing and melting.
    fn freeze(&mut self, cell: usize, dt_s: f64, around_c: f64, heat_w: &mut f64) {
        let (freezing_c, capacity) = (self.liquid.freezing_c, self.cell_j_k());
        let full_kg = self.cell_kg();
        let parcel = &mut self.parcels[ZONES - 1 - cell];
        let ice_kg = &mut self.ice_kg[cell];
        if *ice_kg == 0.0 {
            if parcel.temperature_c <= freezing_c - SUPERCOOLING_K {
                // Ice grows at once until the heat of fusion has warmed the rest to the freezing point.
                *ice_kg =
                    (capacity * (freezing_c - parcel.temperature_c) / FUSION_J_KG).min(full_kg);
                parcel.temperature_c = freezing_c;
            }
            return;
        }
        // Ice and water stay at the freezing point; the shell of ice adds −ln(1 − f)/(4πk) m K/W to the resistance.
        let fraction = (*ice_kg / full_kg).min(0.999);
        let shell_k_w =
            -libm::log(1.0 - fraction) / (4.0 * core::f64::consts::PI * ICE_W_MK * self.cell_m);
        let conductance = 1.0 / (1.0 / self.cell_w_k + shell_k_w);
        let lost_w = conductance * (freezing_c - around_c);
        let unbounded_kg = *ice_kg + lost_w * dt_s / FUSION_J_KG;
        let after_kg = unbounded_kg.clamp(0.0, full_kg);
        *heat_w += (after_kg - *ice_kg) * FUSION_J_KG / dt_s;
        // Undo the liquid relaxation: at the freezing point the temperature does not move.
        *heat_w -= capacity * (freezing_c - parcel.temperature_c) / dt_s;
        parcel.temperature_c = freezing_c;
        *ice_kg = after_kg;
        if after_kg >= SOLID_ICE * full_kg {
            self.damaged = true;
        }
    }

    /// Ice met by passing water melts at the expense of the water's warmth.
    fn melt(&mut self, litres: f64, outlet_c: f64) -> f64 {
        let capacity = litres * self.liquid.heat_capacity_j_lk;
        let ice_j = self.ice_kg.iter().sum::<f64>() * FUSION_J_KG;
        let offered_j = 0.8 * capacity * (outlet_c - self.liquid.freezing_c).max(0.0);
        let melted_j = offered_j.min(ice_j);
        let left = if melted_j >= ice_j {
            0.0
        } else {
            1.0 - melted_j / ice_j
        };
        self.ice_kg = self.ice_kg.map(|kg| kg * left);
        outlet_c - melted_j / capacity
    }

    fn push(&mut self, litres: f64, temperature_c: f64) {
        if self.count > 0 {
            let newest = &mut self.parcels[(self.oldest + self.count - 1) % CAPACITY];
            if newest.litres < QUANTUM * self.litres || self.count == CAPACITY {
                let total = newest.litres + litres;
                newest.temperature_c =
                    (newest.temperature_c * newest.litres + temperature_c * litres) / total;
                newest.litres = total;
                return;
            }
        }
        self.parcels[(self.oldest + self.count) % CAPACITY] = Parcel {
            litres,
            temperature_c,
        };
        self.count += 1;
    }

    /// Takes `litres` from the outlet; mean temperature of them.
    fn pop(&mut self, litres: f64) -> f64 {
        let (mut wanted, mut sum) = (litres, 0.0);
        loop {
            let oldest = &mut self.parcels[self.oldest];
            if oldest.litres > wanted || self.count == 1 {
                oldest.litres -= wanted;
                sum += wanted * oldest.temperature_c;
                return sum / litres;
            }
            sum += oldest.litres * oldest.temperature_c;
            wanted -= oldest.litres;
            self.oldest = (self.oldest + 1) % CAPACITY;
            self.count -= 1;
        }
    }

    /// Divides the column into equal cells, keeping its heat.
    fn settle(&mut self) {
        let total: f64 = (0..self.count)
            .map(|i| self.parcels[(self.oldest + i) % CAPACITY].litres)
            .sum();
        let quarter = total / ZONES as f64;
        let mut cells = [0.0; ZONES];
        for cell in (0..ZONES).rev() {
            cells[cell] = self.pop(quarter);
        }
        self.fill(cells);
        self.resting = true;
    }

    /// Four equal cells, inlet first.
    fn fill(&mut self, cells_c: Zones) {
        self.oldest = 0;
        self.count = ZONES;
        for (i, temperature_c) in cells_c.into_iter().rev().enumerate() {
            self.parcels[i] = Parcel {
                litres: self.litres / ZONES as f64,
                temperature_c,
            };
        }
    }
}

#[cfg(test)]
mod tests;
