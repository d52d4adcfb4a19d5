//! `host-sim winter`

use anyhow::{Context as _, bail};
use controller_core::Controller;
use controller_core::restart::Restart;
use controller_core::time::Instant;
use jiff::civil::{Date, DateTime};

use super::progress::{Progress, progress_bar};
use super::{Chosen, Files, Inputs, Outcome, Shown, show};
use crate::account::metrics::{SummaryNumbers, YearNumbers};
use crate::account::sinks::RunSinks;
use crate::cli::Winter;
use crate::files;
use crate::files::output::{self, OutputError, OutputFile, OutputSet};
use crate::files::quantity::show::Show;
use crate::files::quantity::{self, Dimension, Units};
use crate::files::settings_file;
use crate::files::site::spoken::{CORD_M3, STACKED_WOOD_KG_M3};
use crate::files::site::{Site, SiteConfig};
use crate::files::weather::{Asked, Source};
use crate::present::{self, Context, DayHeat, Report, WinterExtras};
use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::closed_loop::Pace;
use crate::sim::plant::balance::{BalanceOptions, FloorFilm, Given, balance_point};
use crate::sim::season::{Run, Underway, Variant};
use crate::sim::tally::Season;
use crate::sim::weather::{ColdSnap, Origin, Series as WeatherSeries, SnapStart, WeatherYear};

/// Characters in a line of remarks.
const WIDTH: usize = 100;

pub(super) fn run(args: Winter) -> anyhow::Result<Outcome> {
    let answer = &args.results.answer;
    // What the text and the picture compare with costs two more runs; JSON alone does without.
    let compares = args.years.is_none() && (!answer.json || answer.report.is_some());
    let mut winter = Begun::new(args)?;
    winter.advance(u32::MAX)?;
    winter.end(compares)
}

/// A winter that has begun.
pub struct Begun {
    args: Winter,
    site: Site,
    chosen: Chosen,
    year: WeatherYear,
    weather_name: String,
    weather: WeatherSeries,
    from: Date,
    days: u32,
    cancel: Cancel,
    bar: Progress,
    report: Option<OutputFile>,
    sinks: RunSinks,
    controller: Controller,
    underway: Underway<Controller>,
}

impl Begun {
    /// Checks everything asked for and begins.
    ///
    /// # Errors
    /// What cannot be used, in words.
    pub fn new(args: Winter) -> anyhow::Result<Self> {
        let units = args.results.answer.shown.units;
        let mut inputs = Inputs::new();
        let site = inputs.site(args.house.site.as_ref())?;
        let chosen = inputs.settings(args.house.settings.as_ref(), &site, units)?;
        inputs.add(&args.weather);
        let (year, weather_name) = weather(&args, &site.config)?;
        let (from, days) = span(&args, &year);
        let days = if args.years.is_some() {
            YEAR_DAYS
        } else {
            days
        };
        let times = args.years.unwrap_or(1);
        let period = year.period(from, days)?;
        if let Some(snap) = cold_snap(&args)?
            && !year.snap_begins_within(&snap, period)?
        {
            bail!(
                "--cold-snap: found one that begins outside of the {days} days from {from}: {} Expected a longer --days, another \
                 --from or another --seed",
                told(&year, units).last().map_or("", String::as_str)
            );
        }
        let weather = WeatherSeries::new(&year, period, &site.config.glazing());
        let files = Files::open(&args.results, &inputs.paths())?;
        let cancel = output::cancel_on_ctrl_c()?;
        let start = Instant::from_millis(0);
        let mut controller = Controller::boot(chosen.settings.clone(), start, Restart::ORDINARY);
        let run = run_of(&site, &chosen, &weather, args.seed);
        let underway = run.begin(&mut controller, times);
        let midnight = from.to_datetime(jiff::civil::Time::midnight());
        let sinks = RunSinks::new(
            &chosen.settings,
            Some(midnight),
            files.report.is_some(),
            files.trace,
        );
        Ok(Self {
            bar: progress_bar(Some(u64::from(days * times)), false),
            args,
            site,
            chosen,
            year,
            weather_name,
            weather,
            from,
            days: days * times,
            cancel,
            report: files.report,
            sinks,
            controller,
            underway,
        })
    }

    /// Goes on by so many days, or to the end; the days done so far and those asked for.
    ///
    /// # Errors
    /// A stop was requested, or the trace cannot be written.
    pub fn advance(&mut self, days: u32) -> anyhow::Result<(u32, u32)> {
        let until_s = self
            .underway
            .now_s()
            .saturating_add(u64::from(days) * DAY_S);
        let (sinks, bar) = (&mut self.sinks, &self.bar);
        run_of(&self.site, &self.chosen, &self.weather, self.args.seed).advance(
            &mut self.underway,
            &mut self.controller,
            until_s,
            &self.cancel,
            |report, seen| {
                if report.row.now.as_millis().is_multiple_of(DAY_S * 1_000) {
                    bar.inc(1);
                }
                sinks
                    .push(report, seen.stands_ms, &seen.extra, "")
                    .map_err(Stopped::Sink)
            },
        )?;
        Ok((
            u32::try_from(self.underway.now_s() / DAY_S).unwrap_or(u32::MAX),
            self.days,
        ))
    }

    /// The picture of the days so far in the place that the whole period will have, as a piece of a page; for a winter with
    /// `--report`.
    #[must_use]
    pub fn so_far(&self) -> Option<String> {
        let (numbers, mut series) = self.sinks.so_far()?;
        series.end_ms = u64::from(self.days) * DAY_S * 1_000;
        Some(present::growing(&Report {
            numbers: &numbers,
            series: &series,
            context: &self.context(),
            winter: None,
        }))
    }

    fn start(&self) -> DateTime {
        self.from.to_datetime(jiff::civil::Time::midnight())
    }

    fn context(&self) -> Context {
        let Self { args, site, .. } = self;
        let units = args.results.answer.shown.units;
        let mut context = Context::new("A winter of the plant house", &self.chosen.settings, units);
        context.simulated = true;
        context.house = present::house(site.config.name.as_deref(), args.house.site.as_deref());
        context.start = Some(self.start());
        context.period = Some(format!("{} days from {}", self.days, self.from));
        context.used = vec![
            ("Site".to_owned(), site_name(args)),
            ("Settings".to_owned(), self.chosen.name.clone()),
            ("Weather".to_owned(), self.weather_name.clone()),
        ];
        context
    }

    /// Tells what came of it; with `compares` also what would have come of it without boiler and without the loop, which takes
    /// two more runs.
    ///
    /// # Errors
    /// A stop was requested, or a file cannot be written.
    pub fn end(self, compares: bool) -> anyhow::Result<Outcome> {
        self.bar.finish_and_clear();
        let mut context = self.context();
        let start = self.start();
        let Self {
            args,
            site,
            chosen,
            year,
            ..
        } = self;
        let answer = &args.results.answer;
        let units = answer.shown.units;
        let mut outputs = OutputSet::new();
        let (mut numbers, series) = self.sinks.finish(&mut outputs)?;
        let years = self.underway.finished();
        let totals = Season::of_all(years);
        complete(&mut numbers, &totals, start);
        if args.years.is_some() {
            numbers.years = years.iter().map(year_numbers).collect();
        }
        let ended = if present::held(&numbers) {
            Outcome::Done
        } else {
            Outcome::DoesNotHold
        };
        numbers.settings_sha256 = Some(settings_file::sha256(chosen.settings.raw()));

        let told = told(&year, units);
        context.notes = chosen.notes.clone();
        context
            .notes
            .extend(notes(&site, &year, &totals, start, Show(units)));
        let extras = if args.years.is_some() || answer.json && answer.report.is_none() {
            WinterExtras::default()
        } else {
            let run = run_of(&site, &chosen, &self.weather, args.seed);
            extras(&run, &numbers, &totals, start, compares, &self.cancel)?
        };
        let mut text = present::terminal(&numbers, &context) + &comparison(&extras, Show(units));
        text.push_str(&year_by_year(&numbers.years, Show(units)));
        let wood = (units == Units::Us && totals.wood_kg > 0.0).then(|| cords(totals.wood_kg));
        for note in chosen.notes.iter().chain(&wood).chain(&told) {
            for line in present::wrap_at(note, WIDTH) {
                text.push_str(&line);
                text.push('\n');
            }
        }
        let shown = Shown {
            numbers: &numbers,
            series: series.as_ref(),
            context: &context,
            winter: Some(&extras),
        };
        show(
            &shown,
            &args.results,
            self.report,
            outputs,
            &self.cancel,
            &text,
        )?;
        Ok(ended)
    }
}

/// The house, its controller and its weather.
fn run_of<'a>(
    site: &'a Site,
    chosen: &'a Chosen,
    weather: &'a WeatherSeries,
    seed: u64,
) -> Run<'a> {
    Run {
        plant: &site.config.plant,
        settings: &chosen.settings,
        weather,
        seed,
        pace: Pace::USUAL,
    }
}

/// A day, s.
const DAY_S: u64 = 86_400;

/// Days of a year; weather files are years of 365 days.
const YEAR_DAYS: u32 = 365;

fn year_numbers(totals: &Season) -> YearNumbers {
    let thousandth = |value: f64| (value * 1_000.0).round() / 1_000.0;
    YearNumbers {
        store_floor_start_c: thousandth(totals.store_floor_start_c),
        store_floor_min_c: thousandth(totals.store_floor_min_c),
        slab_true_min_c: thousandth(totals.slab_true_min_c),
        earth_heat_kwh: thousandth(totals.earth_heat_kwh),
        boiler_heat_kwh: thousandth(totals.boiler_heat_kwh),
    }
}

/// A line for each year: a store that does not recover begins colder each time.
fn year_by_year(years: &[YearNumbers], show: Show) -> String {
    let mut text = String::new();
    for (year, n) in (1..).zip(years) {
        text.push_str(&format!(
            "  year {year:<2} store floor {} at first, {} at its coldest; slab down to {}; {} from the store, {} from the boiler\n",
            show.temperature(n.store_floor_start_c),
            show.temperature(n.store_floor_min_c),
            show.temperature(n.slab_true_min_c),
            show.heat(n.earth_heat_kwh),
            show.heat(n.boiler_heat_kwh)
        ));
    }
    text
}

/// Why a run stopped.
#[derive(Debug)]
enum Stopped {
    Cancelled(Cancelled),
    Sink(std::io::Error),
}

impl From<Cancelled> for Stopped {
    fn from(cancelled: Cancelled) -> Self {
        Self::Cancelled(cancelled)
    }
}

impl std::fmt::Display for Stopped {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Cancelled(cancelled) => OutputError::Cancelled(*cancelled).fmt(f),
            Self::Sink(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for Stopped {}

fn site_name(args: &Winter) -> String {
    args.house.site.as_ref().map_or_else(
        || "the demo site, as no file was given".to_owned(),
        |path| path.display().to_string(),
    )
}

/// First day and number of days: as asked, of a log within its longest stretch of whole days.
fn span(args: &Winter, year: &WeatherYear) -> (Date, u32) {
    const FROM: Date = jiff::civil::date(2025, 10, 15);
    const DAYS: u32 = 182;
    if year.origin != Origin::Log {
        return (args.from.unwrap_or(FROM), args.days.unwrap_or(DAYS));
    }
    let (first, length) = year.longest_stretch();
    let begin = year.date_of_day(first).unwrap_or(FROM);
    let from = args.from.unwrap_or(begin);
    let left =
        i32::try_from(length).unwrap_or(0) - from.since(begin).map_or(0, |span| span.get_days());
    let days = u32::try_from(left).unwrap_or(0).clamp(1, 365);
    (from, args.days.unwrap_or(days))
}

/// Wood as it is sold in the United States; what a cord weighs to the hundred.
fn cords(wood_kg: f64) -> String {
    let cords = quantity::in_unit(wood_kg / STACKED_WOOD_KG_M3, Dimension::Volume, "cord");
    let (cord_lb, unit) =
        quantity::convert(STACKED_WOOD_KG_M3 * CORD_M3, Dimension::Mass, Units::Us);
    let amount = if cords < 0.95 {
        format!("{cords:.1} of a cord")
    } else {
        format!("{cords:.1} cords")
    };
    format!(
        "The wood burnt is about {amount} of a middling hardwood, dried ({:.0} {unit} a cord).",
        (cord_lb / 100.0).round() * 100.0
    )
}

/// What has to be known of the weather beside its name.
fn told(year: &WeatherYear, units: Units) -> Vec<String> {
    year.told
        .iter()
        .map(|told| quantity::told(told, units))
        .collect()
}

fn weather(args: &Winter, site: &SiteConfig) -> anyhow::Result<(WeatherYear, String)> {
    let asked = Asked {
        latitude_deg: args.latitude.unwrap_or(site.latitude_deg()),
        form: args.form.options(),
        seed: args.seed,
    };
    let given = args.weather.clone().map(Source::File).or_else(|| {
        args.climate
            .clone()
            .map(|climate| Source::Climate(Box::new(climate)))
    });
    let (year, name) = match given.as_ref().or(site.weather.as_ref()) {
        Some(source) => (source.read(&asked)?, source.to_string()),
        None => (
            files::weather::demo()?,
            "the demo's, as no file was given".to_owned(),
        ),
    };
    let name = match year.origin {
        Origin::TypicalYear => format!("{} ({name})", year.station.name),
        Origin::Climate | Origin::Log => year.station.name.clone(),
    };
    let Some(snap) = cold_snap(args)? else {
        return Ok((year, name));
    };
    let name = format!(
        "{name}, with a seeded cold snap of {} over {} days",
        Show(args.results.answer.shown.units).difference(snap.depth_k),
        snap.days
    );
    Ok((year.with_cold_snap(&snap)?, name))
}

/// The cold snap asked for.
fn cold_snap(args: &Winter) -> anyhow::Result<Option<ColdSnap>> {
    let Some(snap) = &args.cold_snap else {
        return Ok(None);
    };
    let (depth, days) = snap.split_once(',').with_context(|| {
        format!("--cold-snap: found \"{snap}\"; expected depth and days, such as \"6 K, 4 d\"")
    })?;
    let depth_k =
        quantity::parse(depth, Dimension::TemperatureDifference).context("--cold-snap")?;
    let days = quantity::parse(days, Dimension::Duration).context("--cold-snap")? / 86_400.0;
    Ok(Some(ColdSnap {
        depth_k,
        days,
        ramp_h: 12.0,
        start: SnapStart::Seeded(args.seed),
    }))
}

/// What only the plant knows.
fn complete(numbers: &mut SummaryNumbers, totals: &Season, start: DateTime) {
    numbers.water_froze_solid_ms = totals.frozen_s.map(|second| second * 1_000);
    numbers.slab_true_min_c = totals
        .slab_true_min_c
        .is_finite()
        .then(|| (totals.slab_true_min_c * 1_000.0).round() / 1_000.0);
    let thousandth = |value: f64| (value * 1_000.0).round() / 1_000.0;
    let store_c = totals.store_floor_min_c;
    numbers.store_true_min_c = store_c.is_finite().then(|| thousandth(store_c));
    numbers.slab_bare_share = totals.bare.map(|bare| thousandth(bare.share));
    numbers.slab_bare_min_c = totals.bare.map(|bare| thousandth(bare.min_c));
    numbers.slab_bare_edge_kwh = totals.bare.map(|bare| thousandth(bare.edge_kwh));
    numbers.label_times(|ms| clock(start, ms / 1_000));
    numbers.pump_kwh = (totals.pump_kwh * 1_000.0).round() / 1_000.0;
    numbers.boiler_heat_kwh = Some(totals.boiler_heat_kwh);
    // The plant's own account: what the store gave less what was carried back into it. The
    // controller's meter sees only the first, and with the pair's error.
    numbers.earth_heat_kwh = Some(totals.earth_heat_kwh);
    numbers.earth_heat_error_kwh = None;
    numbers.cop = (totals.pump_kwh > 0.0).then(|| totals.earth_heat_kwh / totals.pump_kwh);
    numbers.wood_kg = Some(totals.wood_kg);
    numbers.energy_closure = Some(totals.energy_closure);
}

fn clock(start: DateTime, second: u64) -> String {
    let span = jiff::Span::new().seconds(i64::try_from(second).unwrap_or(0));
    start.checked_add(span).map_or_else(
        |_| format!("{second} s"),
        |time| time.strftime("%Y-%m-%d %H:%M").to_string(),
    )
}

fn notes(
    site: &Site,
    year: &WeatherYear,
    totals: &Season,
    start: DateTime,
    show: Show,
) -> Vec<String> {
    let mut notes = vec![
        format!(
            "The coldest part of the model's slab with tube was at {} on {}; the numbers above are what the sensor showed.",
            show.temperature(totals.slab_true_min_c),
            clock(start, totals.slab_true_min_s)
        ),
        format!(
            "Store floor down to {}, store air down to {}.",
            show.temperature(totals.store_floor_min_c),
            show.temperature(totals.store_air_min_c)
        ),
        format!(
            "The boiler was called on {} nights and {} of wood burnt.",
            totals.nights_with_fire,
            show.mass(totals.wood_kg)
        ),
    ];
    notes.extend(site.remarks(show.0));
    notes.extend(told(year, show.0));
    notes.extend(year.notes.iter().map(ToString::to_string));
    notes
}

fn extras(
    run: &Run<'_>,
    numbers: &SummaryNumbers,
    totals: &Season,
    start: DateTime,
    compares: bool,
    cancel: &Cancel,
) -> anyhow::Result<WinterExtras> {
    let mut variants = vec![present::Variant {
        name: Variant::Both.name().to_owned(),
        numbers: numbers.clone(),
    }];
    let others: &[Variant] = if compares {
        &[Variant::WithoutBoiler, Variant::WithoutLoop]
    } else {
        &[]
    };
    for variant in others {
        let (plant, settings) = variant.apply(run.plant, run.settings);
        let run = Run {
            plant: &plant,
            settings: &settings,
            ..run.clone()
        };
        let mut sinks = RunSinks::new(&settings, Some(start), false, None);
        let totals = run.go(cancel, |report, seen| {
            sinks
                .push(report, seen.stands_ms, &seen.extra, "")
                .map_err(Stopped::Sink)
        })?;
        let (mut numbers, _) = sinks.finish(&mut OutputSet::new())?;
        complete(&mut numbers, &totals, start);
        variants.push(present::Variant {
            name: variant.name().to_owned(),
            numbers,
        });
    }
    let plant_days = totals
        .days
        .iter()
        .zip(0_u64..)
        .map(|(day, index)| DayHeat {
            start_ms: index * 86_400_000,
            earth_kwh: day.earth_kwh,
            boiler_kwh: day.boiler_kwh,
            pump_kwh: day.pump_kwh,
            outdoor_mean_c: Some(day.outdoor_mean_c),
            store_end_c: Some(day.store_end_c),
        })
        .collect();
    Ok(WinterExtras {
        variants,
        plant_days,
        design_balance_c: Some(design_balance(run)),
    })
}

/// Outdoor temperature at which the store, as the season began, just holds the slab's target.
fn design_balance(run: &Run<'_>) -> f64 {
    let target = run.settings.target.to_fixed().to_num::<f64>();
    let store = run.plant.ground.mean_c;
    let options = BalanceOptions {
        floor_film: FloorFilm::Curve,
        ..BalanceOptions::default()
    };
    balance_point(run.plant, Given::SlabCore(target), store, &options).outdoor_c
}

/// One line for each thing taken away.
fn comparison(extras: &WinterExtras, show: Show) -> String {
    extras
        .variants
        .iter()
        .skip(1)
        .map(|variant| {
            let n = &variant.numbers;
            let ice = n
                .water_froze_solid_time
                .as_ref()
                .map_or(String::new(), |time| format!(", frozen solid {time}"));
            format!(
                "  {:<20} slab down to {:>8}, {:>6.0} h below target{ice}\n",
                variant.name,
                show.temperature(n.slab_min_c.unwrap_or(f64::NAN)),
                n.slab_hours_below_target.unwrap_or(f64::NAN)
            )
        })
        .collect()
}
