//! `host-sim compare`

use std::sync::Arc;

use anyhow::bail;
use controller_core::settings::Mode;

use super::{Chosen, Inputs, Outcome, progress_bar, taken_as_on_call};
use crate::cli::Compare;
use crate::files::output::{self, OutputSet};
use crate::files::quantity;
use crate::present::compare::{page, text};
use crate::present::house;
use crate::questions::compare::{Comparison, Winter};
use crate::sim::weather::{ColdSnap, Series, SnapStart, WeatherYear};

/// Laid over the first winter if no other is given: a spell that decides. Status: judgement.
const SNAP_DEPTH_K: f64 = 6.0;
const SNAP_DAYS: f64 = 4.0;

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
        years.push(Arc::new(WeatherYear::read(path)?));
    }
    if years.is_empty() {
        years.push(Arc::new(match site.config.own_weather()? {
            Some(year) => year,
            None => WeatherYear::demo()?,
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
            &house(site.config.name.as_deref(), args.house.site.as_deref()),
            &used,
            units,
        )
        .write(&mut file)?;
        outputs.add(file)?;
    }
    outputs.persist(&cancel)?;
    if args.answer.json {
        output::print(&(serde_json::to_string_pretty(&compared)? + "\n"))?;
    } else {
        let notes: String = notes.iter().map(|note| format!("{note}\n")).collect();
        output::print(&(text(&compared, units) + &notes))?;
    }
    Ok(Outcome::Done)
}

fn site_name(args: &Compare) -> String {
    args.house.site.as_ref().map_or_else(
        || "the demo site, as no file was given".to_owned(),
        |path| path.display().to_string(),
    )
}
