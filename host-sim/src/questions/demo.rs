//! The demo log, made by code from the invented site, its weather and a seed: what a unit in that house would have written,
//! a row a minute, in a week in which a plug comes loose.

use std::fmt::Write as _;

use controller_core::restart::Restart;
use controller_core::sensor::{ReadFault, Sample};
use controller_core::settings::Settings;
use controller_core::time::Instant;
use controller_core::{Controller, Inputs, StepReport};

use crate::files;
use crate::files::log::push_reading;
use crate::files::site::SiteConfig;
use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::closed_loop::Pace;
use crate::sim::season::Run;
use crate::sim::stepper::Stepper;
use crate::sim::weather::Series;

/// First logged day, and how many; the front passes on the fourth.
const FIRST: jiff::civil::Date = jiff::civil::date(2025, 2, 4);
const DAYS: u32 = 7;
/// Days the house runs before the log begins, so that its floors are in tune with the weather.
const BEFORE: u32 = 10;
const SEED: u64 = 7;
const ROW_EVERY_S: u64 = 60;

/// The slab sensor's plug is loose from 23:10 of the fifth day until somebody sees to it at 06:40, s from the log's start.
const LOOSE_S: std::ops::Range<u64> = (4 * 24 + 23) * 3_600 + 600..(5 * 24 + 6) * 3_600 + 2_400;

/// The controller with a slab sensor that is not always there.
struct LoosePlug(Controller);

impl LoosePlug {
    fn samples<'a>(now: Instant, inputs: &Inputs<'a>) -> Inputs<'a> {
        let mut inputs = *inputs;
        let since_s = (now.as_millis() / 1_000).checked_sub(u64::from(BEFORE) * 86_400);
        if since_s.is_some_and(|since_s| LOOSE_S.contains(&since_s)) {
            inputs.samples.slab = Sample::Failed(ReadFault::Absent);
        }
        inputs
    }
}

impl Stepper for LoosePlug {
    type Report = StepReport;

    fn begin(&mut self, origin: Instant) {
        self.0.begin(origin);
    }

    fn boot(&mut self, settings: &Settings, now: Instant, restart: Restart) {
        Stepper::boot(&mut self.0, settings, now, restart);
    }

    fn next(&self) -> Instant {
        self.0.next()
    }

    fn settings(&self) -> &Settings {
        self.0.settings()
    }

    fn step(&mut self, now: Instant, inputs: &Inputs<'_>) -> Option<StepReport> {
        self.0.step(now, &Self::samples(now, inputs))
    }
}

/// The log as text.
///
/// # Errors
/// The built-in weather cannot be read: a fault of this program.
pub fn log() -> anyhow::Result<String> {
    let site = SiteConfig::default();
    let year = files::weather::demo()?;
    let from = FIRST - jiff::Span::new().days(i64::from(BEFORE));
    let weather = Series::new(&year, year.period(from, BEFORE + DAYS)?, &site.glazing());
    let settings = Settings::default();
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
    let start_at = Instant::from_millis(0);
    let mut unit = LoosePlug(Controller::boot(
        settings.clone(),
        start_at,
        Restart::ORDINARY,
    ));
    run.go_with::<_, Cancelled>(&mut unit, &Cancel::new(), |report, seen| {
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
