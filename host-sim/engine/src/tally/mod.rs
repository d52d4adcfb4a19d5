//! What a season comes to in the house: the one account, counted from the model's truth stretch by stretch.

use crate::closed_loop::Stretch;
use crate::plant::{Plant, Relays, Tended};

const DAY_S: u64 = 86_400;
const JOULES_PER_KWH: f64 = 3.6e6;

/// What a run came to in the house, counted from the model's truth.
#[derive(Clone, Debug, PartialEq)]
pub struct Season {
    /// Coldest slab zone's tube plane, °C, with its second.
    pub slab_true_min_c: f64,
    /// When, s since the start.
    pub slab_true_min_s: u64,
    /// Floor without tube, if there is any.
    pub bare: Option<BareFloor>,
    /// Store floor at the beginning, °C.
    pub store_floor_start_c: f64,
    /// Coldest store air, °C.
    pub store_air_min_c: f64,
    /// Coldest store floor, °C.
    pub store_floor_min_c: f64,
    /// Heat the water took from the store, less what it brought, kWh.
    pub earth_heat_kwh: f64,
    /// Heat the boiler gave to the water, kWh.
    pub boiler_heat_kwh: f64,
    /// Wood burnt, kg.
    pub wood_kg: f64,
    /// What tending the fire came to.
    pub tended: Tended,
    /// Electricity of the circulator, kWh.
    pub pump_kwh: f64,
    /// Something froze solid, and when, s since the start.
    pub frozen_s: Option<u64>,
    /// Nights (noon to noon) in which the boiler was called.
    pub nights_with_fire: u32,
    /// Residual of the heat balance over the sum of all flows.
    pub energy_closure: f64,
    /// Slab at its sensor below its target, K·h.
    pub below_target_kh: f64,
    /// Slab at its sensor, coldest, °C.
    pub slab_sensor_min_c: f64,
    /// Time with a slab zone below 0 °C, h.
    pub below_0_h: f64,
    /// When a slab zone was first below 0 °C, s since the start.
    pub below_0_from_s: Option<u64>,
    /// Circulator starts asked for.
    pub starts: u32,
    /// Boiler calls.
    pub calls: u32,
    /// By day.
    pub days: Vec<Day>,
}

impl Season {
    fn nothing() -> Self {
        Self {
            slab_true_min_c: f64::INFINITY,
            slab_true_min_s: 0,
            bare: None,
            store_floor_start_c: 0.0,
            store_air_min_c: f64::INFINITY,
            store_floor_min_c: f64::INFINITY,
            earth_heat_kwh: 0.0,
            boiler_heat_kwh: 0.0,
            wood_kg: 0.0,
            tended: Tended::default(),
            pump_kwh: 0.0,
            frozen_s: None,
            nights_with_fire: 0,
            energy_closure: 0.0,
            below_target_kh: 0.0,
            slab_sensor_min_c: f64::INFINITY,
            below_0_h: 0.0,
            below_0_from_s: None,
            starts: 0,
            calls: 0,
            days: Vec::new(),
        }
    }

    /// One account of periods that follow one another without a break; their times are already counted from the first.
    #[must_use]
    pub fn of_all(periods: &[Season]) -> Season {
        let mut all = periods.first().cloned().unwrap_or_else(Season::nothing);
        for next in periods.iter().skip(1) {
            if next.slab_true_min_c < all.slab_true_min_c {
                all.slab_true_min_c = next.slab_true_min_c;
                all.slab_true_min_s = next.slab_true_min_s;
            }
            if let (Some(all), Some(next)) = (&mut all.bare, next.bare) {
                all.min_c = all.min_c.min(next.min_c);
                all.edge_kwh = next.edge_kwh;
            }
            all.store_air_min_c = all.store_air_min_c.min(next.store_air_min_c);
            all.store_floor_min_c = all.store_floor_min_c.min(next.store_floor_min_c);
            all.earth_heat_kwh += next.earth_heat_kwh;
            all.boiler_heat_kwh += next.boiler_heat_kwh;
            all.pump_kwh += next.pump_kwh;
            all.nights_with_fire += next.nights_with_fire;
            all.below_target_kh += next.below_target_kh;
            all.slab_sensor_min_c = all.slab_sensor_min_c.min(next.slab_sensor_min_c);
            all.below_0_h += next.below_0_h;
            all.below_0_from_s = all.below_0_from_s.or(next.below_0_from_s);
            all.starts += next.starts;
            all.calls += next.calls;
            all.frozen_s = all.frozen_s.or(next.frozen_s);
            // These are the plant's own sums since the first beginning.
            (all.wood_kg, all.tended) = (next.wood_kg, next.tended);
            all.energy_closure = next.energy_closure;
            all.days.extend_from_slice(&next.days);
        }
        all
    }
}

/// Floor of the house outside its tube field, over a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BareFloor {
    /// Share of the floor it is, 0..1.
    pub share: f64,
    /// Coldest, °C.
    pub min_c: f64,
    /// Heat it lost through its edge, kWh.
    pub edge_kwh: f64,
}

/// One day of the plant.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Day {
    /// Heat from the store, kWh.
    pub earth_kwh: f64,
    /// Heat from the boiler, kWh.
    pub boiler_kwh: f64,
    /// Electricity of the circulator, kWh.
    pub pump_kwh: f64,
    /// Mean outdoor temperature, °C.
    pub outdoor_mean_c: f64,
    /// Store floor at the end of the day, °C.
    pub store_end_c: f64,
}

/// Counts a run as it goes.
#[derive(Clone, Debug)]
pub struct Tally {
    season: Season,
    target_c: f64,
    settled_s: u64,
    day: Day,
    night_fire: bool,
    relays: Relays,
}

impl Tally {
    /// Nothing counted yet, of this house and against this target of the slab, °C.
    #[must_use]
    pub fn new(plant: &Plant, target_c: f64) -> Self {
        Self {
            season: Season {
                store_floor_start_c: plant.store_floor_c(),
                ..Season::nothing()
            },
            target_c,
            settled_s: 0,
            day: Day::default(),
            night_fire: false,
            relays: Relays::default(),
        }
    }

    /// The slab counts from this second on only: what was before is the start's, not the control's.
    #[must_use]
    pub const fn settled_at(mut self, second: u64) -> Self {
        self.settled_s = second;
        self
    }

    /// The next account of the same run.
    #[must_use]
    pub fn following(&self, plant: &Plant) -> Self {
        Self {
            relays: self.relays,
            ..Self::new(plant, self.target_c)
        }
    }

    /// A stretch, with the house at its end.
    pub fn add(&mut self, stretch: &Stretch, plant: &Plant) {
        let (length_s, end_s) = (stretch.length_s, stretch.end_s());
        self.relays(stretch.relays);
        if stretch.from_s >= self.settled_s {
            self.slab(stretch, plant);
        }
        let t = &mut self.season;
        if let Some(bare_c) = plant.bare_floor_c() {
            let bare = t.bare.get_or_insert(BareFloor {
                share: 0.0,
                min_c: f64::INFINITY,
                edge_kwh: 0.0,
            });
            bare.min_c = bare.min_c.min(bare_c);
        }
        let store_floor_c = plant.store_floor_c();
        t.store_air_min_c = t.store_air_min_c.min(plant.truth().store_c);
        t.store_floor_min_c = t.store_floor_min_c.min(store_floor_c);
        if t.frozen_s.is_none() && plant.is_damaged() {
            t.frozen_s = Some(end_s);
        }
        let flows = plant.last_step();
        self.day.earth_kwh += flows.earth_j / JOULES_PER_KWH;
        self.day.boiler_kwh += flows.boiler_j / JOULES_PER_KWH;
        self.day.pump_kwh += flows.pump_j / JOULES_PER_KWH;
        self.day.outdoor_mean_c += stretch.outdoor.air_c * length_s as f64 / DAY_S as f64;
        self.night_fire |= stretch.relays.boiler_call;
        if end_s % DAY_S < length_s {
            self.day.store_end_c = store_floor_c;
            t.earth_heat_kwh += self.day.earth_kwh;
            t.boiler_heat_kwh += self.day.boiler_kwh;
            t.pump_kwh += self.day.pump_kwh;
            t.days.push(std::mem::take(&mut self.day));
        }
        if (end_s + DAY_S / 2) % DAY_S < length_s {
            t.nights_with_fire += u32::from(std::mem::take(&mut self.night_fire));
        }
    }

    fn relays(&mut self, now: Relays) {
        self.season.starts += u32::from(now.circulator && !self.relays.circulator);
        self.season.calls += u32::from(now.boiler_call && !self.relays.boiler_call);
        self.relays = now;
    }

    fn slab(&mut self, stretch: &Stretch, plant: &Plant) {
        let t = &mut self.season;
        let hours = stretch.length_s as f64 / 3_600.0;
        let slab_min_c = plant.slab_min_c();
        if slab_min_c < t.slab_true_min_c {
            t.slab_true_min_c = slab_min_c;
            t.slab_true_min_s = stretch.end_s();
        }
        if slab_min_c < 0.0 {
            t.below_0_h += hours;
            t.below_0_from_s.get_or_insert(stretch.from_s);
        }
        let sensor_c = plant.truth().slab_c;
        t.slab_sensor_min_c = t.slab_sensor_min_c.min(sensor_c);
        t.below_target_kh += (self.target_c - sensor_c).max(0.0) * hours;
    }

    /// Ends the account.
    #[must_use]
    pub fn finish(mut self, plant: &Plant) -> Season {
        let t = &mut self.season;
        t.nights_with_fire += u32::from(self.night_fire);
        t.earth_heat_kwh += self.day.earth_kwh;
        t.boiler_heat_kwh += self.day.boiler_kwh;
        t.pump_kwh += self.day.pump_kwh;
        if let Some(bare) = &mut t.bare {
            let config = plant.config();
            bare.share = config.bare_floor_m2() / config.house.floor_area_m2();
            bare.edge_kwh = plant.ledger().bare_edge_j / JOULES_PER_KWH;
        }
        let truth = plant.true_state();
        (t.wood_kg, t.tended) = (truth.wood_kg, truth.tended);
        t.energy_closure = plant.closure();
        self.season
    }
}

#[cfg(test)]
mod tests;
