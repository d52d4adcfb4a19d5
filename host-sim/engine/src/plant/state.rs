//! What goes into a step of the plant and what is true after it.

use super::tending::Tended;

/// Weather during a step.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct OutdoorConditions {
    /// Dry bulb, °C.
    pub air_c: f64,
    /// Dew point, °C (reported, not part of the heat balance).
    pub dew_point_c: f64,
    /// Horizontal infrared from the sky, W/m².
    pub infrared_w_m2: f64,
    /// Wind, m/s.
    pub wind_m_s: f64,
    /// Sun falling on the outside of all glazing together, W.
    pub solar_incident_w: f64,
    /// Day of the year with its fraction, 1.0 = 1 January 00:00 local standard time.
    pub ground_day: f64,
}

impl From<crate::weather::Conditions> for OutdoorConditions {
    fn from(c: crate::weather::Conditions) -> Self {
        Self {
            air_c: c.air_c,
            dew_point_c: c.dew_point_c,
            infrared_w_m2: c.infrared_w_m2,
            wind_m_s: c.wind_m_s,
            solar_incident_w: c.solar_incident_w,
            ground_day: c.day_of_year,
        }
    }
}

/// The two relays.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Relays {
    /// Circulator wanted.
    pub circulator: bool,
    /// Boiler called.
    pub boiler_call: bool,
}

/// What the controller tells whoever feeds the fire.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Told {
    /// Nothing.
    #[default]
    Nothing,
    /// To have so much wood in the fire.
    Light {
        /// Wood, kg.
        kg: f64,
        /// Within so long, s.
        within_s: f64,
    },
    /// To put on no more.
    NoMoreWood,
}

/// Things that go wrong; all may be switched at any time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Faults {
    /// The circulator does not turn and takes no power.
    pub circulator_dead: bool,
    /// The circulator turns but moves no water.
    pub air_locked: bool,
    /// The circulator's contact is welded shut.
    pub circulator_welded_on: bool,
    /// The boiler's contact is welded shut.
    pub boiler_welded_on: bool,
    /// The fire goes out and stays out.
    pub fire_out: bool,
    /// Nobody brings wood.
    pub no_fuel: bool,
    /// No electricity: circulator and damper still, whatever the relays say.
    pub power_off: bool,
}

impl Faults {
    /// What the relays' commands become: whether the circulator turns and whether the boiler is called.
    pub fn applied_to(&self, relays: Relays) -> Relays {
        let powered = !self.power_off;
        Relays {
            circulator: powered
                && !self.circulator_dead
                && (relays.circulator || self.circulator_welded_on),
            boiler_call: powered && (relays.boiler_call || self.boiler_welded_on),
        }
    }
}

/// The truth at the end of the last step; heat flows are means over it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TrueState {
    /// Water in the pipe at the supply sensor, °C; at rest it drifts to the house air.
    pub supply_c: f64,
    /// Water in the pipe at the return sensor, °C.
    pub return_c: f64,
    /// Whole slab, mean, °C.
    pub slab_mean_c: f64,
    /// Tube plane of the coldest zone, °C.
    pub slab_min_c: f64,
    /// Tube plane, mean, °C.
    pub slab_core_c: f64,
    /// Floor surface, mean, °C.
    pub slab_surface_c: f64,
    /// Slab at the sensor, mid-spacing, °C.
    pub slab_sensor_c: f64,
    /// House air, °C.
    pub air_c: f64,
    /// Outdoor air, °C.
    pub outdoor_c: f64,
    /// Barrels or beds, °C, if any.
    pub mass_c: Option<f64>,
    /// Tube plane of the store floor, mean, °C.
    pub store_floor_c: f64,
    /// Store air, °C.
    pub store_air_c: f64,
    /// Flow, L/s.
    pub flow_l_s: f64,
    /// Head, m.
    pub head_m: f64,
    /// Velocity in the house floor's tube, m/s.
    pub velocity_m_s: f64,
    /// Reynolds number there.
    pub reynolds: f64,
    /// Store floor to water, W; negative when the loop heats the store.
    pub earth_heat_w: f64,
    /// Water to house slab, W.
    pub slab_heat_w: f64,
    /// Boiler to loop, W.
    pub boiler_heat_w: f64,
    /// Electricity of the circulator, W.
    pub pump_w: f64,
    /// Boiler jacket, °C, if there is a boiler.
    pub boiler_water_c: Option<f64>,
    /// Wood left in the boiler, kg.
    pub fuel_kg: f64,
    /// Heat of the fire, W.
    pub fire_w: f64,
    /// Whether there is a fire.
    pub fire_alight: bool,
    /// Wood burnt since the start, kg.
    pub wood_kg: f64,
    /// What tending the fire has come to since the start.
    pub tended: Tended,
    /// Whether the circulator turned.
    pub circulator_runs: bool,
    /// Whether any tube has frozen solid: damage, for good.
    pub frozen: bool,
    /// Whether ice stops the flow now.
    pub blocked_by_ice: bool,
    /// Largest share of ice in any length of tube, 0..1.
    pub ice_fraction: f64,
}
