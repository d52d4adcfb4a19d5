//! The backup boiler: fire, water jacket, mixing valve; wood accounting.
//!
//! A hand-fired boiler is a charge of wood whose fire follows its damper with a lag, smoulders while the damper is shut and
//! dies when the charge is gone; its heat goes into a jacket of water that loses some to its shed; a mixing valve takes from
//! the jacket what the supply temperature asks. Efficiency is delivered heat per higher heating value of the wood as fired.
//!
//! Wood: higher heating value 20.0 MJ/kg oven-dry (university tables, 8600 Btu/lb), HHV = 20.0 (1 − M),
//! LHV = 18.7 (1 − M) − 2.443 M with the moisture M on wet basis.

use super::config::{BoilerConfig, BoilerKind, HandFiredConfig};
use super::state::Told;
use super::tending::{Tended, Tender};

/// Specific heat of the jacket's water, J/(kg K).
const WATER_J_KGK: f64 = 4190.0;
/// The jacket boils; more heat leaves as steam through the relief valve, °C.
const BOILING_C: f64 = 100.0;
/// Water of a boiler kept hot by its own control, °C: what is injected without a mixing valve (common practice).
const INJECTED_C: f64 = 80.0;
/// Below this share of a full charge the fire fades with what is left.
const FADING_SHARE: f64 = 0.1;
/// Below this share it is out.
const OUT_SHARE: f64 = 0.005;

/// Higher heating value of wood as fired, MJ/kg; `moisture` on wet basis, 0..1.
pub fn wood_higher_mj_kg(moisture: f64) -> f64 {
    20.0 * (1.0 - moisture)
}

/// Lower heating value of wood as fired, MJ/kg; `moisture` on wet basis, 0..1.
pub fn wood_lower_mj_kg(moisture: f64) -> f64 {
    18.7 * (1.0 - moisture) - 2.443 * moisture
}

/// Wood for a steady delivered power, kg/h; efficiency on the higher heating value.
pub fn wood_kg_h(delivered_kw: f64, efficiency: f64, higher_mj_kg: f64) -> f64 {
    delivered_kw * 3.6 / (efficiency * higher_mj_kg)
}

/// Share of flow through the boiler that mixes `cold_c` and `hot_c` to `wanted_c`, 0..1.
pub fn mixing_share(cold_c: f64, hot_c: f64, wanted_c: f64) -> f64 {
    if hot_c <= cold_c {
        1.0
    } else {
        ((wanted_c - cold_c) / (hot_c - cold_c)).clamp(0.0, 1.0)
    }
}

/// Buffer after EN 303-5, L: 15 T_B Q_N (1 − 0.3 Q_H/Q_min); burning time h, powers kW.
pub fn buffer_l(burning_h: f64, nominal_kw: f64, load_kw: f64, least_kw: f64) -> f64 {
    15.0 * burning_h * nominal_kw * (1.0 - 0.3 * load_kw / least_kw)
}

/// Water flowing to the boiler.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Draw {
    /// Water reaching the mixing point, °C.
    pub inlet_c: f64,
    /// Heat capacity flow of the whole loop, W/K.
    pub capacity_w_k: f64,
}

/// What the boiler did in a step, W (means over the step).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BoilerFlows {
    /// Heat given to the loop.
    pub loop_w: f64,
    /// Heat of the fire (or of the injecting boiler).
    pub fire_w: f64,
    /// Lost to the shed and as steam.
    pub lost_w: f64,
}

/// State of the boiler.
#[derive(Clone, Debug, PartialEq)]
pub struct Boiler {
    config: BoilerConfig,
    water_c: f64,
    fuel_kg: f64,
    fire_w: f64,
    alight: bool,
    burnt_kg: f64,
    /// Step length the lag factor belongs to.
    lag_dt_s: f64,
    lag_share: f64,
    tender: Tender,
}

/// Circumstances of one step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surround {
    /// Air around the boiler, °C.
    pub air_c: f64,
    /// Hour of the day, 0..24.
    pub hour: f64,
    /// The fire goes out and does not come back while this holds.
    pub fire_out: bool,
    /// Nobody feeds it while this holds.
    pub no_fuel: bool,
    /// What whoever feeds it is told.
    pub told: Told,
}

impl Boiler {
    /// A cold boiler without a fire.
    pub fn new(config: &BoilerConfig, start_c: f64) -> Boiler {
        Boiler {
            config: config.clone(),
            water_c: start_c,
            fuel_kg: 0.0,
            fire_w: 0.0,
            alight: false,
            burnt_kg: 0.0,
            lag_dt_s: f64::NAN,
            lag_share: 0.0,
            tender: Tender::NEW,
        }
    }

    /// Jacket water, °C.
    pub fn water_c(&self) -> f64 {
        self.water_c
    }

    /// Wood left, kg.
    pub fn fuel_kg(&self) -> f64 {
        self.fuel_kg
    }

    /// Heat of the fire to the water, W.
    pub fn fire_w(&self) -> f64 {
        self.fire_w
    }

    /// Whether there is a fire.
    pub fn is_alight(&self) -> bool {
        self.alight
    }

    /// Wood burnt so far, kg.
    pub fn burnt_kg(&self) -> f64 {
        self.burnt_kg
    }

    /// What tending it has come to.
    pub fn tended(&self) -> Tended {
        self.tender.tended()
    }

    /// Adds wood, kg, up to a full charge.
    pub fn load_fuel(&mut self, kg: f64) {
        if let BoilerKind::HandFired(fire) = &self.config.kind {
            self.fuel_kg = (self.fuel_kg + kg.max(0.0)).min(fire.charge_kg);
        }
    }

    /// Lights whatever wood there is.
    pub fn light_fire(&mut self) {
        self.alight = self.fuel_kg > 0.0;
    }

    /// One step. `draw` is `None` when no water flows through. Returns the temperature of the loop's water after the
    /// mixing point, if it flows, and the flows of heat.
    pub fn step(
        &mut self,
        dt_s: f64,
        call: bool,
        draw: Option<Draw>,
        around: &Surround,
    ) -> (Option<f64>, BoilerFlows) {
        match self.config.kind {
            BoilerKind::Injection { capacity_w } => {
                let Some(draw) = draw else {
                    return (None, BoilerFlows::default());
                };
                let limit_c = self.config.mixing_c.unwrap_or(INJECTED_C);
                let wanted_w = draw.capacity_w_k * (limit_c - draw.inlet_c);
                let loop_w = if call {
                    wanted_w.clamp(0.0, capacity_w)
                } else {
                    0.0
                };
                let outlet_c = draw.inlet_c + loop_w / draw.capacity_w_k;
                (
                    Some(outlet_c),
                    BoilerFlows {
                        loop_w,
                        fire_w: loop_w,
                        lost_w: 0.0,
                    },
                )
            }
            BoilerKind::HandFired(fire) => {
                self.tend(&fire, dt_s, call, around);
                let heat_w = self.burn(&fire, dt_s, call, around);
                self.jacket(&fire, dt_s, call, draw, around.air_c, heat_w)
            }
        }
    }

    fn tend(&mut self, fire: &HandFiredConfig, dt_s: f64, call: bool, around: &Surround) {
        let left_kg = if self.alight { self.fuel_kg } else { 0.0 };
        if let Some(up_to_kg) = self.tender.pass(fire, dt_s, call, left_kg, around) {
            self.fuel_kg = self.fuel_kg.max(up_to_kg).min(fire.charge_kg);
            self.alight = true;
        }
    }

    /// Heat of the fire, W, taken from the wood exactly.
    fn burn(&mut self, fire: &HandFiredConfig, dt_s: f64, call: bool, around: &Surround) -> f64 {
        if around.fire_out || self.fuel_kg <= OUT_SHARE * fire.charge_kg {
            self.alight = false;
        }
        if !self.alight && self.fire_w == 0.0 {
            return 0.0;
        }
        if self.lag_dt_s != dt_s {
            self.lag_dt_s = dt_s;
            self.lag_share = -libm::expm1(-dt_s / fire.lag_s);
        }
        let damper_open = call && self.water_c < fire.damper_closes_c;
        let target_w = match (self.alight, damper_open) {
            (false, _) => 0.0,
            (true, true) => {
                fire.rated_w * (self.fuel_kg / (FADING_SHARE * fire.charge_kg)).min(1.0)
            }
            (true, false) => fire.smoulder_w,
        };
        self.fire_w += (target_w - self.fire_w) * self.lag_share;
        if self.fire_w < 1.0 && !self.alight {
            self.fire_w = 0.0;
        }
        let efficiency = if damper_open {
            fire.efficiency
        } else {
            fire.smoulder_efficiency
        };
        let per_kg_j = efficiency * fire.wood_j_kg;
        let burnt_kg = (self.fire_w * dt_s / per_kg_j).min(self.fuel_kg);
        self.fuel_kg -= burnt_kg;
        self.burnt_kg += burnt_kg;
        self.fire_w = burnt_kg * per_kg_j / dt_s;
        self.fire_w
    }

    /// Jacket and mixing valve; implicit in the jacket's temperature.
    fn jacket(
        &mut self,
        fire: &HandFiredConfig,
        dt_s: f64,
        call: bool,
        draw: Option<Draw>,
        air_c: f64,
        heat_w: f64,
    ) -> (Option<f64>, BoilerFlows) {
        let storage = fire.jacket_kg * WATER_J_KGK / dt_s;
        // Jacket at the end of the step with a fixed draw and with a flow through it.
        let jacket_c = |drawn_w: f64, through_w_k: f64, inlet_c: f64| {
            (storage * self.water_c + heat_w + fire.standby_w_k * air_c - drawn_w
                + through_w_k * inlet_c)
                / (storage + fire.standby_w_k + through_w_k)
        };
        let (unbounded_c, loop_w) = match draw {
            Some(draw) if call => {
                let all_c = jacket_c(0.0, draw.capacity_w_k, draw.inlet_c);
                match self.config.mixing_c {
                    // Cold jacket: the valve stays shut towards it rather than cool the loop.
                    Some(_) if all_c <= draw.inlet_c => (jacket_c(0.0, 0.0, 0.0), 0.0),
                    // Hotter than asked for: the valve takes just the share that mixes to its limit.
                    Some(limit_c) if all_c > limit_c => {
                        let wanted_w = draw.capacity_w_k * (limit_c - draw.inlet_c).max(0.0);
                        (jacket_c(wanted_w, 0.0, 0.0), wanted_w)
                    }
                    _ => (all_c, draw.capacity_w_k * (all_c - draw.inlet_c)),
                }
            }
            _ => (jacket_c(0.0, 0.0, 0.0), 0.0),
        };
        // What would go beyond boiling leaves as steam.
        let steam_w = (unbounded_c - BOILING_C).max(0.0) * (storage + fire.standby_w_k);
        self.water_c = unbounded_c.min(BOILING_C);
        let outlet_c = draw.map(|draw| draw.inlet_c + loop_w / draw.capacity_w_k);
        let lost_w = fire.standby_w_k * (self.water_c - air_c) + steam_w;
        (
            outlet_c,
            BoilerFlows {
                loop_w,
                fire_w: heat_w,
                lost_w,
            },
        )
    }

    /// Heat stored in the jacket above 0 °C, J.
    pub fn stored_j(&self) -> f64 {
        match &self.config.kind {
            BoilerKind::HandFired(fire) => fire.jacket_kg * WATER_J_KGK * self.water_c,
            BoilerKind::Injection { .. } => 0.0,
        }
    }
}

#[cfg(test)]
mod tests;
