//! Backup, frost in still water, filling.

use super::super::backup::BoilerCheck;
use super::super::freeze::RunFreeze;
use super::super::lines::{Figure, Group, Line, Verdict, duration};
use super::{With, fixed, percent, place};
use crate::files::quantity::{self, Dimension};
use crate::sim::plant::film::TURBULENT_START;

const BACKUP_SOURCE: &str =
    "steady balance of the design night; the quarter: common practice, no source";
const CHARGE_SOURCE: &str = "heat of the charge times efficiency; the person's own hours";
const FREEZE_SOURCE: &str = "ASHRAE Fundamentals, insulation (2009 ch. 23 eq. 1), water alone";
const EDGE_SOURCE: &str = "half-space with a surface film, Carslaw & Jaeger §2.7; the six hours: common practice, no source";
const VESSEL_SOURCE: &str = "EN 12828 with 0.5 % or 3 L of reserve, 0.7 to 2.5 bar";
const GLYCOL_SOURCE: &str =
    "Melinder (IIR) freezing points; the margin: common practice, no source";

/// How much more than the need a boiler should have, to catch up.
const CATCH_UP: f64 = 1.25;
/// Power over need from which an unmixed boiler runs in short bursts.
const OVERSIZED: f64 = 5.0;
/// Shortest power cut to outlast, s.
const OUTAGE_S: f64 = 6.0 * 3_600.0;
/// Depth behind the edge that is judged, m.
const JUDGED_EDGE_M: f64 = 0.15;
/// The circulator's shortest sensible rest in frost, s: the controller's rest below −6 °C is an hour at most.
const SHORT_REST_S: f64 = 900.0;

pub(super) fn backup(with: &With<'_>) -> Vec<Line> {
    let mut lines = vec![power(with)];
    if let Some(boiler) = &with.check.backup.boiler {
        lines.extend(charge(with, boiler));
    }
    lines
}

fn power(with: &With<'_>) -> Line {
    let backup = &with.check.backup;
    let question = &with.check.question;
    let draft = with.draft(
        Group::Backup,
        "backup.needed",
        "heat the boiler must bring, design night",
        Figure::Of(backup.needed_w, Dimension::Power, 0),
        (
            format!(
                "at most the boiler's, with {} to spare",
                percent(CATCH_UP - 1.0)
            ),
            BACKUP_SOURCE,
        ),
    );
    let store = if backup.store_left_out {
        "while the boiler is called its piping leaves the store out".to_owned()
    } else {
        format!("the tired store gives {} of it", with.power(backup.store_w))
    };
    let need = format!(
        "the slab at {} loses {} at {}; {store}",
        with.temperature(question.hold_c),
        with.power(backup.losses_w),
        with.temperature(question.design_c)
    );
    let Some(boiler) = &backup.boiler else {
        let holds = backup.tired_store_holds;
        return draft.judged(
            with.units,
            if holds {
                Verdict::Fine
            } else {
                Verdict::WillNotWork
            },
            if holds {
                "no boiler, and none is needed".to_owned()
            } else {
                format!("{need}; there is no boiler: the slab cannot be held")
            },
            "a boiler, a curtain, or a hardier crop",
        );
    };
    let available_w = boiler.available_w();
    let limit = match boiler.carried_w {
        Some(carried_w) if carried_w < boiler.power_w => format!(
            "the boiler has {}, but the water carries only {}",
            with.power(boiler.power_w),
            with.power(carried_w)
        ),
        _ => format!("the boiler has {}", with.power(boiler.power_w)),
    };
    let ratio = available_w / backup.needed_w.max(1.0);
    let unmixed = boiler.carried_w.is_none() && ratio > OVERSIZED;
    let (verdict, change) = if backup.tired_store_holds {
        (
            Verdict::Fine,
            "nothing needed; it is there for worse nights",
        )
    } else if ratio < 1.0 {
        (
            Verdict::WillNotWork,
            "a larger boiler, warmer mixed supply, a curtain, less loss",
        )
    } else if ratio < CATCH_UP {
        (
            Verdict::Caution,
            "it holds but does not catch up: a larger boiler, a curtain, less loss",
        )
    } else if unmixed {
        (
            Verdict::Look,
            "a mixing valve: without one so large a boiler runs in short bursts",
        )
    } else {
        (Verdict::Fine, "a curtain, less loss")
    };
    draft.judged(with.units, verdict, format!("{need}; {limit}"), change)
}

fn charge(with: &With<'_>, boiler: &BoilerCheck) -> Option<Line> {
    let charge_s = boiler.charge_s?;
    let rule = boiler.unfed_s.map_or_else(
        || "told by hand: no hours to hold it against".to_owned(),
        |unfed_s| format!("longer than the {} between feedings", duration(unfed_s)),
    );
    let draft = with.draft(
        Group::Backup,
        "backup.charge",
        "one charge of wood lasts, design night",
        Figure::Of(charge_s, Dimension::Duration, 1),
        (rule, CHARGE_SOURCE),
    );
    let outlasts = boiler.unfed_s.is_none_or(|unfed_s| charge_s >= unfed_s);
    Some(draft.judged(
        with.units,
        Verdict::caution_unless(outlasts),
        "at full efficiency; a fire with its damper shut wastes most of its wood",
        "a larger charge, dry wood, feeding in between",
    ))
}

pub(super) fn frost(with: &With<'_>) -> Vec<Line> {
    let mut lines: Vec<Line> = with
        .check
        .freeze
        .iter()
        .map(|run| still_run(with, run))
        .collect();
    lines.extend(edge(with));
    lines
}

fn still_run(with: &With<'_>, run: &RunFreeze) -> Line {
    let design_c = with.check.question.design_c;
    let to_freezing_s = run.design().and_then(|row| row.as_built.to_freezing_s);
    let figure = to_freezing_s.map_or(Figure::Words("never"), |seconds| {
        Figure::Of(seconds, Dimension::Duration, 1)
    });
    let draft = with.draft(
        Group::Frost,
        format!("{}.time_to_freezing", run.section),
        format!(
            "{}: still water to {} in {}",
            place(run.section),
            with.temperature(run.freezing_c),
            with.temperature(design_c)
        ),
        figure,
        (
            format!(
                "outdoors the circulator may rest half of it, and needs {}",
                duration(SHORT_REST_S)
            ),
            FREEZE_SOURCE,
        ),
    );
    let Some(seconds) = to_freezing_s else {
        return draft.judged(
            with.units,
            Verdict::Fine,
            "what is in it stays liquid",
            "less glycol, colder nights",
        );
    };
    if !run.is_exposed {
        return draft.judged(
            with.units,
            Verdict::Fine,
            "it does not run outdoors; so long it would last if its room were that cold",
            "insulation, a shorter way",
        );
    }
    draft.judged(
        with.units,
        Verdict::caution_unless(seconds / 2.0 >= SHORT_REST_S),
        format!(
            "from {}; circulating it leaves at {}. Set exposed_time to {}",
            with.temperature(run.start_c),
            with.temperature(run.circulating_c),
            duration(run.time_constant_s)
        ),
        "25 mm of insulation, a way indoors, glycol, a drain for power cuts",
    )
}

fn edge(with: &With<'_>) -> Option<Line> {
    let row = with
        .check
        .edge
        .iter()
        .find(|row| row.depth_m >= JUDGED_EDGE_M)?;
    let figure = |seconds: Option<f64>| {
        seconds.map_or(Figure::Words("never"), |seconds| {
            Figure::Of(seconds, Dimension::Duration, 1)
        })
    };
    let draft = with.draft(
        Group::Frost,
        "slab.edge_time_to_freezing",
        format!(
            "slab: still tube {} behind a bare edge to freezing",
            quantity::format(row.depth_m, Dimension::Length, with.units)
        ),
        figure(row.bare_s),
        (
            format!("longer than a power cut of {}", duration(OUTAGE_S)),
            EDGE_SOURCE,
        ),
    );
    Some(draft.judged(
        with.units,
        Verdict::caution_unless(row.bare_s.is_none_or(|seconds| seconds >= OUTAGE_S)),
        format!(
            "from {} in {}; {} with the edge insulated",
            with.temperature(with.check.question.hold_c),
            with.temperature(with.check.question.design_c),
            figure(row.insulated_s).text(with.units)
        ),
        "insulate the edge, keep the outermost tube away from it",
    ))
}

pub(super) fn filling(with: &With<'_>) -> Vec<Line> {
    vec![vessel(with), glycol(with)]
}

fn vessel(with: &With<'_>) -> Line {
    let vessel = &with.check.vessel;
    let draft = with.draft(
        Group::Filling,
        "filling.expansion_vessel",
        "expansion vessel, at least",
        Figure::Litres(vessel.nominal_l),
        (
            format!("takes up {} and a reserve", with.volume(vessel.expansion_l)),
            VESSEL_SOURCE,
        ),
    );
    let fit = vessel.next_size_l.map_or_else(
        || "several vessels".to_owned(),
        |size_l| format!("one of {}", with.volume(size_l)),
    );
    draft.judged(
        with.units,
        Verdict::fine_if(vessel.next_size_l.is_some()),
        format!(
            "{} in the tubes to {}, {} in the boiler to {}: fit {fit}",
            with.volume(vessel.loop_l),
            with.temperature(vessel.loop_hot_c),
            with.volume(vessel.jacket_l),
            with.temperature(vessel.jacket_hot_c)
        ),
        "less boiler water, a higher relief pressure; glycol grows more",
    )
}

fn glycol(with: &With<'_>) -> Line {
    let glycol = &with.check.glycol;
    let is_water = glycol.fluid == "water";
    let kind = if is_water {
        "propylene glycol"
    } else {
        glycol.fluid
    };
    let figure = glycol.dose.map_or(Figure::Words("no mixture"), |dose| {
        Figure::Of(dose.share, Dimension::Fraction, 0)
    });
    let draft = with.draft(
        Group::Filling,
        "filling.glycol",
        format!("{kind} for {}, by mass", with.temperature(glycol.wanted_c)),
        figure,
        (
            format!(
                "liquid {} below the design night, where a run goes outdoors",
                with.difference(with.check.question.design_c.min(0.0) - glycol.wanted_c)
            ),
            GLYCOL_SOURCE,
        ),
    );
    let cost = glycol.dose.map_or_else(
        || "no known mixture stays liquid so far down".to_owned(),
        |dose| {
            format!(
                "{} of it; takes {} of the heat per kelvin{}",
                with.volume(dose.glycol_l),
                percent(dose.heat_lost),
                if dose.reynolds < TURBULENT_START {
                    format!(", Reynolds number {}", fixed(dose.reynolds, 0))
                } else {
                    String::new()
                }
            )
        },
    );
    let (verdict, why) = if is_water && !glycol.is_exposed {
        (
            Verdict::Fine,
            format!("not needed: no run goes outdoors. {cost}"),
        )
    } else if is_water {
        (Verdict::Caution, format!("plain water outdoors. {cost}"))
    } else if glycol.freezing_c <= glycol.wanted_c {
        (
            Verdict::Fine,
            format!(
                "what is in it stays liquid to {}. {cost}",
                with.temperature(glycol.freezing_c)
            ),
        )
    } else {
        (
            Verdict::caution_unless(!glycol.is_exposed),
            format!(
                "what is in it turns to slush at {}. {cost}",
                with.temperature(glycol.freezing_c)
            ),
        )
    };
    draft.judged(
        with.units,
        verdict,
        why,
        "runs indoors and a drain instead: water carries more heat",
    )
}
