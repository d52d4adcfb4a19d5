//! `host-sim lay`

use std::io::Write as _;

use anyhow::{Context as _, bail};

use super::{Inputs, Outcome};
use crate::cli::{self, LaidAs};
use crate::files::form::{Edit, edited};
use crate::files::input;
use crate::files::output::{self, OutputSet};
use crate::files::plan::Plan;
use crate::files::quantity::{self, Dimension, Units};
use crate::present::house;
use crate::present::lay::{Shown, json, page, pdf, svg, text};
use crate::present::page::made;
use crate::questions::lay::{Laid, Printed, Question, house_lines, is_other_floor, lay};
use crate::questions::size::Asked;
use crate::sim::plant::config::PlantConfig;
use crate::sim::plant::exchanger::Layout;

/// Possible spacings and coils, m.
const SPACING_M: (f64, f64) = (0.05, 1.0);
const COIL_M: (f64, f64) = (5.0, 2000.0);
/// Coils that are sold (common practice, no source), m.
const COILS_M: [f64; 5] = [50.0, 100.0, 120.0, 200.0, 240.0];
const COILS_US_M: [f64; 3] = [91.44, 152.4, 304.8];
/// Distance of marks along the tube, m: 10 m and 25 ft.
const MARKS_M: [f64; 2] = [10.0, 7.62];

pub(super) fn run(args: &cli::Lay) -> anyhow::Result<Outcome> {
    let units = args.answer.shown.units;
    let mut inputs = Inputs::new();
    let site = inputs.site(args.site.as_ref())?;
    inputs.add(&args.plan);
    let plant = &site.config.plant;
    let plan = match &args.plan {
        Some(path) => Plan::read(path)?,
        None => Plan::rectangle(plant.house.width_m, plant.house.length_m),
    };
    let spacing_m = args
        .spacing
        .as_deref()
        .map(|text| length("--spacing", text, SPACING_M))
        .transpose()?
        .unwrap_or(plant.floor.spacing_m);
    let asked = Asked {
        hold_c: Asked::HOLD_C,
        store_c: None,
        design_c: 0.0,
    };
    let store_c = asked.question(plant).store_c;
    let printed = args.printed.as_deref().map(printed).transpose()?;
    let coils_m = coils(args.coils.as_deref(), units)?;
    let laid = |layout| -> anyhow::Result<Laid> {
        let question = Question {
            plan: &plan,
            plant,
            spacing_m,
            layout,
            stretch: true,
            fill: !args.leave_strips,
            printed,
            coils_m: coils_m.clone(),
            mark_m: match units {
                Units::Si => MARKS_M[0],
                Units::Us => MARKS_M[1],
            },
            hold_c: Asked::HOLD_C,
            store_c,
        };
        let name = || {
            args.plan
                .as_ref()
                .map_or_else(|| "the floor".to_owned(), |path| path.display().to_string())
        };
        lay(&question).with_context(name)
    };
    let svg_file = inputs.output(args.write_svg.as_ref())?;
    let pdf_file = inputs.output(args.write_pdf.as_ref())?;
    let report = inputs.output(args.answer.report.as_ref())?;
    let site_file = inputs.output(args.write_site.as_ref())?;
    let cancel = output::cancel_on_ctrl_c()?;
    let (first, second) = match args.layout {
        LaidAs::CounterFlow => (Layout::CounterFlow, None),
        LaidAs::Serpentine => (Layout::Serpentine, None),
        LaidAs::Both => (Layout::CounterFlow, Some(Layout::Serpentine)),
    };
    let drawn = laid(first)?;
    let other = second.map(laid).transpose()?;

    let house = house(
        site.config.name.as_deref(),
        args.plan.as_deref().or(args.site.as_deref()),
    );
    let made = made();
    let shown = Shown {
        laid: &drawn,
        other: other.as_ref(),
        plan: &plan,
        tube: plant.floor.tube.name,
        house: &house,
        made: &made,
        scale: args.scale,
        site_floor_m2: plant.house.floor_area_m2(),
        units,
    };
    let mut outputs = OutputSet::new();
    if let Some(mut file) = svg_file {
        file.write_all(svg(&shown).as_bytes())?;
        outputs.add(file)?;
    }
    if let Some(mut file) = pdf_file {
        file.write_all(&pdf(&shown))?;
        outputs.add(file)?;
    }
    if let Some(mut file) = report {
        page(&shown).write(&mut file)?;
        outputs.add(file)?;
    }
    if let Some(mut file) = site_file {
        file.write_all(own_site(args, &plan, plant, &drawn)?.as_bytes())?;
        outputs.add(file)?;
    }
    outputs.persist(&cancel)?;
    if args.answer.json {
        let mut text = serde_json::to_string_pretty(&json(&shown))?;
        text.push('\n');
        output::print(&text)?;
    } else {
        output::print(&text(&shown))?;
    }
    Ok(if drawn.limits.is_empty() {
        Outcome::Done
    } else {
        Outcome::DoesNotHold
    })
}

/// The site file with the tube as drawn; without one only the lines that follow from the drawing.
fn own_site(
    args: &cli::Lay,
    plan: &Plan,
    plant: &PlantConfig,
    laid: &Laid,
) -> anyhow::Result<String> {
    let original = args
        .site
        .as_deref()
        .map(input::text)
        .transpose()?
        .unwrap_or_default();
    let units = if args.site.is_some() {
        quantity::units_in(&original)
    } else {
        args.answer.shown.units
    };
    let mut lines = laid.site_lines(units);
    if is_other_floor(laid.floor_m2, plant.house.floor_area_m2()) {
        lines.extend(house_lines(plan, units));
    }
    let comment = "# As drawn by host-sim lay.";
    let edits: Vec<Edit> = lines
        .iter()
        .map(|line| {
            let (section, name) = line.key.split_once('.').unwrap_or(("", line.key));
            Edit {
                section: section.to_owned(),
                name: name.to_owned(),
                value: line.toml(),
                comment: comment.to_owned(),
            }
        })
        .collect();
    edited(&original, &edits).map_err(|error| {
        anyhow::anyhow!("--write-site: found a site file that cannot be edited: {error}")
    })
}

/// A length from the command line.
fn length(option: &str, text: &str, (least, most): (f64, f64)) -> anyhow::Result<f64> {
    let metres = quantity::parse(text, Dimension::Length).context(option.to_owned())?;
    if !(least..=most).contains(&metres) {
        let units = quantity::units_in(&format!("{text}\""));
        let shown = |metres| quantity::format(metres, Dimension::Length, units);
        bail!(
            "{option}: found \"{text}\"; expected {} to {}",
            shown(least),
            shown(most)
        );
    }
    Ok(metres)
}

/// A reading of the tube's print, with the way its figures go.
fn printed(text: &str) -> anyhow::Result<Printed> {
    let (reading, falls) = match text.trim().strip_suffix("down") {
        Some(reading) => (reading, true),
        None => (text.trim().strip_suffix("up").unwrap_or(text), false),
    };
    Ok(Printed {
        start_m: length("--printed", reading, (0.0, COIL_M.1))?,
        falls,
    })
}

/// Lengths of coils; a unit may stand once, at the end.
fn coils(text: Option<&str>, units: Units) -> anyhow::Result<Vec<f64>> {
    let Some(text) = text else {
        return Ok(match units {
            Units::Si => COILS_M.to_vec(),
            Units::Us => COILS_US_M.to_vec(),
        });
    };
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    let unit = parts.last().map_or("", |last| quantity::unit_of(last));
    parts
        .iter()
        .map(|part| {
            let with_unit = if quantity::unit_of(part).is_empty() {
                format!("{part} {unit}")
            } else {
                (*part).to_owned()
            };
            length("--coils", &with_unit, COIL_M)
        })
        .collect()
}
