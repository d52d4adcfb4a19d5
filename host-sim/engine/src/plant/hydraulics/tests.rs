//! Reference: `fluids` 1.3.1 (Churchill 1977, Colebrook), IAPWS-95 water.

use super::super::fluid::Fluid;
use super::*;

const GPM: f64 = 3.785411784 / 60.0;

#[track_caller]
fn close(got: f64, want: f64, relative: f64) {
    assert!(
        (got / want - 1.0).abs() <= relative,
        "got {got}, want {want} within {relative}"
    );
}

fn circuit(fittings_k: f64) -> Stretch {
    Stretch {
        tube: Tube::METRIC_16X2,
        length_m: 86.0,
        roughness_m: 1.5e-6,
        fittings_k,
        parallel: 1,
    }
}

#[test]
fn churchill_values_and_colebrook_beside_them() {
    let relative = 1.5e-6 / 0.012319;
    for (reynolds, churchill) in [
        (1000.0, 0.064000),
        (2000.0, 0.032043),
        (2300.0, 0.030841),
        (3000.0, 0.043065),
        (4000.0, 0.040731),
        (4600.0, 0.039017),
        (5000.0, 0.038043),
        (1e4, 0.031216),
        (2e4, 0.026139),
        (5e4, 0.021265),
    ] {
        let got = friction_factor(reynolds, relative);
        assert!((got - churchill).abs() < 6e-7, "Re {reynolds}: {got}");
        if reynolds <= 2000.0 {
            close(got, 64.0 / reynolds, 2e-3);
        }
        if reynolds >= 4000.0 {
            let mut root = 5.0;
            for _ in 0..50 {
                root = -2.0 * libm::log10(relative / 3.7 + 2.51 * root / reynolds);
            }
            close(got, 1.0 / (root * root), 0.02);
        }
    }
}

#[test]
fn worked_circuit_of_86_metres() {
    let water = Fluid::Water.properties(7.0);
    for (flow, reynolds, friction, drop) in [
        (0.060, 4461.3, 0.039388, 39_721.5),
        (0.040, 2974.2, 0.042956, 19_253.5),
        (0.080, 5948.4, 0.036134, 64_782.1),
    ] {
        let re = film::reynolds(&water, &Tube::METRIC_16X2, flow);
        close(re, reynolds, 2e-4);
        close(friction_factor(re, 1.5e-6 / 0.012), friction, 2e-4);
        close(circuit(0.0).pressure_drop_pa(&water, flow), drop, 2e-4);
    }
    close(Tube::METRIC_16X2.velocity_m_s(0.060), 0.53052, 1e-5);
    close(system_head_m(&[circuit(0.0)], &water, 0.060), 4.0507, 2e-4);
    close(
        circuit(1.0).pressure_drop_pa(&water, 0.060) - circuit(0.0).pressure_drop_pa(&water, 0.060),
        140.7,
        1e-3,
    );
}

#[test]
fn pressure_per_metre_at_45_fahrenheit() {
    let water = Fluid::Water.properties(7.2222);
    for (name, one, two) in [
        ("3/8 in", 1804.6, 5968.6),
        ("1/2 in", 443.66, 1452.4),
        ("5/8 in", 185.47, 603.6),
        ("3/4 in", 89.64, 292.3),
        ("1 in", 21.6, 89.8),
    ] {
        let metre = Stretch {
            tube: Tube::named(name).unwrap(),
            length_m: 1.0,
            roughness_m: 1.5e-6,
            fittings_k: 0.0,
            parallel: 1,
        };
        close(metre.pressure_drop_pa(&water, GPM), one, 4e-3);
        close(metre.pressure_drop_pa(&water, 2.0 * GPM), two, 1e-3);
    }
    let half = Stretch {
        tube: Tube::named("1/2 in").unwrap(),
        length_m: 1.0,
        ..circuit(0.0)
    };
    for (t, want) in [(2.0, 466.9), (20.0, 399.7), (50.0, 335.7)] {
        close(
            half.pressure_drop_pa(&Fluid::Water.properties(t), GPM),
            want,
            1e-3,
        );
    }
    // Trade example: 4 gpm in 1/2 in tube, 0.208 psi/ft printed; between 60 and 45 °F the formula gives 0.203–0.215.
    let psi_per_ft = half.pressure_drop_pa(&water, 4.0 * GPM) * 0.3048 / 6894.757;
    assert!((0.200..0.218).contains(&psi_per_ft), "{psi_per_ft}");
}

#[test]
fn operating_points_of_a_small_circulator() {
    let water = Fluid::Water.properties(7.0);
    let pump = PumpCurve {
        shutoff_head_m: 4.5,
        runout_l_s: 2.4 / 3.6,
    };
    for (circuits, flow, head, power, efficiency) in [
        (1, 0.0610000, 4.46232, 2.6693, 0.05932),
        (2, 0.0412852, 4.48274, 1.8148, 0.04033),
    ] {
        let stretches = vec![circuit(20.0); circuits];
        let got = operating_flow_l_s(&pump, &stretches, &water);
        close(got, flow, 2e-4);
        close(pump.head_m(got), head, 1e-5);
        close(system_head_m(&stretches, &water, got), head, 1e-5);
        close(hydraulic_power_w(&water, got, head), power, 3e-4);
        close(wire_to_water(&water, got, head, 45.0), efficiency, 1e-3);
    }
}

#[test]
fn parallel_circuits_share_the_flow_and_speed_follows_the_affinity_laws() {
    let water = Fluid::Water.properties(7.0);
    let pair = Stretch {
        parallel: 2,
        ..circuit(0.0)
    };
    close(
        pair.pressure_drop_pa(&water, 0.120),
        circuit(0.0).pressure_drop_pa(&water, 0.060),
        1e-12,
    );
    let pump = PumpCurve {
        shutoff_head_m: 4.5,
        runout_l_s: 0.6,
    }
    .at_speed(0.5);
    assert_eq!((pump.shutoff_head_m, pump.runout_l_s), (1.125, 0.3));
    assert_eq!(circuit(0.0).pressure_drop_pa(&water, 0.0), 0.0);
}

#[test]
fn velocity_bands() {
    for (velocity, band) in [
        (0.3, VelocityBand::LeavesAir),
        (0.53, VelocityBand::CarriesAirLevel),
        (0.6, VelocityBand::Good),
        (1.3, VelocityBand::Noisy),
    ] {
        assert_eq!(VelocityBand::of(velocity), band);
    }
}
