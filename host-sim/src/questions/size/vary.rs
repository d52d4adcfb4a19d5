//! The same check over a range of one key.

use std::fmt;

use rayon::prelude::*;
use serde::Serialize;

use super::lines::Verdict;
use super::{Asked, Check, Shown};
use crate::files::quantity::{self, Dimension, Units};
use crate::files::site::{ChangeError, Changeable, Setting, SiteConfig};

/// Fewest and most points of a sweep.
const POINTS: (usize, usize) = (2, 50);

/// A sweep as asked for: `KEY=FROM..TO UNIT` or `KEY=VALUE, VALUE, …`.
#[derive(Clone, Debug)]
pub struct Vary {
    key: Changeable,
    settings: Vec<Setting>,
}

/// Why a sweep cannot be made, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct VaryError(String);

impl fmt::Display for VaryError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for VaryError {}

impl From<ChangeError> for VaryError {
    fn from(error: ChangeError) -> Self {
        Self(error.to_string())
    }
}

/// A finished sweep.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sweep {
    /// The key, or both.
    pub key: String,
    /// Unit of the points' numbers; empty for words and pure numbers.
    pub unit: &'static str,
    /// What the key measures; `None` for whole numbers and words.
    #[serde(skip)]
    pub dimension: Option<Dimension>,
    /// What else moves with it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<&'static str>,
    /// The points in order.
    pub points: Vec<SweepPoint>,
}

/// One point of a sweep, SI.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SweepPoint {
    /// The value as the site file writes it.
    pub setting: String,
    /// The value as a number in the key's base unit; `None` for words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<f64>,
    /// Length of a circuit in the slab, m.
    pub circuit_length_m: f64,
    /// Flow, L/s.
    pub flow_l_s: f64,
    /// Velocity in the slab's tube, m/s.
    pub velocity_m_s: f64,
    /// Reynolds number there.
    pub reynolds: f64,
    /// The loop's conductance, W/K.
    pub conductance_w_k: f64,
    /// Outdoors a fresh store holds the slab in, °C.
    pub slab_outdoor_c: f64,
    /// The same after a week without pause, °C.
    pub tired_outdoor_c: f64,
    /// Outdoors a fresh store holds the air in, °C.
    pub air_outdoor_c: f64,
    /// Heat the boiler must bring on the design night, W.
    pub backup_w: f64,
    /// The worst of its lines.
    pub verdict: Verdict,
    /// How many points there are to look at; what is said of like parts counts once.
    pub look_at: usize,
    /// Keys of the lines that say it will not work.
    pub will_not_work: Vec<String>,
}

impl Vary {
    /// Reads what was typed; a range gets `points` points.
    ///
    /// # Errors
    /// No key, no such key, no value, a value that is none of the key's, an empty range.
    pub fn parse(text: &str, points: usize) -> Result<Self, VaryError> {
        let form =
            "expected KEY=FROM..TO UNIT or KEY=VALUE, VALUE, such as \"spacing=0.15..0.30 m\"";
        let Some((name, values)) = text.split_once('=') else {
            return Err(VaryError(format!("found \"{text}\"; {form}")));
        };
        let key = Changeable::find(name)?;
        let values = values.trim().replace('\u{2212}', "-");
        if values.is_empty() {
            return Err(VaryError(format!(
                "found no values for {}; {form}",
                key.name()
            )));
        }
        let settings = match values.split_once("..") {
            Some((from, to)) => range(&key, from.trim(), to.trim(), points)?,
            None => key.typed(&values),
        };
        if settings.len() < POINTS.0 || settings.iter().all(|setting| *setting == settings[0]) {
            return Err(VaryError(format!(
                "found the one value \"{values}\" for {}; expected two different ones at least, such as \"spacing=0.15..0.30 m\"",
                key.name()
            )));
        }
        if settings.len() > POINTS.1 {
            return Err(VaryError(format!(
                "found {} values; expected {} at most",
                settings.len(),
                POINTS.1
            )));
        }
        Ok(Self { key, settings })
    }

    /// Checks every point.
    ///
    /// # Errors
    /// A value out of the key's range, or one with which the site could not be built; the first of them.
    pub fn run(&self, site: &SiteConfig, asked: &Asked) -> Result<Sweep, VaryError> {
        let sites = self
            .settings
            .iter()
            .map(|setting| self.site(site, setting))
            .collect::<Result<Vec<_>, _>>()?;
        let points = self
            .settings
            .par_iter()
            .zip(&sites)
            .map(|(setting, changed)| self.point(setting, changed, asked))
            .collect();
        let dimension = self.key.dimension();
        Ok(Sweep {
            key: self.key.name(),
            unit: dimension.map_or("", Dimension::base_unit),
            dimension,
            note: Some(if self.key.is_laying() {
                "the circuits' length follows, so that they serve the same floor; every other key stays as it is"
            } else if self.key.is_length_of_circuit() {
                "spacing and number of circuits stay as they are, so that more or less of the floor has tube"
            } else {
                "every other key stays as it is, the circuits' length and spacing too"
            }),
            points,
        })
    }

    /// The site with one value, or why it cannot be.
    fn site(&self, site: &SiteConfig, setting: &Setting) -> Result<SiteConfig, VaryError> {
        let at =
            |error: ChangeError| VaryError(format!("at {} = {setting}: {error}", self.key.name()));
        let mut changed = self.key.put(site, setting).map_err(at)?;
        let floors = [
            (&site.plant.floor, &mut changed.plant.floor),
            (&site.plant.store.floor, &mut changed.plant.store.floor),
        ];
        for (before, after) in floors {
            // Unless the length itself is varied, the same floor is served.
            if after.circuit_length_m == before.circuit_length_m {
                after.circuit_length_m *= before.heated_area_m2() / after.heated_area_m2();
            }
        }
        changed.check_relations().map_err(at)?;
        Ok(changed)
    }

    fn point(&self, setting: &Setting, site: &SiteConfig, asked: &Asked) -> SweepPoint {
        let check = Check::of(&site.plant, &asked.question(&site.plant));
        let shown = Shown::new(&check, None, Units::Si);
        let of = |verdict| {
            shown
                .points
                .iter()
                .filter(move |line| line.verdict == verdict)
        };
        let floor = &check.floors[0];
        let base = &check.balance[0];
        SweepPoint {
            setting: setting.to_string(),
            number: self.key.number(site),
            circuit_length_m: floor.circuit_length_m,
            flow_l_s: check.pump.flow_l_s,
            velocity_m_s: floor.velocity_m_s,
            reynolds: floor.reynolds,
            conductance_w_k: check.heat.conductance_w_k,
            slab_outdoor_c: base.slab.outdoor_c,
            tired_outdoor_c: check.tired().outdoor_c,
            air_outdoor_c: base.air.outdoor_c,
            backup_w: check.backup.needed_w,
            verdict: shown.verdict,
            look_at: of(Verdict::Look).count() + of(Verdict::Caution).count(),
            will_not_work: of(Verdict::WillNotWork)
                .map(|line| line.key.clone())
                .collect(),
        }
    }
}

/// The points of a range.
fn range(key: &Changeable, from: &str, to: &str, points: usize) -> Result<Vec<Setting>, VaryError> {
    if key.is_count() {
        let whole = |text: &str| {
            text.parse::<u32>().map_err(|_| {
                VaryError(format!(
                    "found \"{text}\"; expected a whole number for {}",
                    key.name()
                ))
            })
        };
        let (from, to) = (whole(from)?, whole(to)?);
        let (least, most) = (from.min(to), from.max(to));
        // Far more than would be taken; the caller says how many are.
        return Ok((least..=most)
            .take(10 * POINTS.1)
            .map(|count| key.written(f64::from(count)))
            .collect());
    }
    let Some(dimension) = key.dimension() else {
        return Err(VaryError(format!(
            "found the range \"{from}..{to}\"; expected words for {}, with commas between them",
            key.name()
        )));
    };
    // The unit may stand once, at the end.
    let unit = quantity::unit_of(to);
    let from = if quantity::unit_of(from).is_empty() {
        format!("{from} {unit}")
    } else {
        from.to_owned()
    };
    let number = |text: &str| {
        quantity::parse(text, dimension)
            .map_err(|error| VaryError(format!("{}: {error}", key.name())))
    };
    let (from, to) = (number(&from)?, number(to)?);
    let points = points.clamp(POINTS.0, POINTS.1);
    Ok((0..points)
        .map(|point| {
            let share = point as f64 / (points - 1) as f64;
            key.written(four_digits(from + (to - from) * share))
        })
        .collect())
}

/// What a person would have written.
fn four_digits(value: f64) -> f64 {
    format!("{value:.3e}").parse().unwrap_or(value)
}
