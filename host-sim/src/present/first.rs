//! The tables that answer first: held or not, how cold slab and air became, what it cost; the same winter otherwise beside it.

use super::page::{Block, Section, Table};
use super::{Context, Report, Variant, words};
use crate::account::metrics::SummaryNumbers;
use crate::files::quantity::show::{Show, electricity, fixed, hours};

/// The section at the top of a run's page.
pub(super) fn section(report: &Report<'_>) -> Section {
    let variants = report.winter.map_or(&[][..], |extras| &extras.variants);
    let show = Show(report.context.units);
    if variants.is_empty() {
        let table = table(&[("", report.numbers)], report.context);
        return Section::new("In short", vec![Block::Table(table)]);
    }
    let runs: Vec<(&str, &SummaryNumbers)> = variants
        .iter()
        .map(|variant| (variant.name.as_str(), &variant.numbers))
        .collect();
    let mut blocks = vec![Block::Table(table(&runs, report.context))];
    blocks.extend(worth(variants, show).map(Block::Paragraph));
    Section::new("In short, and the same winter otherwise", blocks)
}

type Value<'a> = Box<dyn Fn(&SummaryNumbers) -> Option<String> + 'a>;

/// A row for each figure that any of the runs knows, a column for each run.
fn table(runs: &[(&str, &SummaryNumbers)], context: &Context) -> Table {
    let show = Show(context.units);
    let temperature = |t: Option<f64>| t.map(|t| show.temperature(t));
    let rows: [(&str, Value<'_>); 15] = [
        (
            "Slab",
            Box::new(|n| Some(words::verdict(n, context).word().to_lowercase())),
        ),
        (
            "Water frozen solid",
            Box::new(|n| {
                let frozen = n.water_froze_solid_time.clone();
                frozen.or_else(|| context.simulated.then(|| "never".to_owned()))
            }),
        ),
        ("Coldest slab", Box::new(|n| temperature(n.slab_min_c))),
        (
            "Coldest part of the slab with tube",
            Box::new(|n| temperature(n.slab_true_min_c)),
        ),
        (
            "Slab below target",
            Box::new(|n| n.slab_hours_below_target.map(hours)),
        ),
        (
            "Degree-hours below target",
            Box::new(|n| {
                n.slab_degree_hours_below_target
                    .map(|kh| show.degree_hours(kh))
            }),
        ),
        (
            "Slab below freezing",
            Box::new(|n| n.slab_hours_below_zero.map(hours)),
        ),
        ("Coldest house air", Box::new(|n| temperature(n.air_min_c))),
        (
            "House air below freezing",
            Box::new(|n| n.air_hours_below_zero.map(hours)),
        ),
        (
            "Coldest store",
            Box::new(|n| temperature(n.store_true_min_c.or(n.store_min_c))),
        ),
        (
            "Wood burnt",
            Box::new(|n| n.wood_kg.map(|kg| show.mass(kg))),
        ),
        (
            "Circulator electricity",
            Box::new(|n| Some(electricity(n.pump_kwh))),
        ),
        (
            "Heat from the earth",
            Box::new(|n| n.earth_heat_kwh.map(|kwh| show.heat(kwh))),
        ),
        (
            "Heat from the boiler",
            Box::new(|n| n.boiler_heat_kwh.map(|kwh| show.heat(kwh))),
        ),
        (
            "Boiler calls",
            Box::new(|n| {
                let calls = n.boiler_calls;
                Some(format!("{calls}, {}", hours(n.boiler_call_hours)))
            }),
        ),
    ];
    let mut head = vec![String::new()];
    head.extend(runs.iter().map(|(name, _)| (*name).to_owned()));
    let rows = rows
        .iter()
        .filter_map(|(name, of)| {
            let values: Vec<Option<String>> = runs.iter().map(|(_, n)| of(n)).collect();
            values.iter().any(Option::is_some).then(|| {
                let unknown = || "not known".to_owned();
                let cells = values
                    .into_iter()
                    .map(|value| value.unwrap_or_else(unknown));
                std::iter::once((*name).to_owned()).chain(cells).collect()
            })
        })
        .collect();
    Table {
        head,
        rows,
        numbers: runs.len(),
    }
}

/// In a sentence, what leaving each part out did to the coldest slab.
fn worth(variants: &[Variant], show: Show) -> Option<String> {
    let (this, others) = variants.split_first()?;
    let with = this.numbers.slab_min_c?;
    let parts: Vec<String> = others
        .iter()
        .filter_map(|v| {
            let without = v.numbers.slab_min_c?;
            let change = without - with;
            let word = if change < 0.0 { "colder" } else { "warmer" };
            Some(format!(
                "{}: {} {word} at its coldest",
                v.name,
                show.difference(change.abs())
            ))
        })
        .collect();
    (!parts.is_empty()).then(|| {
        format!(
            "Against \"{}\" ({} days): {}.",
            this.name,
            fixed(this.numbers.days, 0),
            parts.join("; ")
        )
    })
}
