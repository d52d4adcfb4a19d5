//! `host-sim tonight`

use std::path::Path;

use anyhow::{Context as _, bail};
use jiff::civil::{Date, DateTime, Time};

use super::{Inputs, Outcome};
use crate::cli::Tonight;
use crate::files;
use crate::files::log::{LogReader, ReaderOptions};
use crate::files::now::now as now_here;
use crate::files::output::{self, OutputSet};
use crate::files::quantity::{self, Dimension, Units};
use crate::files::site::Site;
use crate::present::house;
use crate::present::tonight::{Shown, page};
use crate::questions::tonight::axis::Axis;
use crate::questions::tonight::ensemble::Size;
use crate::questions::tonight::forecast::{Forecast, SkyCover};
use crate::questions::tonight::recent::{Aged, Known, RECENT_MS, Recent, STORE_RECENT_MS};
use crate::questions::tonight::start::{Present, StoreReading};
use crate::questions::tonight::{Question, Verdict, answer, hours};
use crate::sim::weather::{Origin, Station};
use controller_core::settings::{Mode, Settings};

/// What a temperature may be, °C: beyond that it is a slip of the pen.
const OUTDOOR_C: (f64, f64) = (-60.0, 45.0);
const SLAB_C: (f64, f64) = (-20.0, 45.0);
const STORE_C: (f64, f64) = (-10.0, 40.0);
/// Greatest difference between a day's high and low, K (the greatest on record is 57 K, in 1916, from memory).
const RANGE_K: f64 = 57.0;
/// A reading this far below the forecast low replaces it, K.
const BELOW_LOW_K: f64 = 0.5;
/// A reading this far above the high is asked about, K. Judgement.
const ABOVE_HIGH_K: f64 = 12.0;

/// What to do if there will be no fire.
const UNLIT: &str = "If you will not light it, take the boiler from the controller for the night (boiler = \"none\" in its settings).";

/// What to give, if too little was given.
const EXAMPLE: &str = "host-sim tonight --low \"-9 °C\" --high \"-1 °C\" --clear --slab \"6 °C\" --store \"8 °C\" --outdoor \"-2 °C\" --now 18:00";

fn example(units: Units) -> String {
    quantity::told(EXAMPLE, units)
}

pub(super) fn run(args: &Tonight) -> anyhow::Result<Outcome> {
    let units = args.answer.shown.units;
    let mut inputs = Inputs::new();
    let site = inputs.site(args.house.site.as_ref())?;
    let chosen = inputs.settings(args.house.settings.as_ref(), &site, units)?;
    let (settings, settings_name) = (chosen.settings, chosen.name);
    inputs.add([&args.log, &args.forecast].into_iter().flatten());
    let (station, station_name) = station(&site)?;
    if args.log.is_none() && args.form.is_given() {
        bail!(
            "--column, --missing and the other words on how a log is read: found no log; expected one with --log FILE"
        );
    }
    let log = args
        .log
        .as_deref()
        .map(|path| read_log(args, path, &site, &settings))
        .transpose()?;
    let mut notes = chosen.notes;
    let now = now(args, log.as_ref(), &station, &mut notes)?;
    let until = args.until.as_deref().map(until).transpose()?;
    let axis = Axis::new(&station, now, until);
    let (present, readings) = present(args, log.as_ref())?;
    let history = log.as_ref().and_then(|log| log.history(&axis));
    if log.is_some() && history.is_none() {
        notes.push("The log is shorter than an hour: only its readings are used.".to_owned());
    }
    let (forecast, forecast_name) = forecast(args, &station, &axis, &present, &mut notes)?;

    let report = inputs.output(args.answer.report.as_ref())?;
    let cancel = output::cancel_on_ctrl_c()?;
    let answer = answer(&Question {
        site: &site.config,
        settings: &settings,
        station: &station,
        axis,
        present,
        history: history.as_ref(),
        forecast: &forecast,
        seed: args.seed,
        size: Size {
            members: args.nights as usize,
            ..Size::default()
        },
        fire: true,
    })?;
    if answer
        .fire
        .as_ref()
        .is_some_and(|fire| fire.light_by_s.is_some())
    {
        notes.push(UNLIT.to_owned());
    }
    match settings.mode {
        Mode::Winter | Mode::Commissioning => {}
        Mode::Summer => notes
            .push("The settings' mode is summer: only frost protection warms the slab.".to_owned()),
        Mode::Drained => {
            notes.push("The settings' mode is drained: nothing warms the slab.".to_owned());
        }
    }
    notes.extend(site.lints_in(units).iter().map(ToString::to_string));
    let shown = Shown {
        answer: &answer,
        house: house(site.config.name.as_deref(), args.house.site.as_deref()),
        forecast: forecast_name,
        used: vec![
            (
                "Site".to_owned(),
                args.house.site.as_ref().map_or_else(
                    || "the demo's".to_owned(),
                    |path| path.display().to_string(),
                ),
            ),
            ("Settings".to_owned(), settings_name),
            ("Sun".to_owned(), station_name),
            ("Readings".to_owned(), readings),
        ],
        notes,
        units: args.answer.shown.units,
    };
    let mut outputs = OutputSet::new();
    if let Some(mut file) = report {
        page(&shown).write(&mut file)?;
        outputs.add(file)?;
    }
    outputs.persist(&cancel)?;
    let text = if args.answer.json {
        serde_json::to_string_pretty(&shown.json())? + "\n"
    } else {
        shown.text()
    };
    output::print(&text)?;
    Ok(if answer.verdict() == Verdict::Holds {
        Outcome::Done
    } else {
        Outcome::DoesNotHold
    })
}

/// Where the house stands, for the sun: its weather file's place, or the latitude of its log or climate on this computer's clock.
fn station(site: &Site) -> anyhow::Result<(Station, String)> {
    let (year, whose) = match site.config.own_weather()? {
        Some(year) => (year, ""),
        None => (files::weather::demo()?, ", the demo's"),
    };
    let station = year.station;
    if year.origin == Origin::TypicalYear {
        let name = format!("as at {}{whose}", station.name);
        return Ok((station, name));
    }
    let utc_offset_h = standard_offset_h();
    let name = format!("as at latitude {:.1}°", station.latitude_deg);
    let station = Station {
        utc_offset_h,
        // The sun is highest at noon by the clock.
        longitude_deg: 15.0 * utc_offset_h,
        ..station
    };
    Ok((station, name))
}

/// Standard time of this computer's zone less universal time, h.
fn standard_offset_h() -> f64 {
    let (now, zone) = now_here();
    let now = zone.to_offset_info(now);
    let summer_h = if now.dst().is_dst() { 1.0 } else { 0.0 };
    f64::from(now.offset().seconds()) / 3600.0 - summer_h
}

fn read_log(
    args: &Tonight,
    path: &Path,
    site: &Site,
    settings: &Settings,
) -> anyhow::Result<Recent> {
    let options = ReaderOptions {
        // Only the newest hours count, whatever was missing before them.
        longest_gap_ms: args.form.longest_gap,
        // The night is a matter of the wall clock, which `listen` writes beside the unit's seconds.
        prefer_dates: true,
        ..args.form.options()
    };
    let mut reader = LogReader::open(path, &options)?;
    Ok(Recent::read(&mut reader, &site.config.plant, settings)?)
}

/// The moment asked from: the log's newest row, or the time given.
fn now(
    args: &Tonight,
    log: Option<&Recent>,
    station: &Station,
    notes: &mut Vec<String>,
) -> anyhow::Result<DateTime> {
    let here = here(station);
    let given = args
        .now
        .as_deref()
        .map(|text| moment(text, here))
        .transpose()?;
    let Some(log) = log else {
        return given.with_context(|| {
            format!("--now: found none; expected the time of the readings, such as --now 18:00, or a log with --log. For example:\n  {}", example(args.answer.shown.units))
        });
    };
    let name = args.log.as_deref().unwrap_or(Path::new("-")).display();
    let end = match (log.end(station), given) {
        (Ok(end), _) => end,
        (Err(_), Some(given)) => return Ok(given),
        (Err(error), None) => return Err(anyhow::Error::new(error).context(name.to_string())),
    };
    let recent_h = RECENT_MS / 3_600_000;
    let ended = minute(end);
    if let Some(given) = given {
        let age = given.duration_since(end).as_secs_f64() / 3600.0;
        if age > recent_h as f64 {
            bail!(
                "{name}: found its newest row at {ended}, {age:.1} h before --now; expected one of the last {recent_h} h. Give a newer log, or the readings with --slab, --store and --outdoor"
            );
        }
        if age < -1.0 {
            bail!(
                "{name}: found its newest row at {ended}, after --now; expected a log that ends at the time asked from"
            );
        }
    } else if here.duration_since(end).as_secs_f64() > recent_h as f64 * 3600.0 {
        notes.push(format!(
            "By this computer's clock the log's newest row, {ended}, is not recent: this is the night after that row."
        ));
    }
    Ok(end)
}

/// A time as people write it.
fn minute(time: DateTime) -> String {
    time.strftime("%Y-%m-%d %H:%M").to_string()
}

/// This computer's clock, in the station's local standard time.
fn here(station: &Station) -> DateTime {
    let (clock, _) = now_here();
    let hours = jiff::SignedDuration::from_secs_f64(station.utc_offset_h * 3600.0);
    jiff::tz::Offset::UTC.to_datetime(clock.saturating_add(hours).unwrap_or(clock))
}

/// `18:00` (today) or a date and time.
fn moment(text: &str, here: DateTime) -> anyhow::Result<DateTime> {
    let expected =
        "expected a time such as 18:00, 6 pm, \"2025-01-15 18:00\" or \"2025-01-15 6 pm\"";
    let text = text.trim();
    if let Ok(moment) = text.parse() {
        return Ok(moment);
    }
    // The date, and a time of day in any of its forms.
    if let Some((date, time)) = text.split_once(' ')
        && let (Ok(date), Some(time)) = (date.parse::<Date>(), quantity::time_of_day(time.trim()))
    {
        return Ok(date.to_datetime(time));
    }
    quantity::time_of_day(text)
        .map(|time| here.date().to_datetime(time))
        .with_context(|| format!("--now: found \"{text}\"; {expected}"))
}

fn until(text: &str) -> anyhow::Result<Time> {
    quantity::time_of_day(text).with_context(|| {
        format!("--until: found \"{text}\"; expected a time such as 07:00 or 7 am")
    })
}

fn temperature(
    name: &str,
    text: Option<&String>,
    (least, most): (f64, f64),
) -> anyhow::Result<Option<f64>> {
    let Some(text) = text else {
        return Ok(None);
    };
    let celsius =
        quantity::parse(text, Dimension::Temperature).with_context(|| format!("--{name}"))?;
    if !(least..=most).contains(&celsius) {
        let units = quantity::units_in(&format!("{text}\""));
        bail!(
            "--{name}: found \"{text}\"; expected {} to {}",
            shown(least, units),
            shown(most, units)
        );
    }
    Ok(Some(celsius))
}

/// The readings of the present, with what is said of them.
fn present(args: &Tonight, log: Option<&Recent>) -> anyhow::Result<(Present, String)> {
    let slab = temperature("slab", args.slab.as_ref(), SLAB_C)?;
    let store = temperature("store", args.store.as_ref(), STORE_C)?;
    let outdoor = temperature("outdoor", args.outdoor.as_ref(), OUTDOOR_C)?;
    let typed = slab.is_some() || store.is_some();
    let mut said = Vec::new();
    let mut from_log = |known: Known, what: &str, (least, most): (f64, f64), recent_ms: i64| {
        let reading = log?.newest(known)?;
        let fits = reading.age_ms <= recent_ms && (least..=most).contains(&reading.celsius);
        if fits {
            said.push(format!("{what}{}", age(&reading)));
        }
        fits.then_some(reading.celsius)
    };
    let missing = |what: &str, option: &str| match log {
        Some(_) => format!(
            "{}: found no {what} between sensible limits in the log's last {} h; expected one, or --{option}",
            args.log.as_deref().unwrap_or(Path::new("-")).display(),
            if option == "store" {
                STORE_RECENT_MS
            } else {
                RECENT_MS
            } / 3_600_000
        ),
        None => format!(
            "--{option}: found none; expected what the {what} shows now, or a log with --log. For example:\n  {}",
            example(args.answer.shown.units)
        ),
    };
    let slab_c = match slab {
        Some(slab_c) => slab_c,
        None => from_log(Known::Slab, "slab", SLAB_C, RECENT_MS)
            .with_context(|| missing("slab reading", "slab"))?,
    };
    let store = match store {
        Some(store_c) => StoreReading::Air(store_c),
        None => from_log(Known::Store, "store", STORE_C, STORE_RECENT_MS)
            .map(StoreReading::Air)
            .or_else(|| {
                from_log(
                    Known::StoreFloor,
                    "store by its water",
                    STORE_C,
                    STORE_RECENT_MS,
                )
                .map(StoreReading::Floor)
            })
            .with_context(|| {
                missing(
                    "store reading (store_c, or runs with circulator, supply and return)",
                    "store",
                )
            })?,
    };
    let outdoor_c = outdoor.or_else(|| from_log(Known::Outdoor, "outdoors", OUTDOOR_C, RECENT_MS));
    let said = match (said.is_empty(), log) {
        (false, _) => format!("{} from the log", said.join(", ")),
        (true, _) => "as typed".to_owned(),
    };
    let present = Present {
        slab_c,
        store,
        outdoor_c,
        typed,
    };
    Ok((present, said))
}

fn age(reading: &Aged) -> String {
    match reading.age_ms / 60_000 {
        ..=10 => String::new(),
        minutes @ 11..120 => format!(" ({minutes} min before its end)"),
        minutes => format!(" ({} h before its end)", minutes / 60),
    }
}

/// The forecast with its words.
fn forecast(
    args: &Tonight,
    station: &Station,
    axis: &Axis,
    present: &Present,
    notes: &mut Vec<String>,
) -> anyhow::Result<(Forecast, String)> {
    let sky = match (args.clear, args.cloudy) {
        (true, _) => SkyCover::Clear,
        (_, true) => SkyCover::Cloudy,
        _ => SkyCover::Unknown,
    };
    if let Some(path) = &args.forecast {
        let (forecast, name) = hours::read(path, sky, station)?;
        if let Some((first, last)) = forecast.covers() {
            let (now, until) = (axis.at(axis.now_s), axis.at(axis.until_s));
            let slack = jiff::SignedDuration::from_hours(1);
            if first > now.saturating_add(slack) || last < until.saturating_sub(slack) {
                bail!(
                    "{}: found hours from {} to {}; expected them to reach from {} to {}, or an earlier --until",
                    path.display(),
                    minute(first),
                    minute(last),
                    minute(now),
                    minute(until)
                );
            }
        }
        return Ok((forecast, name));
    }
    let low = temperature("low", args.low.as_ref(), OUTDOOR_C)?;
    let high = temperature("high", args.high.as_ref(), OUTDOOR_C)?;
    let (Some(mut low_c), Some(high_c)) = (low, high) else {
        bail!(
            "found no forecast; expected --low and --high, or --forecast FILE. For example:\n  {}",
            example(args.answer.shown.units)
        );
    };
    if high_c < low_c {
        bail!(
            "--high: found {}, below the low of {}; expected the day's high above the night's low (are they exchanged?)",
            shown(high_c, args.answer.shown.units),
            shown(low_c, args.answer.shown.units)
        );
    }
    if high_c - low_c > RANGE_K {
        let told = format!(
            "--high: found {:.0} K above the low; expected at most {RANGE_K:.0} K",
            high_c - low_c
        );
        bail!("{}", quantity::told(&told, args.answer.shown.units));
    }
    let words = format!(
        "low {}, high {}, {}",
        shown(low_c, args.answer.shown.units),
        shown(high_c, args.answer.shown.units),
        sky.name()
    );
    if let Some(outdoor_c) = present.outdoor_c
        && outdoor_c > high_c + ABOVE_HIGH_K
    {
        notes.insert(
            0,
            format!(
                "It is {} outdoors now, far above the forecast's high of {}: is that what the outdoor sensor shows, and is the forecast \
                 for tonight?",
                shown(outdoor_c, args.answer.shown.units),
                shown(high_c, args.answer.shown.units)
            ),
        );
    }
    if let Some(outdoor_c) = present.outdoor_c
        && outdoor_c < low_c - BELOW_LOW_K
    {
        notes.push(format!(
            "It is already {} outdoors, below the forecast low: that is taken as the low.",
            shown(outdoor_c, args.answer.shown.units)
        ));
        low_c = outdoor_c;
    }
    let forecast = Forecast::LowHigh {
        low_c,
        high_c: high_c.max(low_c),
        sky,
    };
    Ok((forecast, words))
}

fn shown(celsius: f64, units: Units) -> String {
    let (value, unit) = quantity::convert(celsius, Dimension::Temperature, units);
    let text = format!("{value:.1}");
    format!("{} {unit}", text.strip_suffix(".0").unwrap_or(&text))
}
