//! Sizing the expansion vessel of the loop.
//!
//! Sources: ASHRAE HVAC Systems handbook, diaphragm tank (absolute pressures); EN 12828 (gauge pressures in bar, water
//! reserve 0.5 % but at least 3 L, and 20 % for small systems under 15 L of expansion volume).

use super::fluid::Fluid;

/// Relative growth of the liquid's volume from `cold_c` to `hot_c`, v2/v1 − 1.
pub fn liquid_expansion(fluid: Fluid, cold_c: f64, hot_c: f64) -> f64 {
    fluid.properties(cold_c).density_kg_m3 / fluid.properties(hot_c).density_kg_m3 - 1.0
}

/// ASHRAE diaphragm tank volume, in the unit of `system_volume`.
/// `liquid` = v2/v1 − 1; `piping_per_k` linear expansion of the piping (0 for tube cast in concrete: conservative);
/// `rise_k` temperature rise; pressures absolute, any one unit, `cold` < `hot`.
pub fn diaphragm_tank(
    system_volume: f64,
    liquid: f64,
    piping_per_k: f64,
    rise_k: f64,
    cold_absolute: f64,
    hot_absolute: f64,
) -> f64 {
    system_volume * (liquid - 3.0 * piping_per_k * rise_k) / (1.0 - cold_absolute / hot_absolute)
}

/// EN 12828 nominal vessel volume with a water reserve of 0.5 % or 3 L, L. Pressures bar gauge.
pub fn vessel_with_reserve_l(
    system_l: f64,
    expansion_l: f64,
    precharge_bar: f64,
    final_bar: f64,
) -> f64 {
    let reserve_l = (0.005 * system_l).max(3.0);
    (expansion_l + reserve_l) * (final_bar + 1.0) / (final_bar - precharge_bar)
}

/// EN 12828 nominal volume by the 20 % rule for vessels under 15 L, L; `None` when the pressures leave no room.
pub fn small_vessel_l(expansion_l: f64, precharge_bar: f64, final_bar: f64) -> Option<f64> {
    let usable = (final_bar - precharge_bar) / (final_bar + 1.0) - 0.2;
    (usable > 0.0).then(|| expansion_l / usable)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn close(got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance, "got {got}, want {want}");
    }

    /// Standard atmosphere, psi.
    const ATMOSPHERE_PSI: f64 = 14.696;

    #[test]
    fn ashrae_worked_values() {
        // Handbook data: 1000 gal of water, 40 → 200 °F, steel, 12 to 27 psig.
        let liquid = 0.016637 / 0.01602 - 1.0;
        close(liquid - 3.0 * 6.5e-6 * 160.0, 0.035394, 1e-6);
        let tank = diaphragm_tank(
            1000.0,
            liquid,
            6.5e-6,
            160.0,
            12.0 + ATMOSPHERE_PSI,
            27.0 + ATMOSPHERE_PSI,
        );
        close(tank, 98.387, 0.005);
    }

    #[test]
    fn expansion_of_water_and_glycol() {
        for (hot, want) in [(40.0, 0.007825), (60.0, 0.017071), (80.0, 0.029006)] {
            close(liquid_expansion(Fluid::Water, 4.0, hot), want, 2e-5);
        }
        close(
            liquid_expansion(Fluid::Propylene(0.3), 4.0, 60.0),
            0.029056,
            5e-4,
        );
    }

    #[test]
    fn a_sixty_litre_loop() {
        let expansion_l = 60.0 * liquid_expansion(Fluid::Water, 4.0, 60.0);
        close(expansion_l, 1.0242, 2e-3);
        let tank = diaphragm_tank(
            60.0,
            expansion_l / 60.0,
            0.0,
            56.0,
            12.0 + ATMOSPHERE_PSI,
            27.0 + ATMOSPHERE_PSI,
        );
        close(tank, 2.847, 5e-3);
        close(vessel_with_reserve_l(60.0, 1.0242, 0.7, 2.5), 7.825, 1e-3);
        close(small_vessel_l(1.0242, 0.7, 2.5).unwrap(), 3.26, 0.01);
        assert_eq!(small_vessel_l(1.0, 2.0, 2.1), None);
    }
}
