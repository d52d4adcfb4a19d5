//! The air of the plant house: glazing, infiltration, sky, sun, vents, curtain, barrels.
//!
//! One well-mixed air node, solved implicitly together with the floor below it, so it may react in seconds while steps are a
//! minute. Sources: U-values and air changes of greenhouse practice (ASABE EP406, from memory), surface films ISO 6946,
//! longwave exchange as the sol-air temperature of ASHRAE Fundamentals (ε ΔR / h_o) with the horizontal infrared given.
//! Condensation on the glazing and the plants' transpiration are not modelled.

use super::OutdoorConditions;
use super::config::{HouseConfig, OutsideFilm, Vent};
use super::slab::AirCoupling;

/// Stefan–Boltzmann constant, W/(m² K⁴) (CODATA).
pub const STEFAN_BOLTZMANN: f64 = 5.670374e-8;
/// Outside film U-values are stated with, m² K/W (ISO 6946).
const STANDARD_OUTSIDE_M2K_W: f64 = 0.04;
/// Radiative coefficient of a black surface near 0 °C, 4σT³, W/(m² K).
const RADIATIVE_W_M2K: f64 = 4.62;
/// The curtain is drawn while less sun than this falls on a square metre of glazing, W/m².
const CURTAIN_W_M2: f64 = 5.0;

/// Time constant of a wax-cylinder vent opener, s (common practice, no source).
const VENT_LAG_S: f64 = 600.0;

/// Heat leaving the house over a step, W (negative: coming in).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct HouseFlows {
    /// Through the glazing by temperature difference.
    pub glazing_w: f64,
    /// From the glazing to the sky beyond that.
    pub sky_w: f64,
    /// With infiltrating air.
    pub infiltration_w: f64,
    /// Through open vents.
    pub vent_w: f64,
    /// Sun given to the air (a gain).
    pub sun_air_w: f64,
    /// Sun given to the floor (a gain).
    pub sun_floor_w: f64,
}

/// Air node and thermal mass.
#[derive(Clone, Debug, PartialEq)]
pub struct House {
    config: HouseConfig,
    glazing_m2: f64,
    /// Infiltration, curtain open and drawn, W/K.
    infiltration_w_k: [f64; 2],
    /// U-value less its standard outside film, open and drawn, m² K/W.
    inner_m2k_w: [f64; 2],
    vent_w_k: f64,
    /// How far the vents are open, 0..1.
    opening: f64,
    air_j_k: f64,
    air_c: f64,
    mass_c: f64,
}

/// What the weather does to the house in a step, before the air's temperature is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Envelope {
    glazing_w_k: f64,
    infiltration_w_k: f64,
    vent_w_k: f64,
    outdoor_c: f64,
    sky_w: f64,
    sun_air_w: f64,
    /// Sun on the floor, W.
    pub sun_floor_w: f64,
}

impl House {
    /// Air and mass at `start_c`.
    pub fn new(config: &HouseConfig, start_c: f64) -> House {
        let curtain = config.curtain;
        let u = [
            config.glazing_u_w_m2k,
            curtain.map_or(config.glazing_u_w_m2k, |c| c.u_w_m2k),
        ];
        let changes = [
            config.air_changes_per_h,
            curtain.map_or(config.air_changes_per_h, |c| c.air_changes_per_h),
        ];
        House {
            glazing_m2: config.glazing_area_m2(),
            infiltration_w_k: changes.map(|n| config.infiltration_w_k(n)),
            inner_m2k_w: u.map(|u| 1.0 / u - STANDARD_OUTSIDE_M2K_W),
            vent_w_k: config
                .vent
                .map_or(0.0, |v| config.infiltration_w_k(v.air_changes_per_h)),
            air_j_k: config.volume_m3() * config.air_heat_capacity_j_m3k,
            opening: 0.0,
            air_c: start_c,
            mass_c: start_c,
            config: config.clone(),
        }
    }

    /// Air, °C.
    #[inline]
    pub fn air_c(&self) -> f64 {
        self.air_c
    }

    /// Moves the air, K.
    pub(super) fn shift_air(&mut self, kelvin: f64) {
        self.air_c += kelvin;
    }

    /// Moves barrels or beds, K.
    pub(super) fn shift_mass(&mut self, kelvin: f64) {
        self.mass_c += kelvin;
    }

    /// Barrels or beds, °C, if there are any.
    pub fn mass_c(&self) -> Option<f64> {
        self.config.mass.map(|_| self.mass_c)
    }

    /// Envelope conductances and gains under this weather.
    #[inline]
    pub fn envelope(&self, outdoor: &OutdoorConditions) -> Envelope {
        let drawn = usize::from(
            self.config.curtain.is_some()
                && outdoor.solar_incident_w < CURTAIN_W_M2 * self.glazing_m2,
        );
        let film_m2k_w = match self.config.outside_film {
            OutsideFilm::Standard => STANDARD_OUTSIDE_M2K_W,
            OutsideFilm::Wind => {
                1.0 / (4.0
                    + 4.0 * outdoor.wind_m_s.max(0.0)
                    + self.config.emissivity * RADIATIVE_W_M2K)
            }
        };
        let u_w_m2k = 1.0 / (self.inner_m2k_w[drawn] + film_m2k_w);
        let kelvin = outdoor.air_c + 273.15;
        let deficit_w_m2 =
            STEFAN_BOLTZMANN * kelvin * kelvin * kelvin * kelvin - outdoor.infrared_w_m2;
        let sun_w = outdoor.solar_incident_w * self.config.transmittance;
        Envelope {
            glazing_w_k: u_w_m2k * self.glazing_m2,
            infiltration_w_k: self.infiltration_w_k[drawn],
            vent_w_k: self.vent_w_k * self.opening,
            outdoor_c: outdoor.air_c,
            // The glazing's outside surface is colder by εΔR/h_o; U times that is what more goes out.
            sky_w: u_w_m2k
                * film_m2k_w
                * self.glazing_m2
                * self.config.sky_view
                * self.config.emissivity
                * deficit_w_m2,
            sun_air_w: sun_w * self.config.sun_to_air,
            sun_floor_w: sun_w * self.config.sun_to_floor,
        }
    }

    /// Solves the air's balance with the floor's coupling and `other_w` of further gains. Returns the flows.
    #[inline]
    pub fn solve(
        &mut self,
        dt_s: f64,
        envelope: &Envelope,
        floor: &AirCoupling,
        other_w: f64,
    ) -> HouseFlows {
        let outside_w_k = envelope.glazing_w_k + envelope.infiltration_w_k + envelope.vent_w_k;
        let storage = self.air_j_k / dt_s;
        let mut conductance = storage + floor.air_w_k + outside_w_k;
        let mut source = storage * self.air_c + floor.source_w + outside_w_k * envelope.outdoor_c
            - envelope.sky_w
            + envelope.sun_air_w
            + other_w;
        let mass = self.config.mass.map(|mass| {
            let storage = mass.heat_capacity_j_k / dt_s;
            (
                storage,
                mass.exchange_w_k,
                1.0 / (storage + mass.exchange_w_k),
            )
        });
        if let Some((storage, exchange, inverse)) = mass {
            // The mass eliminated: exchange × storage / (storage + exchange) to its old temperature.
            conductance += exchange * storage * inverse;
            source += exchange * storage * inverse * self.mass_c;
        }
        self.air_c = source / conductance;
        if let Some((storage, exchange, inverse)) = mass {
            self.mass_c = (storage * self.mass_c + exchange * self.air_c) * inverse;
        }
        if let Some(vent) = &self.config.vent {
            self.opening +=
                (vent_share(vent, self.air_c) - self.opening) * dt_s / (VENT_LAG_S + dt_s);
        }
        let difference = self.air_c - envelope.outdoor_c;
        HouseFlows {
            glazing_w: envelope.glazing_w_k * difference,
            sky_w: envelope.sky_w,
            infiltration_w: envelope.infiltration_w_k * difference,
            vent_w: envelope.vent_w_k * difference,
            sun_air_w: envelope.sun_air_w,
            sun_floor_w: envelope.sun_floor_w,
        }
    }

    /// Heat stored in air and mass above 0 °C, J.
    pub fn stored_j(&self) -> f64 {
        self.air_j_k * self.air_c
            + self
                .config
                .mass
                .map_or(0.0, |m| m.heat_capacity_j_k * self.mass_c)
    }
}

fn vent_share(vent: &Vent, air_c: f64) -> f64 {
    ((air_c - vent.opens_c) / (vent.full_c - vent.opens_c).max(0.1)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests;
