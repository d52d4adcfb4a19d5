//! Head of a circuit, pump curve, operating point.
//!
//! Sources: Darcy–Weisbach with Churchill's friction factor (Chem. Eng. 84(24):91, 1977; one formula for all Reynolds
//! numbers, equal to `fluids.Churchill_1977`); fittings as velocity heads (Crane TP-410 form, from memory). Between
//! Re 2100 and 4000 the physics is undetermined, ±20 %.

use super::film;
use super::fluid::Properties;
use super::tube::Tube;

/// Standard gravity, m/s² (ISO 80000-3).
pub const GRAVITY_M_S2: f64 = 9.80665;

/// Slowest downward flow that still carries air bubbles along, m/s (2 ft/s; common practice).
pub const BUBBLES_CARRIED_DOWN_M_S: f64 = 0.6;
/// Slowest level or upward flow that carries bubbles, m/s (1.3 ft/s; common practice).
pub const BUBBLES_CARRIED_LEVEL_M_S: f64 = 0.4;
/// Fastest quiet flow in pipes up to 2 in, m/s (4 ft/s; ASHRAE, from memory).
pub const QUIET_M_S: f64 = 1.2;

/// What the velocity means for air and noise.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VelocityBand {
    /// Bubbles stay behind: the loop will not purge itself.
    LeavesAir,
    /// Level and rising runs purge, drops do not.
    CarriesAirLevel,
    /// Purges and is quiet.
    Good,
    /// Audible, and hard on bends.
    Noisy,
}

impl VelocityBand {
    /// Band of a mean velocity in m/s.
    pub fn of(velocity_m_s: f64) -> VelocityBand {
        if velocity_m_s < BUBBLES_CARRIED_LEVEL_M_S {
            VelocityBand::LeavesAir
        } else if velocity_m_s < BUBBLES_CARRIED_DOWN_M_S {
            VelocityBand::CarriesAirLevel
        } else if velocity_m_s <= QUIET_M_S {
            VelocityBand::Good
        } else {
            VelocityBand::Noisy
        }
    }
}

/// Churchill's Darcy friction factor; `relative_roughness` = ε/D. Re > 0.
pub fn friction_factor(reynolds: f64, relative_roughness: f64) -> f64 {
    let ln = libm::log(1.0 / (libm::pow(7.0 / reynolds, 0.9) + 0.27 * relative_roughness));
    let a = libm::pow(2.457 * ln, 16.0);
    let b = libm::pow(37530.0 / reynolds, 16.0);
    8.0 * libm::pow(
        libm::pow(8.0 / reynolds, 12.0) + libm::pow(a + b, -1.5),
        1.0 / 12.0,
    )
}

/// One run of equal tube: `parallel` equal circuits side by side, each `length_m` long with fittings worth `fittings_k`
/// velocity heads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// The tube.
    pub tube: Tube,
    /// Length of one circuit, m.
    pub length_m: f64,
    /// Absolute roughness, m (drawn plastic 1.5e-6).
    pub roughness_m: f64,
    /// Sum of loss coefficients of one circuit.
    pub fittings_k: f64,
    /// Number of equal circuits in parallel, ≥ 1.
    pub parallel: u32,
}

impl Stretch {
    /// Pressure drop at the total flow `flow_l_s`, Pa.
    pub fn pressure_drop_pa(&self, fluid: &Properties, flow_l_s: f64) -> f64 {
        if flow_l_s <= 0.0 {
            return 0.0;
        }
        let one_l_s = flow_l_s / f64::from(self.parallel);
        let velocity = self.tube.velocity_m_s(one_l_s);
        let reynolds = film::reynolds(fluid, &self.tube, one_l_s);
        let friction = friction_factor(reynolds, self.roughness_m / self.tube.inside_m);
        let dynamic = fluid.density_kg_m3 * velocity * velocity / 2.0;
        (friction * self.length_m / self.tube.inside_m + self.fittings_k) * dynamic
    }
}

/// Head of stretches in series, m of the liquid itself.
pub fn system_head_m(stretches: &[Stretch], fluid: &Properties, flow_l_s: f64) -> f64 {
    let drop: f64 = stretches
        .iter()
        .map(|s| s.pressure_drop_pa(fluid, flow_l_s))
        .sum();
    drop / (fluid.density_kg_m3 * GRAVITY_M_S2)
}

/// Pump curve H = H0 (1 − (Q/Q_runout)²).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PumpCurve {
    /// Head against a closed valve, m.
    pub shutoff_head_m: f64,
    /// Flow at no head, L/s.
    pub runout_l_s: f64,
}

impl PumpCurve {
    /// Head at `flow_l_s`, m; negative beyond runout.
    pub fn head_m(&self, flow_l_s: f64) -> f64 {
        let share = flow_l_s / self.runout_l_s;
        self.shutoff_head_m * (1.0 - share * share)
    }

    /// The curve at another speed (affinity laws: Q ∝ n, H ∝ n²).
    pub fn at_speed(&self, ratio: f64) -> PumpCurve {
        PumpCurve {
            shutoff_head_m: self.shutoff_head_m * ratio * ratio,
            runout_l_s: self.runout_l_s * ratio,
        }
    }
}

/// Flow at which the pump's head equals the system's, L/s. System head rises and pump head falls with flow, so there is one
/// such point; found by bisection to the last bits.
pub fn operating_flow_l_s(pump: &PumpCurve, stretches: &[Stretch], fluid: &Properties) -> f64 {
    let (mut low, mut high) = (0.0, pump.runout_l_s);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if pump.head_m(middle) > system_head_m(stretches, fluid, middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Power the pump passes to the water as flow work, ρ g H Q, W.
pub fn hydraulic_power_w(fluid: &Properties, flow_l_s: f64, head_m: f64) -> f64 {
    fluid.density_kg_m3 * GRAVITY_M_S2 * head_m * flow_l_s / 1000.0
}

/// Share of the electrical power that becomes flow work, 0..1.
pub fn wire_to_water(fluid: &Properties, flow_l_s: f64, head_m: f64, electrical_w: f64) -> f64 {
    hydraulic_power_w(fluid, flow_l_s, head_m) / electrical_w
}

#[cfg(test)]
mod tests;
