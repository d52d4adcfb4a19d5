//! The loop cut open at its two sensors: what enters slab and store is measured, what leaves them is computed.

use super::super::driven::Water;
use super::{Around, Circuit, WaterHeat, add};
use crate::plant::operating::Path;

impl Circuit {
    /// One step of `dt_s` with measured water: `None` while the circulator rests. `pump_w` goes to the water between store and
    /// slab. Afterwards [`Circuit::supply_c`] is what the store would have delivered and [`Circuit::return_c`] what left the slab.
    pub(in super::super) fn step_driven(
        &mut self,
        dt_s: f64,
        water: Option<&Water>,
        pump_w: f64,
        around: &Around,
    ) -> WaterHeat {
        let mut heat = WaterHeat::default();
        let Some(water) = water else {
            self.point = None;
            self.stand_in_slab(dt_s, around, &mut heat);
            self.stand_in_store(dt_s, around, &mut heat);
            self.cool_spots(dt_s, around.house_air_c);
            return heat;
        };
        let path = if water.past_store {
            Path::HouseOnly
        } else {
            Path::Series
        };
        let point = self.table.at(path, 0.5 * (water.supply_c + water.return_c));
        let least_l = self.slab_water.litres().min(self.store_water.litres());
        let portions = super::super::parts(point.flow_l_s * dt_s / (0.9 * least_l));
        let part_s = dt_s / portions;
        let (litres, joules_k) = (point.flow_l_s * part_s, point.capacity_w_k * part_s);
        for _ in 0..portions as u64 {
            let (leaving_c, zones_w) = point.house.march(water.supply_c, around.slab_core_c);
            add(&mut heat.slab_j, &zones_w, part_s);
            self.return_c = self.slab_water.pass(litres, leaving_c);
            if water.past_store {
                self.stand_in_store(part_s, around, &mut heat);
                continue;
            }
            let mut along = |run, decay: f64, inlet_c: f64| {
                let around_c = around.of(run);
                let outlet_c = around_c + (inlet_c - around_c) * decay;
                heat.give(run, joules_k * (inlet_c - outlet_c));
                outlet_c
            };
            let back_c = along(self.around_return, point.return_decay, water.return_c);
            let left_c = self.store_water.take(litres);
            let out_c = along(self.around_supply, point.supply_decay, left_c);
            let back_c = self.return_water.pass(litres, back_c);
            let (leaving_c, zones_w) = point.store.march(back_c, around.store_core_c);
            add(&mut heat.store_j, &zones_w, part_s);
            self.store_water.put(litres, leaving_c);
            self.supply_c = self.supply_water.pass(litres, out_c) + pump_w / point.capacity_w_k;
        }
        self.point = Some(point);
        heat
    }
}
