//! The figures that come in rows.

use crate::files::quantity::show::{Show, counted, fixed};
use crate::files::quantity::{Dimension, Units};
use crate::files::settings_file;
use crate::present::page::Table;
use crate::questions::size::freeze::{FreezeTimes, RunFreeze};
use crate::questions::size::lines::{Figure, duration};
use crate::questions::size::{Check, Sweep, Verdict};

/// A table under its heading, with a sentence on how to read it.
pub(crate) struct Headed {
    pub(crate) heading: String,
    pub(crate) remark: String,
    pub(crate) table: Table,
}

fn headed(
    heading: impl Into<String>,
    remark: impl Into<String>,
    head: &[&str],
    rows: Vec<Vec<String>>,
) -> Headed {
    Headed {
        heading: heading.into(),
        remark: remark.into(),
        table: Table {
            head: head.iter().map(|&cell| cell.to_owned()).collect(),
            rows,
            numbers: head.len() - 1,
        },
    }
}

/// All of a check.
pub(crate) fn tables(check: &Check, units: Units) -> Vec<Headed> {
    let show = Show(units);
    let mut tables = vec![balance(check, show), tiring(check, show)];
    let [supply, ret] = &check.freeze;
    if supply.rows == ret.rows {
        tables.push(freeze("Still water in the pipe runs", supply, show));
    } else {
        tables.push(freeze("Still water in the supply run", supply, show));
        tables.push(freeze("Still water in the return run", ret, show));
    }
    tables.push(edge(check, show));
    tables.push(settings(check, units));
    tables
}

fn balance(check: &Check, show: Show) -> Headed {
    let power = |watts| show.number(watts, Dimension::Power, 0);
    let rows = check
        .balance
        .iter()
        .map(|row| {
            vec![
                in_units(&row.name, show),
                show.temperature(row.slab.outdoor_c),
                show.temperature(row.slab.air_c),
                power(row.slab.heat_w),
                show.temperature(row.slab.supply_c),
                show.temperature(row.slab.return_c),
                show.temperature(row.air.outdoor_c),
                show.temperature(row.air.slab_c),
                held(check, row.slab.outdoor_c),
            ]
        })
        .collect();
    headed(
        "Down to which cold the store alone holds",
        format!(
            "The slab's core held at {hold}; in the two columns before the last the air held at {hold}. The verdict is the slab's \
             on the design night of {}.",
            show.temperature(check.question.design_c),
            hold = show.temperature(check.question.hold_c),
        ),
        &[
            "case",
            "slab to",
            "air then",
            "heat",
            "supply",
            "return",
            "air to",
            "slab then",
            "verdict",
        ],
        rows,
    )
}

/// A case's name with its step of the store in the person's units.
fn in_units(name: &str, show: Show) -> String {
    name.replace("2 K", &show.difference(2.0).replace(".0 K", " K"))
}

/// Whether the slab is held on the design night without a boiler.
fn held(check: &Check, outdoor_c: f64) -> String {
    let holds = outdoor_c <= check.question.design_c;
    Verdict::fine_if(holds).words().to_owned()
}

fn tiring(check: &Check, show: Show) -> Headed {
    let rows = check
        .tiring
        .iter()
        .map(|row| {
            vec![
                format!("{} d", fixed(row.days, 0)),
                show.temperature(row.floor_c),
                show.temperature(row.air_c),
                show.number(row.heat_w, Dimension::Power, 0),
                show.temperature(row.outdoor_c),
                held(check, row.outdoor_c),
                show.temperature(row.earth_alone_c),
                show.temperature(row.earth_alone_outdoor_c),
            ]
        })
        .collect();
    headed(
        "How the store tires",
        format!(
            "The circulator runs without pause against a slab at {}, from the beginning of winter on. The last two columns are \
             the earth straight below alone, without walls, store air and sides. The verdict is the slab's on the design night of {}.",
            show.temperature(check.question.hold_c),
            show.temperature(check.question.design_c)
        ),
        &[
            "after",
            "floor",
            "store air",
            "heat",
            "slab to",
            "verdict",
            "earth alone",
            "slab to",
        ],
        rows,
    )
}

fn freeze(heading: &str, run: &RunFreeze, show: Show) -> Headed {
    let time = |seconds: Option<f64>| seconds.map_or_else(|| "never".to_owned(), duration);
    let to_freezing = |times: &FreezeTimes| time(times.to_freezing_s);
    let thick = match show.0 {
        Units::Si => "25 mm",
        Units::Us => "1 in",
    };
    let last = run.rows.len().saturating_sub(1);
    let rows = run
        .rows
        .iter()
        .enumerate()
        .map(|(place, row)| {
            let around = show.temperature(row.around_c);
            vec![
                if place == last {
                    format!("{around}, design night")
                } else {
                    around
                },
                to_freezing(&row.as_built),
                time(row.as_built.to_ice_s),
                time(row.as_built.to_solid_s),
                to_freezing(&row.bare),
                to_freezing(&row.bare_windy),
                to_freezing(&row.thick),
            ]
        })
        .collect();
    headed(
        heading,
        format!(
            "From {}, by the heat of the water alone. As built: to {}, to the first ice if it supercools, and from there to solid; \
             then to {} for the same pipe bare, bare in wind, and with {} of its insulation. Reckon with the first.",
            show.temperature(run.start_c),
            show.temperature(run.freezing_c),
            show.temperature(run.freezing_c),
            thick
        ),
        &[
            "air", "as built", "to ice", "to solid", "bare", "in wind", thick,
        ],
        rows,
    )
}

fn edge(check: &Check, show: Show) -> Headed {
    let time = |seconds: Option<f64>| seconds.map_or_else(|| "never".to_owned(), duration);
    let rows = check
        .edge
        .iter()
        .map(|row| {
            vec![
                crate::files::quantity::format(row.depth_m, Dimension::Length, show.0),
                time(row.bare_s),
                time(row.insulated_s),
            ]
        })
        .collect();
    headed(
        "Still tube behind the slab's edge",
        format!(
            "Time from {} to freezing on the design night of {}.",
            show.temperature(check.question.hold_c),
            show.temperature(check.question.design_c)
        ),
        &["behind the edge", "edge bare", "edge insulated"],
        rows,
    )
}

/// What the controller's settings should say of this loop.
fn settings(check: &Check, units: Units) -> Headed {
    let rows = crate::questions::own_settings::of_loop(check)
        .into_iter()
        .map(|one| {
            let field = one.key.field();
            vec![
                field.name.to_owned(),
                settings_file::toml_value(field, one.bits, units),
            ]
        })
        .collect();
    headed(
        "For the controller's settings",
        "First guesses; the controller learns the effectiveness while it runs. --write-settings FILE writes a whole file of settings that \
         fit this loop.",
        &["key", "value"],
        rows,
    )
}

/// A sweep's points.
pub(crate) fn sweep(sweep: &Sweep, units: Units) -> Headed {
    let show = Show(units);
    let rows = sweep
        .points
        .iter()
        .map(|point| {
            let verdict = match point.verdict {
                Verdict::Look | Verdict::Caution => {
                    format!(
                        "{}, {}",
                        point.verdict.words(),
                        counted(point.look_at as u64, "point")
                    )
                }
                verdict => verdict.words().to_owned(),
            };
            vec![
                shown_setting(sweep, point.number, &point.setting, units),
                show.number(point.circuit_length_m, Dimension::Length, 0),
                show.number(point.flow_l_s, Dimension::FlowRate, 3),
                Figure::Velocity(point.velocity_m_s).text(units),
                fixed(point.reynolds, 0),
                show.number(point.conductance_w_k, Dimension::HeatLoss, 0),
                show.temperature(point.slab_outdoor_c),
                show.temperature(point.tired_outdoor_c),
                show.temperature(point.air_outdoor_c),
                show.number(point.backup_w, Dimension::Power, 0),
                verdict,
            ]
        })
        .collect();
    let mut remark = "What a fresh store holds the slab and the air in, and the slab after a week without pause."
        .to_owned();
    if let Some(note) = sweep.note {
        remark.push_str(&format!(" Here {note}."));
    }
    headed(
        format!("Sweep of {}", sweep.key),
        remark,
        &[
            "value", "circuit", "flow", "velocity", "Reynolds", "loop", "slab to", "week",
            "air to", "boiler", "verdict",
        ],
        rows,
    )
}

/// A point's value in the person's units, or as typed.
fn shown_setting(sweep: &Sweep, number: Option<f64>, typed: &str, units: Units) -> String {
    match (units, number, sweep.dimension) {
        (Units::Us, Some(number), Some(dimension)) => {
            crate::files::quantity::format(number, dimension, units)
        }
        _ => typed.to_owned(),
    }
}
