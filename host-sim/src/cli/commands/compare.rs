//! `host-sim compare`

use std::sync::Arc;

use anyhow::bail;
use controller_core::settings::{Mode, Settings};
use serde::Serialize;

use super::{Chosen, Inputs, Outcome, progress_bar, taken_as_on_call};
use crate::cli::Compare;
use crate::files;
use crate::files::output::{self, OutputSet};
use crate::files::quantity;
use crate::files::site::Site;
use crate::present::compare::{page, text};
use crate::present::house;
use crate::questions::compare::{Compared, Comparison, Winter};
use crate::questions::spells::Windows;
use crate::questions::spells::houses::House;
use crate::questions::spells::risk::{self, Risk};
use crate::sim::cancel::Cancel;
use crate::sim::weather::{ColdSnap, Series, SnapStart, WeatherYear};

/// Laid over the first winter if no other is given: a spell that decides. Status: judgement.
const SNAP_DEPTH_K: f64 = 6.0;
const SNAP_DAYS: f64 = 4.0;
/// Days of the cold weather in which a fault stands.
const FORTNIGHT: u32 = 14;

pub(super) fn run(args: &Compare) -> anyhow::Result<Outcome> {
    let units = args.answer.shown.units;
    let mut inputs = Inputs::new();
    let mut site = inputs.site(args.house.site.as_ref())?;
    let fire = taken_as_on_call(&mut site, args.as_tended, units);
    let Chosen {
        settings,
        name,
        mut notes,
    } = inputs.settings(args.house.settings.as_ref(), &site, units)?;
    notes.extend(fire);
    if settings.mode != Mode::Winter {
        bail!(
            "{name}: found mode = {}; expected winter, since winters are compared",
            settings.mode.name()
        );
    }
    let mut years = Vec::new();
    for path in &args.weather {
        years.push(Arc::new(files::weather::read(path)?));
    }
    if years.is_empty() {
        years.push(Arc::new(match site.config.own_weather()? {
            Some(year) => year,
            None => files::weather::demo()?,
        }));
    }
    let mut named: Vec<(String, Arc<WeatherYear>)> = years
        .iter()
        .map(|year| (year.station.name.clone(), Arc::clone(year)))
        .collect();
    if named.len() == 1 {
        let year = years[0].with_cold_snap(&ColdSnap {
            depth_k: SNAP_DEPTH_K,
            days: SNAP_DAYS,
            ramp_h: 12.0,
            start: SnapStart::Seeded(args.seed),
        })?;
        let name = format!("the same {SNAP_DEPTH_K} K colder for {SNAP_DAYS} days");
        let name = quantity::told(&name, units);
        named.push((name, Arc::new(year)));
    }
    let winters = named
        .into_iter()
        .map(|(name, year)| {
            let period = year.period(args.from, args.days)?;
            Ok(Winter {
                name,
                weather: Series::new(&year, period, &site.config.glazing()),
            })
        })
        .collect::<anyhow::Result<Vec<_>>>()?;
    inputs.add(&args.weather);
    let report = inputs.output(args.answer.report.as_ref())?;
    let comparison = Comparison {
        plant: &site.config.plant,
        settings: &settings,
        winters: &winters,
        seed: args.seed,
        bound: args.bound,
    };
    let cancel = output::cancel_on_ctrl_c()?;
    let bar = progress_bar(Some(comparison.runs()), false);
    let compared = comparison.run(&cancel, &|| bar.inc(1))?;
    bar.finish_and_clear();
    let risk = match args.faults {
        Some(spells) => Some(under_faults(args, spells, &site, &settings, &cancel)?),
        None => None,
    };
    let mut outputs = OutputSet::new();
    if let Some(mut file) = report {
        let used = [
            ("Site".to_owned(), site_name(args)),
            ("Settings".to_owned(), name),
        ];
        let notes = notes.iter().map(|note| ("Note".to_owned(), note.clone()));
        let used: Vec<(String, String)> = used.into_iter().chain(notes).collect();
        page(
            &compared,
            risk.as_ref(),
            &house(site.config.name.as_deref(), args.house.site.as_deref()),
            &used,
            units,
        )
        .write(&mut file)?;
        outputs.add(file)?;
    }
    outputs.persist(&cancel)?;
    if args.answer.json {
        let answer = Answer {
            compared: &compared,
            under_faults: risk.as_ref(),
        };
        output::print(&(serde_json::to_string_pretty(&answer)? + "\n"))?;
    } else {
        let notes: String = notes.iter().map(|note| format!("{note}\n")).collect();
        output::print(&(text(&compared, risk.as_ref(), units) + &notes))?;
    }
    Ok(Outcome::Done)
}

/// The comparison as one JSON object.
#[derive(Serialize)]
struct Answer<'a> {
    #[serde(flatten)]
    compared: &'a Compared,
    #[serde(skip_serializing_if = "Option::is_none")]
    under_faults: Option<&'a Risk>,
}

fn under_faults(
    args: &Compare,
    spells: u64,
    site: &Site,
    settings: &Settings,
    cancel: &Cancel,
) -> anyhow::Result<Risk> {
    let house = House::with_settings("site", site.config.clone(), settings.clone());
    let windows = Windows::new(FORTNIGHT)?;
    let question = risk::Question {
        house: &house,
        windows: &windows,
        rates: &args.rates.clone().unwrap_or_default(),
        spells,
    };
    let bar = progress_bar(Some(question.runs()), false);
    let risk = question.run(cancel, &|| bar.inc(1))?;
    bar.finish_and_clear();
    Ok(risk)
}

fn site_name(args: &Compare) -> String {
    args.house.site.as_ref().map_or_else(
        || "the demo site, as no file was given".to_owned(),
        |path| path.display().to_string(),
    )
}
