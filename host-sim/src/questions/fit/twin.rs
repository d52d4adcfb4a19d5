//! Twins: houses whose truth is known, run by the controller through a winter, logged through faulty sensors. What the fit is judged by.

use controller_core::sensor::Sample;
use controller_core::settings::Settings;
use jiff::civil::Date;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;

use super::parameters::{PARAMETERS, Point, Which, at, effective, index};
use super::record::{READINGS, Record, Recorder, Row};
use crate::files;
use crate::files::site::{Site, SiteConfig};
use crate::questions::own_settings::settings_for;
use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::closed_loop::Pace;
use crate::sim::plant::config::OutsideFilm;
use crate::sim::plant::sensors::normal;
use crate::sim::season::Run;
use crate::sim::weather::{Series, WeatherYear};

/// Days run before the log begins, so that store and slab have a history.
const BEFORE_DAYS: u32 = 14;
/// Truths are drawn within so many standard deviations of their priors.
const CLIP: f64 = 2.0;

/// What is unlike the model in a twin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Nothing but what no model knows: the sky, and the store's history.
    Plain,
    /// Wind on the glazing, an hour without rows a day, 0.4 K outdoors, a colder place.
    Hostile,
    /// A mild fortnight with the circulator off.
    Calm,
}

/// A twin: its log, and the truth.
#[derive(Clone, Debug)]
pub struct Twin {
    /// The log.
    pub record: Record,
    /// Truth, as departures from the site file in the values a site file has.
    pub truth: Point,
    /// The site file.
    pub site: SiteConfig,
    /// Weather of the same dates, as a file would have it.
    pub weather: WeatherYear,
}

/// Draws a house and writes its log of `days` at ten-second rows, straight into minutes.
///
/// # Errors
/// Ctrl-C, or the built-in weather cannot be read.
pub fn twin(seed: u64, days: u32, kind: Kind, cancel: &Cancel) -> anyhow::Result<Twin> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let site = Site::demo();
    let mut truth: Point = core::array::from_fn(|i| {
        let drawn = normal(&mut random).clamp(-CLIP, CLIP) * PARAMETERS[i].prior;
        // The plant misses nothing of itself.
        if PARAMETERS[i].which == Which::StoreWater {
            0.0
        } else {
            drawn
        }
    });
    let (mut plant, mut offsets) = at(&site.config.plant, &truth);
    plant.house.sky_view = plant.house.sky_view.min(1.0);
    if kind == Kind::Hostile {
        plant.house.outside_film = OutsideFilm::Wind;
        offsets.outdoor_k = 0.4;
        truth[index(Which::OutdoorSensor)] = 0.4;
    }
    offsets.put(&mut plant.sensors);
    let sensors = &mut plant.sensors;
    for sensor in [
        &mut sensors.slab,
        &mut sensors.outdoor,
        &mut sensors.store,
        &mut sensors.supply,
        &mut sensors.return_,
    ] {
        sensor.scatter_k = 0.0;
    }
    let weather = match kind {
        Kind::Plain => files::weather::demo()?,
        Kind::Hostile => files::weather::hard()?,
        // A week in which nothing freezes: the year twelve kelvin warmer.
        Kind::Calm => files::weather::demo()?.with_offset(12.0),
    };
    // Logs that begin between mid November and mid January.
    let first = Date::constant(2025, 11, 1)
        .saturating_add(jiff::Span::new().days(i64::try_from(seed % 8).unwrap_or(0) * 9));
    let period = weather.period(first, BEFORE_DAYS + days)?;
    let series = Series::new(&weather, period, &site.config.glazing());
    let settings = Settings::check(settings_for(&site)).unwrap_or_default();
    let begins = first.saturating_add(jiff::Span::new().days(i64::from(BEFORE_DAYS)));
    let begins_ms = i64::from(BEFORE_DAYS) * 86_400_000;
    let mut recorder = Recorder::new(begins.to_datetime(jiff::civil::Time::midnight()));
    Run {
        plant: &plant,
        settings: &settings,
        weather: &series,
        seed,
        pace: Pace::USUAL,
    }
    .go::<Cancelled>(cancel, |report, seen| {
        let time_ms = i64::try_from(report.row.now.as_millis()).unwrap_or(0) - begins_ms;
        let missing = kind == Kind::Hostile && time_ms.rem_euclid(86_400_000) / 3_600_000 == 2;
        if time_ms < 0 || missing {
            return Ok(());
        }
        let celsius = |sample: Sample| match sample {
            Sample::Value(c) | Sample::Framed(c) => f64::from(c.to_128ths()) / 128.0,
            Sample::Failed(_) => f64::NAN,
        };
        let inputs = &report.row.inputs;
        let readings: [f64; READINGS] = [
            celsius(inputs.slab),
            celsius(inputs.outdoor),
            seen.extra.store_c.unwrap_or(f64::NAN),
            seen.extra.air_c.unwrap_or(f64::NAN),
            celsius(inputs.supply),
            celsius(inputs.ret),
        ];
        recorder.push(
            time_ms,
            Row {
                readings,
                runs: Some(seen.relays.circulator),
                called: seen.relays.boiler_call,
            },
        );
        Ok(())
    })?;
    Ok(Twin {
        record: recorder.finish(10_000),
        truth: effective(&site.config.plant, &truth),
        site: site.config,
        weather,
    })
}
