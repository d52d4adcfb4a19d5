//! `host-sim size`

use std::path::{Path, PathBuf};

use anyhow::{Context as _, bail};

use super::{Outcome, site};
use crate::cli::Size;
use crate::output::{self, Cancel, OutputFile, OutputSet};
use crate::quantity::{self, Dimension};
use crate::report::show::Show;
use crate::site::Site;
use crate::size::{self, Asked, Check, Shown, Vary, Verdict};
use crate::weather::WeatherYear;

/// Temperatures a question may have, °C: what grows and what freezes.
const HELD_C: (f64, f64) = (-5.0, 30.0);
const STORE_C: (f64, f64) = (-5.0, 40.0);
const DESIGN_C: (f64, f64) = (-60.0, 20.0);

pub(super) fn run(args: &Size) -> anyhow::Result<Outcome> {
    let site = site(args.site.as_deref())?;
    let vary = args
        .vary
        .as_deref()
        .map(|text| Vary::parse(text, usize::from(args.points)))
        .transpose()
        .context("--vary")?;
    let weather = args.weather.as_ref().or(site.config.weather.as_ref());
    let (design_c, design_from) = design_night(args, weather)?;
    let asked = Asked {
        hold_c: temperature("--hold", &args.hold, HELD_C)?,
        store_c: args
            .store
            .as_deref()
            .map(|text| temperature("--store", text, STORE_C))
            .transpose()?,
        design_c,
    };
    let inputs: Vec<&Path> = [args.site.as_ref(), weather]
        .into_iter()
        .flatten()
        .map(PathBuf::as_path)
        .collect();
    let report = args
        .report
        .as_deref()
        .map(|path| OutputFile::create(path, &inputs))
        .transpose()?;

    let plant = &site.config.plant;
    let question = asked.question(plant);
    let check = Check::of(plant, &question);
    let sweep = vary
        .map(|vary| vary.run(&site.config, &asked))
        .transpose()
        .context("--vary")?;
    let show = Show(args.shown.units);
    let mut shown = Shown::new(&check, sweep.as_ref(), args.shown.units);
    shown.used = vec![
        (
            "Site".to_owned(),
            args.site.as_ref().map_or_else(
                || "the demo site, as no file was given".to_owned(),
                |path| path.display().to_string(),
            ),
        ),
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
    shown.notes = notes(&site);

    if let Some(mut file) = report {
        size::page(&shown, plant).write(&mut file)?;
        let mut outputs = OutputSet::new();
        outputs.add(file)?;
        outputs.persist(&Cancel::new())?;
    }
    if args.json {
        let mut json = serde_json::to_string_pretty(&shown)?;
        json.push('\n');
        output::print(&json)?;
    } else {
        output::print(&size::text(&shown))?;
    }
    Ok(match shown.verdict {
        Verdict::Fine | Verdict::Look => Outcome::Done,
        Verdict::WillNotWork => Outcome::DoesNotHold,
    })
}

/// The design night and where it is from.
fn design_night(args: &Size, weather: Option<&PathBuf>) -> anyhow::Result<(f64, String)> {
    if let Some(text) = &args.design {
        return Ok((
            temperature("--design", text, DESIGN_C)?,
            "as asked".to_owned(),
        ));
    }
    let year = match weather {
        Some(path) => WeatherYear::read(path)?,
        None => WeatherYear::demo()?,
    };
    Ok(size::design_night(&year))
}

/// A temperature from the command line.
fn temperature(option: &str, text: &str, (least, most): (f64, f64)) -> anyhow::Result<f64> {
    let celsius = quantity::parse(text, Dimension::Temperature).context(option.to_owned())?;
    if !(least..=most).contains(&celsius) {
        bail!("{option}: found \"{text}\"; expected {least} °C to {most} °C");
    }
    Ok(celsius)
}

fn notes(site: &Site) -> Vec<String> {
    let mut notes: Vec<String> = site.lints.iter().map(ToString::to_string).collect();
    if !site.left_out.is_empty() {
        notes.push(format!(
            "Not in the site file, so the demo site's values stand: {}.",
            site.left_out.join(", ")
        ));
    }
    notes
}
