//! Pipe runs between store and manifold: loss to the surroundings, cooling at rest, time to freeze.
//!
//! Sources: ASHRAE Fundamentals, chapter on insulation (2009 ch. 23 eq. 1): time for still water to reach the freezing point,
//! no latent heat; quasi-steady inward freezing of a cylinder (Stefan) for the time to freeze solid; both per metre of pipe.

use super::config::RunConfig;
use super::film;
use super::fluid::Properties;
use super::water_column::{FUSION_J_KG, ICE_W_MK};
use core::f64::consts::PI;

/// Density of ice, kg/m³ (from memory).
pub const ICE_KG_M3: f64 = 917.0;

/// Resistance from the water's wall to the surroundings per metre: tube wall, insulation, outer surface, m K/W.
pub fn outer_resistance_mk_w(run: &RunConfig) -> f64 {
    let insulated_m = run.tube.outside_m + 2.0 * run.insulation_m;
    let insulation = if run.insulation_m > 0.0 {
        film::wall_resistance_mk_w(run.tube.outside_m, insulated_m, run.insulation_w_mk)
    } else {
        0.0
    };
    film::wall_resistance_mk_w(
        run.tube.inside_m,
        run.tube.outside_m,
        run.tube_conductivity_w_mk,
    ) + insulation
        + surface_resistance_mk_w(insulated_m, run.surface_w_m2k)
}

/// Resistance of an outer surface per metre, 1/(πDh), m K/W.
pub fn surface_resistance_mk_w(outside_m: f64, surface_w_m2k: f64) -> f64 {
    1.0 / (PI * outside_m * surface_w_m2k)
}

/// Resistance from water flowing at `flow_l_s` (0 = still) to the surroundings, m K/W.
pub fn run_resistance_mk_w(run: &RunConfig, fluid: &Properties, flow_l_s: f64) -> f64 {
    film::film_resistance_mk_w(fluid, &run.tube, run.length_m, flow_l_s)
        + outer_resistance_mk_w(run)
}

/// Time constant of a still run's water, ρ c π D²/4 R', s.
pub fn time_constant_s(capacity_j_mk: f64, resistance_mk_w: f64) -> f64 {
    capacity_j_mk * resistance_mk_w
}

/// Heat capacity of the water in a metre of tube, J/(m K).
pub fn water_capacity_j_mk(fluid: &Properties, inside_m: f64) -> f64 {
    PI / 4.0 * inside_m * inside_m * fluid.density_kg_m3 * fluid.heat_capacity_j_kgk
}

/// Time for a still pipe to cool from `start_c` to `target_c` beside `around_c`, s; `None` if it never does.
pub fn time_to_cool_s(
    time_constant_s: f64,
    start_c: f64,
    target_c: f64,
    around_c: f64,
) -> Option<f64> {
    (around_c < target_c && start_c >= target_c)
        .then(|| time_constant_s * libm::log((start_c - around_c) / (target_c - around_c)))
}

/// Time to freeze a pipe solid from 0 °C water, s; `around_c` below 0.
pub fn time_to_freeze_solid_s(inside_m: f64, resistance_mk_w: f64, around_c: f64) -> f64 {
    let radius_m = inside_m / 2.0;
    let per_kelvin =
        PI * radius_m * radius_m * resistance_mk_w + radius_m * radius_m / (4.0 * ICE_W_MK);
    ICE_KG_M3 * FUSION_J_KG * per_kelvin / -around_c
}

/// Temperature of flowing water at the end of a run, °C; `capacity_w_k` = mass flow × heat capacity.
pub fn outlet_c(
    inlet_c: f64,
    around_c: f64,
    length_m: f64,
    capacity_w_k: f64,
    resistance_mk_w: f64,
) -> f64 {
    around_c + (inlet_c - around_c) * libm::exp(-length_m / (capacity_w_k * resistance_mk_w))
}

/// Capacity flow that keeps the end of a run at `least_c`, W/K; `None` when even endless flow cannot or none is needed.
pub fn least_capacity_flow_w_k(
    inlet_c: f64,
    least_c: f64,
    around_c: f64,
    length_m: f64,
    resistance_mk_w: f64,
) -> Option<f64> {
    (around_c < least_c && least_c < inlet_c).then(|| {
        length_m / (resistance_mk_w * libm::log((inlet_c - around_c) / (least_c - around_c)))
    })
}

#[cfg(test)]
mod tests {
    use super::super::fluid::Fluid;
    use super::super::tube::Tube;
    use super::*;

    #[track_caller]
    fn close(got: f64, want: f64, relative: f64) {
        assert!(
            (got / want - 1.0).abs() <= relative,
            "got {got}, want {want}"
        );
    }

    #[test]
    fn ashrae_worked_pipe() {
        // NPS 2 (2.067/2.375 in), 1.5 in of insulation k 0.30 Btu·in/h·ft²·°F; water 62.4 lb/ft³; 42 °F; printed 1.4 and 4.6 h.
        let (inch, foot) = (0.0254, 0.3048);
        let conductivity = 0.30 * 0.144_228;
        let resistance = film::wall_resistance_mk_w(2.375 * inch, 5.375 * inch, conductivity);
        let density = 62.4 * 0.453_592 / (foot * foot * foot);
        let radius = 2.067 * inch / 2.0;
        let capacity = density * 4186.8 * PI * radius * radius;
        let celsius = |f: f64| (f - 32.0) / 1.8;
        for (around, computed, printed) in [(-18.0, 1.3785, 1.4), (20.0, 4.5829, 4.6)] {
            let hours = time_to_cool_s(
                time_constant_s(capacity, resistance),
                celsius(42.0),
                0.0,
                celsius(around),
            )
            .unwrap()
                / 3600.0;
            close(hours, computed, 1e-3);
            assert!((hours - printed).abs() < 0.05);
        }
    }

    fn half_inch(insulation_m: f64, surface_w_m2k: f64) -> RunConfig {
        RunConfig {
            tube: Tube::named("1/2 in").unwrap(),
            tube_conductivity_w_mk: 0.38,
            insulation_m,
            insulation_w_mk: 0.04,
            surface_w_m2k,
            ..RunConfig::default()
        }
    }

    #[test]
    fn half_inch_plastic_tube_in_the_cold() {
        let water = Fluid::Water.properties(7.0);
        let inside = Tube::named("1/2 in").unwrap().inside_m;
        let capacity = 501.74;
        close(water_capacity_j_mk(&water, inside), capacity, 3e-3);
        // Around °C, insulation m, h; R m K/W, h to 0 °C (water; with wall), 0 → −4 °C, then solid.
        for (around, insulation, film, [resistance, water_only, with_wall, supercool, solid]) in [
            (-10.0, 0.0, 10.0, [2.1113, 0.1561, 0.2090, 0.2012, 2.175]),
            (-10.0, 0.0, 25.0, [0.9083, 0.0672, 0.0899, 0.0866, 0.956]),
            (-10.0, 0.013, 10.0, [4.7256, 0.3495, 0.4678, 0.4504, 4.822]),
            (-10.0, 0.025, 10.0, [6.2514, 0.4623, 0.6189, 0.5958, 6.367]),
            (-20.0, 0.0, 10.0, [2.1113, 0.0883, 0.1182, 0.0879, 1.087]),
            (-20.0, 0.025, 10.0, [6.2514, 0.2615, 0.3500, 0.2602, 3.184]),
        ] {
            let run = half_inch(insulation, film);
            close(outer_resistance_mk_w(&run), resistance, 5e-4);
            let hours = |capacity: f64, from: f64, to: f64| {
                time_to_cool_s(time_constant_s(capacity, resistance), from, to, around).unwrap()
                    / 3600.0
            };
            close(hours(capacity, 7.0, 0.0), water_only, 1e-3);
            close(hours(capacity + 169.88, 7.0, 0.0), with_wall, 1e-3);
            close(hours(capacity + 169.88, 0.0, -4.0), supercool, 1e-3);
            close(
                time_to_freeze_solid_s(inside, resistance, around) / 3600.0,
                solid,
                2e-3,
            );
        }
        assert_eq!(time_to_cool_s(1.0, 7.0, 0.0, 1.0), None);
    }

    #[test]
    fn flowing_water_in_an_exposed_run() {
        // 5 m, windy, bare: least flow to keep 0.5 °C from 4 °C in.
        let resistance = outer_resistance_mk_w(&half_inch(0.0, 25.0));
        let specific = Fluid::Water.properties(4.0).heat_capacity_j_kgk;
        for (around, grams) in [(-10.0, 4.55), (-20.0, 8.31), (-30.0, 12.05)] {
            let flow = least_capacity_flow_w_k(4.0, 0.5, around, 5.0, resistance).unwrap();
            close(flow / specific * 1000.0, grams, 3e-3);
            close(outlet_c(4.0, around, 5.0, flow, resistance), 0.5, 1e-9);
        }
        // 7 °C in −10 °C wind: 18.7 W/m.
        close(17.0 / resistance, 18.7, 2e-3);
    }
}
