//! `host-sim size`

use std::io::Write as _;

use anyhow::{Context as _, bail};
use controller_core::settings::Settings;

use super::{Inputs, Outcome};
use crate::cli::Size;
use crate::files;
use crate::files::message::plain;
use crate::files::output::{self, OutputSet};
use crate::files::quantity::show::Show;
use crate::files::quantity::{self, Dimension};
use crate::files::settings_file;
use crate::files::site::Site;
use crate::present;
use crate::present::house;
use crate::questions::own_settings::settings_in;
use crate::questions::size::{self, Asked, Check, Shown, Vary, Verdict};
use crate::sim::plant::config::PlantConfig;

/// Temperatures a question may have, °C: what grows and what freezes.
const HELD_C: (f64, f64) = (-5.0, 30.0);
const STORE_C: (f64, f64) = (-5.0, 40.0);
const DESIGN_C: (f64, f64) = (-60.0, 20.0);

pub(super) fn run(args: &Size) -> anyhow::Result<Outcome> {
    let mut inputs = Inputs::new();
    let site = inputs.site(args.site.as_ref())?;
    inputs.add(&args.weather);
    let vary = args
        .vary
        .as_deref()
        .map(|text| Vary::parse(text, usize::from(args.points)))
        .transpose()
        .context("--vary")?;
    let (design_c, design_from) = design_night(args, &site)?;
    let asked = Asked {
        hold_c: temperature("--hold", &args.hold, HELD_C)?,
        store_c: args
            .store
            .as_deref()
            .map(|text| temperature("--store", text, STORE_C))
            .transpose()?,
        design_c,
    };
    let cancel = output::cancel_on_ctrl_c()?;
    let report = inputs.output(args.answer.report.as_ref())?;
    let settings = inputs.output(args.write_settings.as_ref())?;

    let plant = &site.config.plant;
    let question = asked.question(plant);
    let check = Check::of(plant, &question);
    let sweep = vary
        .map(|vary| vary.run(&site.config, &asked))
        .transpose()
        .context("--vary")?;
    let show = Show(args.answer.shown.units);
    let site_name = args.site.as_ref().map_or_else(
        || "the demo site, as no file was given".to_owned(),
        |path| path.display().to_string(),
    );
    let mut shown = Shown::new(&check, sweep.as_ref(), args.answer.shown.units);
    shown.house = house(site.config.name.as_deref(), args.site.as_deref());
    shown.used = vec![
        ("Site".to_owned(), site_name.clone()),
        ("Held".to_owned(), show.temperature(question.hold_c)),
        (
            "Store".to_owned(),
            format!(
                "{}, {}",
                show.temperature(question.store_c),
                match asked.store_c {
                    Some(_) => "as asked",
                    None => "undisturbed earth as winter begins",
                }
            ),
        ),
        (
            "Design night".to_owned(),
            format!("{}, {design_from}", show.temperature(design_c)),
        ),
    ];
    shown.notes = site.remarks(args.answer.shown.units);

    let mut outputs = OutputSet::new();
    if let Some(mut file) = report {
        present::size::page(&shown, plant).write(&mut file)?;
        outputs.add(file)?;
    }
    if let Some(mut file) = settings {
        file.write_all(own_settings(args, plant, &site_name)?.as_bytes())?;
        outputs.add(file)?;
    }
    outputs.persist(&cancel)?;
    if args.answer.json {
        let mut json = serde_json::to_string_pretty(&shown)?;
        json.push('\n');
        output::print(&json)?;
    } else {
        output::print(&present::size::text(&shown))?;
    }
    Ok(match shown.verdict {
        Verdict::Fine | Verdict::Look | Verdict::Caution => Outcome::Done,
        Verdict::WillNotWork => Outcome::DoesNotHold,
    })
}

/// A settings file for this site.
fn own_settings(args: &Size, plant: &PlantConfig, site_name: &str) -> anyhow::Result<String> {
    let units = args.answer.shown.units;
    let raw = settings_in(plant, units);
    if let Err(problems) = Settings::check(raw) {
        let broken: Vec<_> = problems.iter().map(ToString::to_string).collect();
        bail!(
            "--write-settings: found a loop that no settings fit: {}; expected one that the controller can run. See what the \
             check says against it",
            broken.join("; ")
        );
    }
    let remarks = format!(
        "Made by host-sim size for {}: flow, transit, power, loop effectiveness and boiler are the site's,\n\
         and what has to follow from them does. Measure flow and power when the loop runs, and correct them.",
        plain(site_name).replace('\n', " ")
    );
    Ok(settings_file::to_toml_under(&remarks, &raw, units))
}

/// The design night and where it is from.
fn design_night(args: &Size, site: &Site) -> anyhow::Result<(f64, String)> {
    if let Some(text) = &args.design {
        return Ok((
            temperature("--design", text, DESIGN_C)?,
            "as asked".to_owned(),
        ));
    }
    let year = match &args.weather {
        Some(path) => files::weather::read(path)?,
        None => match site.config.own_weather()? {
            Some(year) => year,
            None => files::weather::demo()?,
        },
    };
    Ok(size::design_night(&year))
}

/// A temperature from the command line.
fn temperature(option: &str, text: &str, (least, most): (f64, f64)) -> anyhow::Result<f64> {
    let celsius = quantity::parse(text, Dimension::Temperature).context(option.to_owned())?;
    if !(least..=most).contains(&celsius) {
        let units = quantity::units_in(&format!("{text}\""));
        let shown = |celsius| quantity::format(celsius, Dimension::Temperature, units);
        bail!(
            "{option}: found \"{text}\"; expected {} to {}",
            shown(least),
            shown(most)
        );
    }
    Ok(celsius)
}
