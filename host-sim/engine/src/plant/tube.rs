//! Plastic tube sizes by their standard names.
//!
//! Inch sizes: ASTM F876/F877, SDR 9, inside diameter = outside diameter − 2 × minimum wall. Metric 16×2.0, 17×2.0, 20×2.0:
//! the usual EN 1264 / DIN floor-heating sizes; EN ISO 15875-2 series sizes beside them (both from memory). Real walls are a
//! little thicker than the minimum, so the inside diameter of the inch sizes is an upper value.

use core::f64::consts::PI;

/// One tube size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tube {
    /// Standard name, for example `16x2.0` or `1/2 in`.
    pub name: &'static str,
    /// Outside diameter, m.
    pub outside_m: f64,
    /// Inside diameter, m.
    pub inside_m: f64,
}

const fn tube(name: &'static str, outside_m: f64, wall_m: f64) -> Tube {
    Tube {
        name,
        outside_m,
        inside_m: outside_m - 2.0 * wall_m,
    }
}

impl Tube {
    /// Every size known by name, small to large within each series.
    pub const ALL: [Tube; 12] = [
        tube("3/8 in", 0.012700, 0.001778),
        tube("1/2 in", 0.015875, 0.001778),
        tube("5/8 in", 0.019050, 0.002108),
        tube("3/4 in", 0.022225, 0.002464),
        tube("1 in", 0.028575, 0.003175),
        tube("16x1.8", 0.0160, 0.0018),
        tube("16x2.0", 0.0160, 0.0020),
        tube("16x2.2", 0.0160, 0.0022),
        tube("17x2.0", 0.0170, 0.0020),
        tube("20x1.9", 0.0200, 0.0019),
        tube("20x2.0", 0.0200, 0.0020),
        tube("20x2.3", 0.0200, 0.0023),
    ];

    /// The size of that name; `×` and `x` are the same, blanks do not matter, nor whether an inch is `in`, `inch` or `"`.
    pub fn named(name: &str) -> Option<Tube> {
        let plain = |text: &str| -> String {
            text.chars()
                .filter(|c| !c.is_whitespace())
                .map(|c| {
                    if c == '×' || c == 'X' {
                        'x'
                    } else {
                        c.to_ascii_lowercase()
                    }
                })
                .collect()
        };
        let wanted = plain(name).replace("inch", "in").replace('"', "in");
        Tube::ALL
            .into_iter()
            .find(|tube| plain(tube.name) == wanted)
    }

    /// The 16 × 2.0 mm tube of the demo site.
    pub const METRIC_16X2: Tube = Tube::ALL[6];

    /// Wall thickness, m.
    pub fn wall_m(&self) -> f64 {
        (self.outside_m - self.inside_m) / 2.0
    }

    /// Flow cross-section, m².
    pub fn area_m2(&self) -> f64 {
        PI / 4.0 * self.inside_m * self.inside_m
    }

    /// Water in one metre, L/m.
    pub fn litres_per_m(&self) -> f64 {
        1000.0 * self.area_m2()
    }

    /// Mean velocity at `flow_l_s`, m/s.
    pub fn velocity_m_s(&self, flow_l_s: f64) -> f64 {
        flow_l_s / self.litres_per_m()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// US gallon per minute in L/s (NIST SP 811: 1 gal = 3.785412 L).
    const GPM: f64 = 3.785411784 / 60.0;

    /// Name, inside mm, area mm², L/m, gpm at 0.6 / 1.2 / 1.5 m/s: ASTM F876/F877 geometry, worked by hand.
    const SIZES: [(&str, [f64; 6]); 8] = [
        ("3/8 in", [9.144, 65.67, 0.0657, 0.625, 1.249, 1.561]),
        ("1/2 in", [12.319, 119.19, 0.1192, 1.134, 2.267, 2.834]),
        ("5/8 in", [14.834, 172.82, 0.1728, 1.644, 3.287, 4.109]),
        ("3/4 in", [17.297, 234.99, 0.2350, 2.235, 4.470, 5.587]),
        ("1 in", [22.225, 387.95, 0.3879, 3.689, 7.379, 9.224]),
        ("16x2.0", [12.0, 113.10, 0.1131, 1.076, 2.151, 2.689]),
        ("17x2.0", [13.0, 132.73, 0.1327, 1.262, 2.525, 3.156]),
        ("20x2.0", [16.0, 201.06, 0.2011, 1.912, 3.824, 4.780]),
    ];

    #[test]
    fn sizes_have_the_standard_bores_areas_and_volumes() {
        for (name, [inside, area, litres, slow, quiet, fast]) in SIZES {
            let tube = Tube::named(name).unwrap();
            assert!((tube.inside_m * 1e3 - inside).abs() < 6e-4, "{name}");
            assert!((tube.area_m2() * 1e6 - area).abs() < 0.02, "{name}");
            assert!((tube.litres_per_m() - litres).abs() < 6e-5, "{name}");
            for (velocity, gpm) in [(0.6, slow), (1.2, quiet), (1.5, fast)] {
                assert!(
                    (velocity * tube.litres_per_m() / GPM - gpm).abs() < 1.1e-3,
                    "{name} at {velocity}"
                );
            }
        }
    }

    #[test]
    fn names_are_found_however_they_are_typed() {
        assert_eq!(Tube::named("16 × 2.0"), Some(Tube::METRIC_16X2));
        assert_eq!(Tube::named("1/2in").unwrap().name, "1/2 in");
        assert_eq!(Tube::named("1/2\"").unwrap().name, "1/2 in");
        assert_eq!(Tube::named("3/4 inch").unwrap().name, "3/4 in");
        assert_eq!(Tube::named("18x2.0"), None);
    }
}
