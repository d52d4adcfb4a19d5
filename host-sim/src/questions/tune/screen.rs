//! Which weather and which sensor errors a candidate meets: whole winters, or only their coldest weeks.

use std::sync::Arc;

use controller_core::settings::Settings;
use jiff::civil::Date;

use super::score::{Danger, Score};
use crate::files::site::SiteConfig;
use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::closed_loop::Pace;
use crate::sim::plant::PlantConfig;
use crate::sim::season::Run;
use crate::sim::weather::{ColdSnap, Glazing, PeriodError, Series, SnapStart, WeatherYear};

/// Length of the coldest stretch looked for, days.
pub const COLD_DAYS: u32 = 14;
/// Days simulated before it, in which slab and store find their state.
pub const LEAD_DAYS: u32 = 5;
/// Share of a winter's weight that the coldest weeks carry: wood of the demo's coldest weeks over its winter's is a
/// quarter to a third. Status: estimate from the model.
pub const SCREEN_SHARE: f64 = 0.25;

/// What the sensors get wrong. All errors of one case push the same way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SensorError {
    /// In words.
    pub name: &'static str,
    /// Of the slab and outdoor sensors, as a share of the error asked for.
    pub share: f64,
    /// Of supply and, the other way, return, K: what is left of a pair trimmed in one bath.
    pub pair_k: f64,
}

/// The three cases. Reading warm, everything says that all is well: too few runs, too little heat. A trimmed pair keeps
/// 0.2 K between its sensors (common practice, no source).
pub const ERRORS: [SensorError; 3] = [
    SensorError {
        name: "exact",
        share: 0.0,
        pair_k: 0.0,
    },
    SensorError {
        name: "reading warm",
        share: 1.0,
        pair_k: -0.1,
    },
    SensorError {
        name: "reading cold",
        share: -1.0,
        pair_k: 0.1,
    },
];

impl SensorError {
    /// The house with these errors instead of its sensors' scatter.
    fn apply(&self, plant: &PlantConfig, error_k: f64) -> PlantConfig {
        let mut plant = plant.clone();
        let pair_k = if error_k > 0.0 { self.pair_k } else { 0.0 };
        let sensors = &mut plant.sensors;
        for (sensor, offset_k) in [
            (&mut sensors.slab, self.share * error_k),
            (&mut sensors.outdoor, self.share * error_k),
            (&mut sensors.supply, pair_k),
            (&mut sensors.return_, -pair_k),
        ] {
            sensor.scatter_k = 0.0;
            sensor.offset_k += offset_k;
        }
        plant
    }
}

/// A winter by name.
#[derive(Clone, Debug)]
pub struct Winter {
    /// In words.
    pub name: String,
    /// Its weather.
    pub year: Arc<WeatherYear>,
    /// Seed of its sensors' noise.
    pub seed: u64,
}

/// A winter made colder on purpose: depth, K, and days at full depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Snap {
    /// How much colder, K.
    pub depth_k: f64,
    /// For how long, days.
    pub days: f64,
}

impl Snap {
    /// The winter with this snap at a place drawn from the seed.
    ///
    /// # Errors
    /// The weather has no December.
    pub fn over(&self, winter: &Winter, seed: u64) -> Result<Winter, PeriodError> {
        let year = winter.year.with_cold_snap(&ColdSnap {
            depth_k: self.depth_k,
            days: self.days,
            ramp_h: 12.0,
            start: SnapStart::Seeded(seed),
        })?;
        Ok(Winter {
            name: format!(
                "{}, {} K colder for {} days (seed {seed})",
                winter.name, self.depth_k, self.days
            ),
            year: Arc::new(year),
            seed,
        })
    }
}

/// The season looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Season {
    /// First day.
    pub from: Date,
    /// Days.
    pub days: u32,
}

impl Season {
    /// The coldest weeks in this season of a year, with the days before them; the whole season if it is no longer.
    #[must_use]
    pub fn coldest(&self, year: &WeatherYear, glazing: &Glazing) -> Season {
        let length = COLD_DAYS + LEAD_DAYS;
        if self.days <= length {
            return *self;
        }
        let Ok(means) = year.period(self.from, self.days).map(|period| {
            let series = Series::new(year, period, glazing);
            (0..u64::from(self.days))
                .map(|day| {
                    (0..24)
                        .map(|hour| series.conditions(day * 86_400 + hour * 3_600).air_c)
                        .sum::<f64>()
                })
                .collect::<Vec<_>>()
        }) else {
            return *self;
        };
        let starts = 0..=(self.days - length) as usize;
        let cold = |start: &usize| {
            let from = start + LEAD_DAYS as usize;
            means[from..from + COLD_DAYS as usize].iter().sum::<f64>()
        };
        let first = starts
            .min_by(|a, b| cold(a).total_cmp(&cold(b)))
            .unwrap_or(0);
        Season {
            from: self.from + jiff::Span::new().days(first as i64),
            days: length,
        }
    }
}

/// One run every candidate has to go through.
#[derive(Clone, Debug)]
pub struct Scenario {
    /// Which winter of the list.
    pub winter: usize,
    /// What the sensors get wrong.
    pub error: SensorError,
    /// When.
    pub season: Season,
    plant: PlantConfig,
    weather: Arc<Series>,
    seed: u64,
}

impl Scenario {
    /// A season of a winter, with a sensor error of so many kelvin.
    ///
    /// # Errors
    /// The weather has no such days.
    pub fn new(
        site: &SiteConfig,
        (winter, of): (usize, &Winter),
        season: Season,
        error: SensorError,
        error_k: f64,
    ) -> Result<Self, PeriodError> {
        let period = of.year.period(season.from, season.days)?;
        Ok(Self {
            winter,
            error,
            season,
            plant: error.apply(&site.plant, error_k),
            weather: Arc::new(Series::new(&of.year, period, &site.glazing())),
            seed: of.seed,
        })
    }

    /// The house with its sensors as they are here.
    #[must_use]
    pub fn house(&self) -> &PlantConfig {
        &self.plant
    }

    /// The run with these settings.
    #[must_use]
    pub fn run<'a>(&'a self, settings: &'a Settings) -> Run<'a> {
        Run {
            plant: &self.plant,
            settings,
            weather: &self.weather,
            seed: self.seed,
            pace: Pace::USUAL,
        }
    }

    /// How these settings do.
    ///
    /// # Errors
    /// Ctrl-C.
    pub fn score(&self, settings: &Settings, cancel: &Cancel) -> Result<Score, Cancelled> {
        let mut danger = Danger::default();
        let totals = self.run(settings).go::<Cancelled>(cancel, |report, seen| {
            danger.push(report, seen);
            Ok(())
        })?;
        Ok(danger.score(&totals))
    }
}

/// Scenarios of one stage.
#[derive(Clone, Debug)]
pub struct Stage {
    /// Its name in the resume file.
    pub name: &'static str,
    /// What a candidate goes through.
    pub scenarios: Vec<Scenario>,
}

impl Stage {
    /// Days simulated for one candidate.
    #[must_use]
    pub fn days(&self) -> u64 {
        self.scenarios
            .iter()
            .map(|s| u64::from(s.season.days))
            .sum()
    }

    /// Every winter once, each with one of the errors in turn.
    ///
    /// # Errors
    /// The weather has no such days.
    pub fn in_turn(
        name: &'static str,
        site: &SiteConfig,
        winters: &[Winter],
        season: impl Fn(&Winter) -> Season,
        error_k: f64,
    ) -> Result<Self, PeriodError> {
        let scenarios = winters
            .iter()
            .enumerate()
            .map(|of| {
                let error = ERRORS[of.0 % ERRORS.len()];
                Scenario::new(site, of, season(of.1), error, error_k)
            })
            .collect::<Result<_, _>>()?;
        Ok(Self { name, scenarios })
    }

    /// Every winter with every error.
    ///
    /// # Errors
    /// The weather has no such days.
    pub fn crossed(
        name: &'static str,
        site: &SiteConfig,
        winters: &[Winter],
        season: Season,
        error_k: f64,
    ) -> Result<Self, PeriodError> {
        let mut scenarios = Vec::new();
        for of in winters.iter().enumerate() {
            for error in ERRORS {
                scenarios.push(Scenario::new(site, of, season, error, error_k)?);
            }
        }
        Ok(Self { name, scenarios })
    }
}
