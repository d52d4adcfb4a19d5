//! A set of settings that is tried, and its way to and from a point in the unit cube.

use controller_core::settings::{Key, RawSettings, Settings};

use super::parameters::{self, Parameter};

/// How far a refused candidate is drawn back, in parts of the way to the starting settings.
const PARTS: u32 = 8;

/// What is searched: the starting settings and what may change of them.
#[derive(Clone, Debug)]
pub struct Space {
    base: Settings,
    parameters: Vec<Parameter>,
}

/// One set of settings to try; it has passed every check.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Candidate(Settings);

impl Space {
    /// Around these settings.
    #[must_use]
    pub fn new(base: Settings) -> Self {
        let parameters = parameters::of_use(base.raw());
        Self { base, parameters }
    }

    /// The settings started from.
    #[must_use]
    pub fn base(&self) -> Candidate {
        Candidate(self.base.clone())
    }

    /// What may change.
    #[must_use]
    pub fn parameters(&self) -> &[Parameter] {
        &self.parameters
    }

    /// The settings at a point of the unit cube: values on their grids, and a value within half a step of the starting
    /// one is that one. What breaks a relation is drawn towards the starting settings until it holds, so that the
    /// search needs to know no relation.
    #[must_use]
    pub fn candidate(&self, point: &[f64]) -> Candidate {
        let start: Vec<f64> = self.point(&self.base());
        for part in 0..PARTS {
            let share = f64::from(part) / f64::from(PARTS);
            let drawn = point
                .iter()
                .zip(&start)
                .map(|(at, home)| at + (home - at) * share);
            let mut raw = *self.base.raw();
            for (parameter, place) in self.parameters.iter().zip(drawn) {
                self.put(&mut raw, parameter, parameter.at(place));
            }
            if let Ok(settings) = Settings::check(raw) {
                return Candidate(settings);
            }
        }
        self.base()
    }

    /// The place of settings in the unit cube.
    #[must_use]
    pub fn point(&self, candidate: &Candidate) -> Vec<f64> {
        self.parameters
            .iter()
            .map(|parameter| parameter.place(parameter.of(candidate.raw())))
            .collect()
    }

    /// The candidate with one value changed, if the checks allow it.
    #[must_use]
    pub fn with(
        &self,
        candidate: &Candidate,
        parameter: &Parameter,
        value: f64,
    ) -> Option<Candidate> {
        let mut raw = *candidate.raw();
        self.put(&mut raw, parameter, value);
        Settings::check(raw).ok().map(Candidate)
    }

    /// The candidate with some settings as they were at the start, if the checks allow it.
    #[must_use]
    pub fn without(&self, candidate: &Candidate, keys: &[Key]) -> Option<Candidate> {
        let mut raw = *candidate.raw();
        for key in keys {
            let _ = raw.set_bits(*key, self.base.raw().bits(*key));
        }
        Settings::check(raw).ok().map(Candidate)
    }

    /// Parameters in which the candidate differs from the start.
    #[must_use]
    pub fn changed(&self, candidate: &Candidate) -> Vec<Parameter> {
        let differs = |p: &&Parameter| candidate.raw().bits(p.key) != self.base.raw().bits(p.key);
        self.parameters.iter().filter(differs).copied().collect()
    }

    fn put(&self, raw: &mut RawSettings, parameter: &Parameter, value: f64) {
        let home = parameter.of(self.base.raw());
        let bits = if (value - home).abs() < parameter.step / 2.0 {
            self.base.raw().bits(parameter.key)
        } else {
            parameters::bits(parameter.key.field().kind, value)
        };
        let _ = raw.set_bits(parameter.key, bits);
    }
}

impl Candidate {
    /// Its settings.
    #[must_use]
    pub fn settings(&self) -> &Settings {
        &self.0
    }

    /// Its settings' values.
    #[must_use]
    pub fn raw(&self) -> &RawSettings {
        self.0.raw()
    }

    /// Bits of the parameters: what tells candidates of one space apart.
    #[must_use]
    pub fn bits(&self, space: &Space) -> Vec<i32> {
        let bits = |p: &Parameter| self.raw().bits(p.key);
        space.parameters().iter().map(bits).collect()
    }
}
