//! The demo log, made by code from the invented site, its weather and a seed.

use std::fmt::Write as _;

use controller_core::settings::{RawSettings, Settings};
use controller_core::units::Kelvin;

use crate::files::log::push_reading;
use crate::files::site::SiteConfig;
use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::closed_loop::Pace;
use crate::sim::season::Run;
use crate::sim::weather::{Series, WeatherYear};

/// First logged day, and how many; the front passes on the fourth.
const FIRST: jiff::civil::Date = jiff::civil::date(2025, 2, 4);
const DAYS: u32 = 7;
/// Days the house runs before the log begins, so that its floors are in tune with the weather.
const BEFORE: u32 = 10;
const SEED: u64 = 7;
const ROW_EVERY_S: u64 = 60;

/// The settings the house was run on: a wide band.
#[must_use]
pub fn plain_settings() -> Settings {
    let raw = RawSettings {
        slab_band: Kelvin::from_milli(2_000),
        ..RawSettings::DEFAULT
    };
    Settings::check(raw).unwrap_or_default()
}

/// The log as text.
///
/// # Errors
/// The built-in weather cannot be read: a fault of this program.
pub fn log() -> anyhow::Result<String> {
    let site = SiteConfig::default();
    let year = WeatherYear::demo()?;
    let from = FIRST - jiff::Span::new().days(i64::from(BEFORE));
    let weather = Series::new(&year, year.period(from, BEFORE + DAYS)?, &site.glazing());
    let settings = plain_settings();
    let run = Run {
        plant: &site.plant,
        settings: &settings,
        weather: &weather,
        seed: SEED,
        pace: Pace::USUAL,
    };
    let start = FIRST.to_datetime(jiff::civil::Time::midnight());
    let begin_s = u64::from(BEFORE) * 86_400;
    let mut text = String::from(
        "time,supply_c,return_c,slab_c,outdoor_c,air_c,store_c,circulator,boiler_call\n",
    );
    let mut next_s = begin_s;
    run.go::<Cancelled>(&Cancel::new(), |report, seen| {
        let now_s = report.row.now.as_millis() / 1_000;
        if now_s < next_s {
            return Ok(());
        }
        next_s = now_s - now_s % ROW_EVERY_S + ROW_EVERY_S;
        let since = i64::try_from(now_s - begin_s).unwrap_or(0);
        let time = start + jiff::Span::new().seconds(since);
        let _ = write!(text, "{}", time.strftime("%Y-%m-%d %H:%M:%S"));
        let inputs = &report.row.inputs;
        let read = [inputs.supply, inputs.ret, inputs.slab, inputs.outdoor]
            .map(|sample| sample.value().map(|t| t.to_128ths()));
        let other =
            [seen.extra.air_c, seen.extra.store_c].map(|t| t.map(|t| (t * 128.0).round() as i16));
        for value in read.into_iter().chain(other) {
            text.push(',');
            if let Some(value) = value {
                let mut digits = Vec::new();
                push_reading(&mut digits, value);
                text.push_str(&String::from_utf8_lossy(&digits));
            }
        }
        let bit = |on| u8::from(on);
        let _ = writeln!(
            text,
            ",{},{}",
            bit(report.outputs.circulator),
            bit(report.outputs.boiler_call)
        );
        Ok(())
    })?;
    Ok(text)
}
