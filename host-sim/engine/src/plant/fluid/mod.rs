//! Properties of the liquid in the tube: water and glycol–water mixtures.
//!
//! Temperatures in °C, results in SI. Pure functions of temperature (and mixture); no pressure dependence, which is far below
//! the tolerance of any correlation used on top of them between 0 and 4 bar.
//!
//! Sources: water density and heat capacity are polynomials fitted here to IAPWS-95 (0–80 °C, within 6e-6 and 6e-5); viscosity
//! and conductivity are the closed forms of IAPWS SR6-08(2011), "Liquid Water at 0.1 MPa" (from memory, within 1.4e-4 of
//! IAPWS R12-08 and R15-11). Glycols: fits to Melinder, *Properties of Secondary Working Fluids for Indirect Systems* (IIR),
//! mass fractions, within 0.25 %; against printed inhibited-glycol tables expect 1 % (ρ, cp) and 10 % (μ).

/// The liquid in the circuit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fluid {
    /// Plain water.
    Water,
    /// Propylene glycol and water; the number is the mass fraction of glycol, 0.15–0.50.
    Propylene(f64),
    /// Ethylene glycol and water; the number is the mass fraction of glycol, 0.20–0.40.
    Ethylene(f64),
}

/// Properties at one temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Properties {
    /// Density, kg/m³.
    pub density_kg_m3: f64,
    /// Specific heat capacity at constant pressure, J/(kg K).
    pub heat_capacity_j_kgk: f64,
    /// Dynamic viscosity, Pa s.
    pub viscosity_pa_s: f64,
    /// Thermal conductivity, W/(m K).
    pub conductivity_w_mk: f64,
}

impl Properties {
    /// Prandtl number μ cp / k.
    pub fn prandtl(&self) -> f64 {
        self.viscosity_pa_s * self.heat_capacity_j_kgk / self.conductivity_w_mk
    }

    /// Heat capacity of a litre, J/(L K).
    pub fn heat_capacity_j_lk(&self) -> f64 {
        self.density_kg_m3 * self.heat_capacity_j_kgk / 1000.0
    }
}

impl Fluid {
    /// Properties at `t_c` °C. Fits hold from 0 °C (glycol: freezing point + 1 K) to 80 °C; outside they are extrapolated
    /// from the nearest end, so that a simulated fault gives a number and not nonsense.
    pub fn properties(self, t_c: f64) -> Properties {
        match self {
            Fluid::Water => water(t_c.clamp(-5.0, 100.0)),
            Fluid::Propylene(x) => propylene(x, t_c.clamp(self.freezing_c(), 100.0)),
            Fluid::Ethylene(x) => ethylene(x, t_c.clamp(0.0, 60.0)),
        }
    }

    /// Temperature at which the first ice forms, °C. Fits to Melinder for mass fractions 0.05–0.50 (within 0.015 K).
    pub fn freezing_c(self) -> f64 {
        match self {
            Fluid::Water => 0.0,
            Fluid::Propylene(x) => polynomial(x, &[0.0, -18.981, -117.79, 243.38, -379.08]),
            Fluid::Ethylene(x) => polynomial(x, &[0.0, -30.667, -10.824, -192.11, 96.933]),
        }
    }
}

fn polynomial(x: f64, coefficients: &[f64]) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

fn water(t: f64) -> Properties {
    const DENSITY: [f64; 6] = [
        999.899328,
        6.37555061e-2,
        -8.56393729e-3,
        7.28124972e-5,
        -5.16069290e-7,
        1.68032323e-9,
    ];
    const HEAT_CAPACITY: [f64; 6] = [
        4218.70009,
        -3.28366613,
        0.105491755,
        -1.72978391e-3,
        1.53916818e-5,
        -5.47938244e-8,
    ];
    // Both closed forms share the reduced temperature T/300 K.
    const VISCOSITY: [(f64, f64); 4] = [
        (280.68, -1.9),
        (511.45, -7.7),
        (61.131, -19.6),
        (0.45903, -40.0),
    ];
    const CONDUCTIVITY: [(f64, f64); 4] = [
        (1.6630, -1.15),
        (-1.7781, -3.4),
        (1.1567, -6.0),
        (-0.432115, -7.6),
    ];
    let reduced = (t + 273.15) / 300.0;
    let power_sum = |terms: &[(f64, f64); 4]| {
        terms
            .iter()
            .map(|&(a, b)| a * libm::pow(reduced, b))
            .sum::<f64>()
    };
    Properties {
        density_kg_m3: polynomial(t, &DENSITY),
        heat_capacity_j_kgk: polynomial(t, &HEAT_CAPACITY),
        viscosity_pa_s: 1.0e-6 * power_sum(&VISCOSITY),
        conductivity_w_mk: power_sum(&CONDUCTIVITY),
    }
}

/// Σ c_ij x^i (t/100)^j with one row of `rows` per power of x.
fn surface<const J: usize>(rows: &[[f64; J]], x: f64, t: f64) -> f64 {
    rows.iter()
        .rev()
        .fold(0.0, |sum, row| sum * x + polynomial(t / 100.0, row))
}

fn propylene(x: f64, t: f64) -> Properties {
    const DENSITY: [[f64; 3]; 3] = [
        [994.3602, 7.907163, -44.80744],
        [140.0915, -160.7489, 73.60332],
        [-52.9133, 65.81299, -43.02701],
    ];
    const HEAT_CAPACITY: [[f64; 3]; 3] = [
        [4123.932, 40.31633, 81.32174],
        [-664.4055, 908.6068, -539.118],
        [-1355.137, -450.5229, 747.5596],
    ];
    const CONDUCTIVITY: [[f64; 3]; 3] = [
        [0.5630765, 0.1908549, -0.07076907],
        [-0.4818596, -0.4900345, 0.3575167],
        [0.1100951, 0.4098789, -0.4144777],
    ];
    const LN_VISCOSITY_MPA_S: [[f64; 4]; 4] = [
        [0.676806, -3.398572, 2.365693, -0.8741373],
        [2.724032, -1.944428, 2.287412, -1.535836],
        [7.55252, -18.7744, 13.78027, -0.6284934],
        [-7.81627, 21.39448, -16.211, 0.2006897],
    ];
    Properties {
        density_kg_m3: surface(&DENSITY, x, t),
        heat_capacity_j_kgk: surface(&HEAT_CAPACITY, x, t),
        viscosity_pa_s: 1.0e-3 * libm::exp(surface(&LN_VISCOSITY_MPA_S, x, t)),
        conductivity_w_mk: surface(&CONDUCTIVITY, x, t),
    }
}

/// Ethylene glycol: the table (mass fraction 0.2/0.3/0.4 × 0/20/60 °C) interpolated quadratically in both directions
/// (ln μ for the viscosity), which passes through every table value.
fn ethylene(x: f64, t: f64) -> Properties {
    const FRACTION: [f64; 3] = [0.20, 0.30, 0.40];
    const TEMPERATURE: [f64; 3] = [0.0, 20.0, 60.0];
    const DENSITY: [[f64; 3]; 3] = [
        [1029.06, 1024.10, 1006.21],
        [1044.97, 1038.05, 1017.46],
        [1060.39, 1051.86, 1029.11],
    ];
    const HEAT_CAPACITY: [[f64; 3]; 3] = [
        [3860.8, 3896.2, 3969.3],
        [3658.1, 3718.3, 3828.7],
        [3434.2, 3519.0, 3669.7],
    ];
    const VISCOSITY_MPA_S: [[f64; 3]; 3] = [
        [3.178, 1.662, 0.697],
        [4.298, 2.166, 0.866],
        [5.811, 2.819, 1.082],
    ];
    const CONDUCTIVITY: [[f64; 3]; 3] = [
        [0.4841, 0.5077, 0.5483],
        [0.4459, 0.4649, 0.5002],
        [0.4099, 0.4253, 0.4553],
    ];
    let at = |table: &[[f64; 3]; 3]| {
        lagrange(
            &FRACTION,
            &table.map(|row| lagrange(&TEMPERATURE, &row, t)),
            x,
        )
    };
    Properties {
        density_kg_m3: at(&DENSITY),
        heat_capacity_j_kgk: at(&HEAT_CAPACITY),
        viscosity_pa_s: 1.0e-3 * libm::exp(at(&VISCOSITY_MPA_S.map(|row| row.map(libm::log)))),
        conductivity_w_mk: at(&CONDUCTIVITY),
    }
}

fn lagrange(nodes: &[f64; 3], values: &[f64; 3], x: f64) -> f64 {
    let [a, b, c] = *nodes;
    values[0] * (x - b) * (x - c) / ((a - b) * (a - c))
        + values[1] * (x - a) * (x - c) / ((b - a) * (b - c))
        + values[2] * (x - a) * (x - b) / ((c - a) * (c - b))
}

#[cfg(test)]
mod tests;
