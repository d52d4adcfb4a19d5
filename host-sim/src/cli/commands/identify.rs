//! `host-sim identify`

use std::fmt::Write as _;
use std::io::IsTerminal as _;

use indicatif::{ProgressBar, ProgressStyle};

use super::Outcome;
use super::listen::duration;
use crate::cli::Identify;
use crate::files::output;
use crate::files::quantity::{self, Dimension, Units};
use crate::serial::identify::{Probe, View, identify};
use crate::serial::port::SerialPort;

pub(super) fn run(args: &Identify) -> anyhow::Result<Outcome> {
    let time = args.time.as_deref().map(duration).transpose()?;
    let mut port = SerialPort::new(&args.port);
    let cancel = output::cancel_on_ctrl_c()?;
    let units = args.shown.units;
    // On a terminal the table stands in its place; elsewhere only what changes is told.
    let bar = std::io::stderr().is_terminal().then(|| {
        let style = ProgressStyle::with_template("{msg}");
        let bar = ProgressBar::no_length();
        bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
        bar
    });
    let mut told = None;
    let result = identify(&mut port, time, &cancel, &mut |view| {
        if let Some(bar) = &bar {
            bar.set_message(table(view, units));
        } else if told.as_ref() != Some(&view.rises) {
            eprintln!("{}", verdict(view, units));
        }
        told = Some(view.rises.clone());
    });
    if let Some(bar) = bar {
        bar.finish_and_clear();
    }
    let view = result?;
    let text = if args.json {
        serde_json::to_string_pretty(&view)? + "\n"
    } else {
        table(&view, units)
    };
    output::print(&text)?;
    Ok(Outcome::Done)
}

/// Every sensor a line, then what to make of it.
fn table(view: &View, units: Units) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    for probe in &view.probes {
        let reading = match probe.celsius {
            Some(celsius) => temperature(celsius, units),
            None => "no reading".to_owned(),
        };
        let _ = write!(
            text,
            "{:<17} {:<8} {reading:>10}  {:>8} in a minute",
            probe.source,
            probe.name.as_deref().unwrap_or("unnamed"),
            rise(probe, units),
        );
        if let Some(wire) = probe.wire {
            let _ = write!(text, ", wire {wire}");
        }
        if probe.celsius.is_none() {
            let _ = write!(text, ", {}", probe.status);
        }
        if view.rises.as_ref() == Some(&probe.source) {
            text.push_str("  <- rises");
        }
        text.push('\n');
    }
    for fault in &view.faults {
        let _ = writeln!(text, "sensor bus: {fault}");
    }
    text.push_str(&verdict(view, units));
    text.push('\n');
    text
}

fn verdict(view: &View, units: Units) -> String {
    let rising = view
        .rises
        .as_ref()
        .and_then(|source| view.probes.iter().find(|probe| probe.source == *source));
    match rising {
        Some(probe) => format!(
            "{} rises: {} in the last minute; it is {}.",
            probe.source,
            rise(probe, units),
            match &probe.name {
                Some(name) => format!("named {name}"),
                None => format!("unnamed (bind SENSOR {})", probe.source),
            }
        ),
        None if view.probes.is_empty() => {
            "The unit finds no sensor: look at the bus's wires and its pull-up.".to_owned()
        }
        None => "No sensor rises. Hold one in your hand for half a minute.".to_owned(),
    }
}

fn temperature(celsius: f64, units: Units) -> String {
    let (value, unit) = quantity::convert(celsius, Dimension::Temperature, units);
    format!("{value:.1} {unit}")
}

fn rise(probe: &Probe, units: Units) -> String {
    let (value, unit) = quantity::convert(probe.rise_k, Dimension::TemperatureDifference, units);
    format!("{value:+.1} {unit}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn probe(source: &str, name: Option<&str>, celsius: Option<f64>, rise_k: f64) -> Probe {
        Probe {
            source: source.to_owned(),
            name: name.map(str::to_owned),
            wire: None,
            celsius,
            status: "absent".to_owned(),
            rise_k,
        }
    }

    #[test]
    fn the_table_says_which_rises_in_the_units_asked_for() {
        let view = View {
            probes: vec![
                probe("28aa00000000bb", None, Some(25.0), 2.0),
                probe("input 2", Some("slab"), None, 0.0),
            ],
            rises: Some("28aa00000000bb".to_owned()),
            faults: vec!["wire 2: wire shorted or without pull-up".to_owned()],
        };
        let si = table(&view, Units::Si);
        assert!(
            si.contains("25.0 °C    +2.0 K in a minute  <- rises"),
            "{si}"
        );
        assert!(si.contains("slab     no reading"), "{si}");
        assert!(si.contains("+0.0 K in a minute, absent"), "{si}");
        assert!(si.contains("sensor bus: wire 2: "), "{si}");
        assert!(
            si.ends_with("unnamed (bind SENSOR 28aa00000000bb).\n"),
            "{si}"
        );
        let us = table(&view, Units::Us);
        assert!(us.contains("77.0 °F"), "{us}");
        assert!(us.contains("+3.6"), "{us}");
    }
}
