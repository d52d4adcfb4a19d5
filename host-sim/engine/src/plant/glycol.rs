//! How much glycol keeps a loop liquid.
//!
//! The freezing point is that of [`Fluid::freezing_c`] (Melinder); densities of the pure glycols at 20 °C from the CRC Handbook
//! (from memory). The dose is the share whose first ice forms at the wanted temperature: slush, which still flows, not a burst
//! pipe, begins there.

use super::fluid::Fluid;

/// Mass fraction meant where only "glycol" is said (common practice, no source).
pub const USUAL_SHARE: f64 = 0.3;

/// Temperature at which liquids are measured out, °C.
const FILLING_C: f64 = 20.0;
/// Pure propylene glycol at 20 °C, kg/m³.
const PROPYLENE_KG_M3: f64 = 1036.0;
/// Pure ethylene glycol at 20 °C, kg/m³.
const ETHYLENE_KG_M3: f64 = 1113.0;

/// Which glycol.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Glycol {
    /// Propylene glycol, little poisonous.
    Propylene,
    /// Ethylene glycol, thinner and poisonous.
    Ethylene,
}

impl Glycol {
    /// A mixture with this mass fraction.
    pub fn mixed(self, share: f64) -> Fluid {
        match self {
            Glycol::Propylene => Fluid::Propylene(share),
            Glycol::Ethylene => Fluid::Ethylene(share),
        }
    }

    /// Mass fractions with known properties: least, most.
    pub const fn shares(self) -> (f64, f64) {
        match self {
            Glycol::Propylene => (0.15, 0.50),
            Glycol::Ethylene => (0.20, 0.40),
        }
    }

    /// Least known mass fraction whose freezing point is at or below `freezing_c`; `None` if even the most is not enough.
    pub fn share_for(self, freezing_c: f64) -> Option<f64> {
        let (least, most) = self.shares();
        if self.mixed(most).freezing_c() > freezing_c {
            return None;
        }
        if self.mixed(least).freezing_c() <= freezing_c {
            return Some(least);
        }
        let (mut low, mut high) = (least, most);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.mixed(middle).freezing_c() <= freezing_c {
                high = middle;
            } else {
                low = middle;
            }
        }
        Some(high)
    }

    /// Pure glycol to put in for a mass fraction, as a share of the loop's volume at 20 °C.
    pub fn share_by_volume(self, share: f64) -> f64 {
        let pure = match self {
            Glycol::Propylene => PROPYLENE_KG_M3,
            Glycol::Ethylene => ETHYLENE_KG_M3,
        };
        share * self.mixed(share).properties(FILLING_C).density_kg_m3 / pure
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn printed_tables_of_propylene_glycol() {
        // ASHRAE Fundamentals ch. 31, inhibited propylene glycol, mass % and °C as printed.
        for (share, printed_c) in [
            (0.20, -7.1),
            (0.25, -9.6),
            (0.30, -12.7),
            (0.35, -16.4),
            (0.40, -21.1),
        ] {
            let got = Glycol::Propylene.share_for(printed_c).unwrap();
            // A kelvin of the table is worth 0.012 of share or less.
            assert!((got - share).abs() < 0.012, "{printed_c}: {got}");
        }
        // Lange's Handbook of Chemistry, propylene glycol by volume.
        for (volume, printed_c) in [(0.20, -6.7), (0.30, -12.8), (0.40, -20.6)] {
            let share = Glycol::Propylene.share_for(printed_c).unwrap();
            let got = Glycol::Propylene.share_by_volume(share);
            assert!((got - volume).abs() < 0.02, "{printed_c}: {got}");
        }
    }

    #[test]
    fn printed_table_of_ethylene_glycol() {
        // Mass %, then Melinder through CoolProp 8.0.0 (INCOMP::MEG), and ASHRAE Fundamentals ch. 31 from memory, whose 40 %
        // lies 1.5 K higher.
        for (share, melinder_c, ashrae_c) in [
            (0.20, -7.95, -7.8),
            (0.30, -14.58, -14.1),
            (0.40, -23.81, -22.3),
        ] {
            for (freezing_c, within) in [(melinder_c, 0.001), (ashrae_c, 0.015)] {
                // The least known share stands for anything milder.
                let got = Glycol::Ethylene.share_for(freezing_c);
                let got = got.unwrap_or(Glycol::Ethylene.shares().1);
                assert!((got - share).abs() < within, "{freezing_c}: {got}");
            }
        }
    }

    #[test]
    fn no_share_is_made_up() {
        assert_eq!(Glycol::Propylene.share_for(-40.0), None);
        assert_eq!(Glycol::Ethylene.share_for(-30.0), None);
        assert_eq!(Glycol::Propylene.share_for(0.0), Some(0.15));
    }
}
