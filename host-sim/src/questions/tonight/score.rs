//! Tonight's answer against what the simulated winter then does.
//!
//! A winter runs as `host-sim winter` would, fires included. At 18:00 of its coldest nights the house is copied: one copy runs on
//! through the true weather without a boiler, which is the truth; the question gets only what a person would have: readings of
//! that moment or two days of log, and a forecast of that night's low, high and sky.

use jiff::civil::{Date, Time, date};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng as _;

use super::axis::Axis;
use super::ensemble::{Range, Size};
use super::forecast::{Forecast, SkyCover};
use super::night::{Course, House, SAMPLE_S, first_below};
use super::start::{History, Present, StoreReading, Track};
use super::{Question, Verdict, answer};
use crate::files::site::SiteConfig;
use crate::sim::plant::sensors::normal;
use crate::sim::plant::{OutdoorConditions, Plant};
use crate::sim::season::Variant;
use crate::sim::weather::{PeriodError, Series, WeatherYear};
use controller_core::settings::Settings;

/// The hour the question is asked at.
const ASKED_AT: Time = jiff::civil::time(18, 0, 0, 0);
/// Days before the first night that may be asked about: the house comes into tune with its weather.
const SETTLING_DAYS: usize = 10;

/// What the question is given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Given {
    /// Slab, store and outdoor air to half a degree; low, high and sky of the night that came.
    Readings,
    /// The same with a wrong forecast: the low and the high off by 2 K (standard deviation).
    WrongForecast,
    /// Two days of log; low, high and sky.
    Log,
    /// Two days of log and the true hourly weather.
    LogAndHours,
}

impl Given {
    /// All of them.
    pub const ALL: [Given; 4] = [
        Given::Readings,
        Given::WrongForecast,
        Given::Log,
        Given::LogAndHours,
    ];

    /// In words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Given::Readings => "readings, low and high",
            Given::WrongForecast => "the same, forecast 2 K off",
            Given::Log => "log, low and high",
            Given::LogAndHours => "log, true hours",
        }
    }
}

/// One night.
#[derive(Clone, Debug)]
pub struct Night {
    /// Its evening.
    pub date: Date,
    /// The moment of the question.
    house: House,
    history: History,
    low_c: f64,
    high_c: f64,
    tenths: f64,
    axis: Axis,
    /// The slab through the night on the store alone, in truth.
    pub truth_c: Vec<f64>,
}

/// One answer beside the truth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Score {
    /// In a word.
    pub verdict: Verdict,
    /// Members that hold.
    pub holding: f64,
    /// When the slab falls below the target, h after the question, predicted.
    pub below_target_h: Range,
    /// In truth; infinite for never.
    pub truth_below_target_h: f64,
    /// Coldest slab, °C, predicted.
    pub coldest_c: Range,
    /// In truth.
    pub truth_coldest_c: f64,
}

/// A season's nights.
#[derive(Debug)]
pub struct Season<'a> {
    site: &'a SiteConfig,
    settings: &'a Settings,
    year: &'a WeatherYear,
    /// The coldest nights, in the calendar's order.
    pub nights: Vec<Night>,
}

impl<'a> Season<'a> {
    /// Runs the season of the house as it is, `truth`, and its coldest `count` nights; `site` is what the site file says, which
    /// the questions go by. `seed` is the season's own.
    ///
    /// # Errors
    /// The weather has not all of the days.
    pub fn run(
        truth: &SiteConfig,
        site: &'a SiteConfig,
        settings: &'a Settings,
        year: &'a WeatherYear,
        days: u32,
        count: usize,
        seed: u64,
    ) -> Result<Season<'a>, PeriodError> {
        let from = date(2025, 10, 15);
        let series = Series::new(year, year.period(from, days)?, &truth.glazing());
        let at = |second: u64| OutdoorConditions::from(series.conditions(second));
        let mut plant = truth.plant.clone();
        plant.start.ground_day = at(0).ground_day;
        let mut house = House::new(Plant::new(&plant, seed), settings, 0);
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let fixed_k: [f64; 3] =
            std::array::from_fn(|_| truth.plant.sensors.slab.scatter_k * normal(&mut random));
        let mut log = Vec::new();
        let mut nights = Vec::new();
        let asked_s = u64::try_from(i64::from(ASKED_AT.hour()) * 3600).unwrap_or(0);
        for day in 0..days as usize {
            let evening_s = day as u64 * 86_400 + asked_s;
            while house.now_s() < evening_s {
                house.run(house.now_s() + SAMPLE_S, &at, None, &mut Course::default());
                let truth = house.plant().truth();
                let shown = [truth.outdoor_c, truth.slab_c, truth.store_c];
                log.push(std::array::from_fn(|i| {
                    ((shown[i] + fixed_k[i]) * 16.0).round() / 16.0
                }));
            }
            if day >= SETTLING_DAYS && day + 2 < days as usize {
                let evening = from.saturating_add(jiff::Span::new().days(day as i64));
                nights.push(Night::at(year, evening, &house, &log, &series));
            }
        }
        nights.sort_by(|a: &Night, b| a.low_c.total_cmp(&b.low_c));
        nights.truncate(count);
        nights.sort_by_key(|night| night.date);
        for night in &mut nights {
            night.live(truth, settings, &at);
        }
        Ok(Season {
            site,
            settings,
            year,
            nights,
        })
    }

    /// Asks about one night.
    ///
    /// # Errors
    /// The period cannot be laid out.
    pub fn ask(
        &self,
        night: &Night,
        given: Given,
        size: Size,
        seed: u64,
    ) -> Result<Score, PeriodError> {
        let half = |t: f64| (t * 2.0).round() / 2.0;
        let logged = matches!(given, Given::Log | Given::LogAndHours);
        let shown = |t: f64| if logged { t } else { half(t) };
        let now = |track: &Track| track.values.last().copied().flatten().unwrap_or(f64::NAN);
        let present = Present {
            slab_c: shown(now(&night.history.slab_c)),
            store: StoreReading::Air(shown(now(&night.history.store_c))),
            outdoor_c: Some(shown(now(&night.history.outdoor_c))),
            typed: !logged,
        };
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let off_k = match given {
            Given::WrongForecast => 2.0,
            _ => 0.0,
        };
        let (low_off, high_off) = (normal(&mut random) * off_k, normal(&mut random) * off_k);
        let low_c = (night.low_c + low_off).round();
        let forecast = match given {
            Given::LogAndHours => Forecast::Year(Box::new(self.year.clone())),
            _ => Forecast::LowHigh {
                low_c,
                high_c: (night.high_c + high_off).round().max(low_c),
                sky: match night.tenths {
                    ..3.0 => SkyCover::Clear,
                    3.0..7.0 => SkyCover::Unknown,
                    _ => SkyCover::Cloudy,
                },
            },
        };
        let answer = answer(&Question {
            site: self.site,
            settings: self.settings,
            station: &self.year.station,
            axis: night.axis,
            present,
            history: logged.then_some(&night.history),
            forecast: &forecast,
            seed,
            size,
            fire: false,
        })?;
        let hours = |s: f64| (s - night.axis.now_s as f64) / 3600.0;
        let alone = &answer.alone;
        let below = alone.below_target_s;
        Ok(Score {
            verdict: answer.verdict(),
            holding: alone.holding as f64 / alone.members as f64,
            below_target_h: Range {
                low: hours(below.low),
                middle: hours(below.middle),
                high: hours(below.high),
            },
            truth_below_target_h: first_below(&night.truth_c, answer.target_c)
                .map_or(f64::INFINITY, |s| s / 3600.0),
            coldest_c: alone.coldest_c,
            truth_coldest_c: night.truth_c.iter().copied().fold(f64::INFINITY, f64::min),
        })
    }
}

impl Night {
    /// The house as it stands, its log and the forecast that will come true.
    fn at(
        year: &WeatherYear,
        evening: Date,
        house: &House,
        log: &[[f64; 3]],
        series: &Series,
    ) -> Night {
        let axis = Axis::new(&year.station, evening.to_datetime(ASKED_AT), None);
        let start_s = axis.now_s - super::start::LOGGED_HISTORY_S;
        let rows = (super::start::LOGGED_HISTORY_S / SAMPLE_S + 1) as usize;
        let track = |i: usize| Track {
            start_s,
            values: log[log.len().saturating_sub(rows)..]
                .iter()
                .map(|row| Some(row[i]))
                .collect(),
        };
        let history = History {
            start_s,
            outdoor_c: track(0),
            slab_c: track(1),
            store_c: track(2),
        };
        let air_c = |ahead_s: u64| series.conditions(house.now_s() + ahead_s).air_c;
        let night_s = axis.until_s - axis.now_s;
        let least = (0..=night_s / SAMPLE_S).map(|k| air_c(k * SAMPLE_S));
        // Tomorrow's high.
        let most = (night_s / SAMPLE_S..30 * 3600 / SAMPLE_S).map(|k| air_c(k * SAMPLE_S));
        let row = |ahead_h: u64| {
            let hour = &year.hours;
            let at = axis.at(axis.now_s + ahead_h * 3600 - 1);
            hour.iter()
                .find(|row| {
                    (row.month, row.day, row.hour)
                        == (
                            at.date().month().unsigned_abs(),
                            at.date().day().unsigned_abs(),
                            at.hour().unsigned_abs() + 1,
                        )
                })
                .and_then(|row| row.opaque_tenths)
                .unwrap_or(5.0)
        };
        let hours = night_s / 3600;
        Night {
            date: evening,
            house: house.clone(),
            history,
            low_c: least.fold(f64::INFINITY, f64::min),
            high_c: most.fold(f64::NEG_INFINITY, f64::max),
            tenths: (1..=hours).map(row).sum::<f64>() / hours as f64,
            axis,
            truth_c: Vec::new(),
        }
    }

    /// Runs the night in truth, without a boiler.
    fn live(
        &mut self,
        site: &SiteConfig,
        settings: &Settings,
        at: &impl Fn(u64) -> OutdoorConditions,
    ) {
        let (_, quiet) = Variant::WithoutBoiler.apply(&site.plant, settings);
        let until_s = self.house.now_s() + (self.axis.until_s - self.axis.now_s);
        let mut course = Course {
            slab_c: vec![self.house.plant().truth().slab_c],
            first_call_s: None,
        };
        let mut house = self.house.clone();
        house.run(until_s, at, Some(&quiet), &mut course);
        self.truth_c = course.slab_c;
    }
}
