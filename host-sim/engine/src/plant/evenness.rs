//! How even a floor becomes along its tube: the steady state of a tube in a floor with a local heat balance.
//!
//! Every metre of tube passes g (θ_water − θ_floor) to its strip of floor, which loses u θ_floor to the surroundings; heat does
//! not run along the floor. θ is the excess over the surroundings. To and fro that is one exponential; as a double spiral, where
//! a warm and a cool tube share each strip, a hyperbolic cosine. Closed forms derived here; checked against the same balance
//! relaxed on 200 zones (`exchanger/tests.rs`).

use super::exchanger::{Layout, effectiveness};

/// Steady floor per kelvin of the water's excess at the inlet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Evenness {
    /// Heat to the floor, W/K.
    pub heat_w_k: f64,
    /// Excess of the warmest strip, 0..1: where the water enters.
    pub warmest: f64,
    /// Excess of the coldest strip, 0..1: the end of a serpentine, the centre of a spiral.
    pub coldest: f64,
}

/// A floor of `length_m` of tube, `tube_w_mk` from water to floor per metre (1/R'), `loss_w_mk` from floor to surroundings per
/// metre of tube (loss per floor area × spacing), water of `capacity_w_k`.
pub fn evenness(
    layout: Layout,
    length_m: f64,
    tube_w_mk: f64,
    loss_w_mk: f64,
    capacity_w_k: f64,
) -> Evenness {
    let floor_share = tube_w_mk / (tube_w_mk + loss_w_mk);
    match layout {
        Layout::Serpentine => {
            let units = floor_share * loss_w_mk * length_m / capacity_w_k;
            Evenness {
                heat_w_k: capacity_w_k * effectiveness(units),
                warmest: floor_share,
                coldest: floor_share * libm::exp(-units),
            }
        }
        Layout::CounterFlow => {
            let slope = (loss_w_mk / (tube_w_mk + loss_w_mk)).sqrt();
            let half = tube_w_mk / capacity_w_k * slope * length_m / 2.0;
            let centre = 2.0 / (libm::cosh(half) + slope * libm::sinh(half));
            Evenness {
                heat_w_k: capacity_w_k * slope * centre * libm::sinh(half),
                warmest: 0.5 * floor_share * centre * libm::cosh(half),
                coldest: 0.5 * floor_share * centre,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hand calculation in another program, which a march over 400 segments follows to five digits: 86 m of R' 0.289166 m K/W,
    /// C 252.0017 W/K; loss W/(m K), then heat W/K, warmest and coldest of serpentine and spiral.
    const WORKED: [(f64, [f64; 3], [f64; 3]); 2] = [
        (
            2.25,
            [93.7405, 0.60583, 0.38047],
            [91.7329, 0.49557, 0.46340],
        ),
        (
            0.75,
            [47.8014, 0.82178, 0.66590],
            [47.0831, 0.74501, 0.72247],
        ),
    ];

    #[test]
    fn both_layouts_are_as_worked_by_hand() {
        for (loss, serpentine, spiral) in WORKED {
            for (layout, [heat, warmest, coldest]) in [
                (Layout::Serpentine, serpentine),
                (Layout::CounterFlow, spiral),
            ] {
                let got = evenness(layout, 86.0, 1.0 / 0.289166, loss, 252.0017);
                assert!((got.heat_w_k - heat).abs() < 1e-3, "{got:?}");
                assert!((got.warmest - warmest).abs() < 1e-5, "{got:?}");
                assert!((got.coldest - coldest).abs() < 1e-5, "{got:?}");
            }
        }
    }

    #[test]
    fn heat_given_is_heat_lost() {
        // Serpentine: the strips' losses integrate to the heat, u L (warmest − coldest)/ln(warmest/coldest).
        let got = evenness(Layout::Serpentine, 86.0, 3.458, 1.28, 252.0);
        let mean = (got.warmest - got.coldest) / libm::log(got.warmest / got.coldest);
        assert!((1.28 * 86.0 * mean / got.heat_w_k - 1.0).abs() < 1e-9);
    }
}
