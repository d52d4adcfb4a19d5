//! Circuits and circulator.

use super::super::lines::{Figure, Group, Line, Verdict};
use super::super::tubes::{FloorCheck, PumpCheck};
use super::{With, fixed, percent, place};
use crate::files::quantity::{self, Dimension, Units};
use crate::sim::plant::film::{LAMINAR_END, TURBULENT_START};
use crate::sim::plant::hydraulics::{
    BUBBLES_CARRIED_DOWN_M_S, BUBBLES_CARRIED_LEVEL_M_S, QUIET_M_S, VelocityBand,
};

const LENGTH_SOURCE: &str = "common practice, no source (200, 300, 400, 500 ft by bore)";
const COVERAGE_SOURCE: &str = "common practice, no source";
const VELOCITY_SOURCE: &str =
    "bubbles: hydronics course texts, from memory; noise: ASHRAE HVAC Systems, from memory";
const REYNOLDS_SOURCE: &str = "Gnielinski 1976 and 2013, from memory";
const OPERATING_SOURCE: &str = "Darcy-Weisbach with Churchill 1977, against the pump's curve";
const HEAD_SOURCE: &str = "common practice, no source";
const EFFICIENCY_SOURCE: &str = "small wet-rotor circulators, from memory";
const SEASON_SOURCE: &str = "season reports of such plants, from memory";

/// Least share of a floor with tube that is usual, and least with which the slab is a heated floor at all.
const WELL_COVERED: f64 = 0.9;
const HALF_COVERED: f64 = 0.5;
/// Below half the flow that moves bubbles along level tube the water does not clear the tube at all (common practice, no source).
const STUCK_M_S: f64 = 0.2;
/// Wire to water of a small circulator in its range.
const USUAL_EFFICIENCY: (f64, f64) = (0.05, 0.25);
/// Share of the shut-off head from which the pump hardly moves water.
const NEAR_SHUTOFF: f64 = 0.95;
/// How far a measured flow may ask for more head than the pump has before it cannot be true: friction formula and measurement.
const MEASURED_TOO_MUCH: f64 = 1.2;
/// Heat for electricity: good from, run less below.
const GOOD_RATIO: f64 = 5.0;
const POOR_RATIO: f64 = 2.0;

pub(super) fn circuits(with: &With<'_>) -> Vec<Line> {
    let floors = &with.check.floors;
    let mut lines: Vec<Line> = floors.iter().map(|floor| length(with, floor)).collect();
    lines.extend(floors.iter().map(|floor| coverage(with, floor)));
    lines.extend(floors.iter().map(|floor| velocity(with, floor)));
    lines.extend(floors.iter().map(|floor| reynolds(with, floor)));
    lines
}

fn bore(with: &With<'_>, floor: &FloorCheck) -> String {
    match with.units {
        Units::Si => format!("{} mm bore", fixed(1e3 * floor.bore_m, 1)),
        Units::Us => format!(
            "{} bore",
            quantity::format(floor.bore_m, Dimension::Length, with.units)
        ),
    }
}

fn length(with: &With<'_>, floor: &FloorCheck) -> Line {
    let (longest, rule) = match floor.longest_usual_m {
        Some(longest_m) => (
            longest_m,
            format!(
                "at most {} of {}",
                with.length(longest_m),
                bore(with, floor)
            ),
        ),
        None => (
            f64::INFINITY,
            format!("practice has none for {}", bore(with, floor)),
        ),
    };
    let draft = with.draft(
        Group::Circuits,
        format!("{}.circuit_length", floor.section),
        format!("{}: length of a circuit", place(floor.section)),
        Figure::Of(floor.circuit_length_m, Dimension::Length, 0),
        (rule, LENGTH_SOURCE),
    );
    let fits = floor.circuit_length_m <= longest;
    let change = if fits {
        "longer saves a joint and costs head".to_owned()
    } else {
        let parts = (floor.circuit_length_m / longest).ceil();
        format!(
            "{} circuits of {} side by side instead of each",
            fixed(parts, 0),
            with.length(floor.circuit_length_m / parts)
        )
    };
    let why = if fits {
        format!("{} of {} side by side", floor.circuits, floor.tube)
    } else {
        "head rises and the far end stays cold".to_owned()
    };
    draft.judged(with.units, Verdict::fine_if(fits), why, change)
}

/// Tube length times spacing against the floor.
fn coverage(with: &With<'_>, floor: &FloorCheck) -> Line {
    let is_slab = floor.section == "slab";
    let least = if is_slab {
        format!("; below {} it is no heated floor", percent(HALF_COVERED))
    } else {
        String::new()
    };
    let draft = with.draft(
        Group::Circuits,
        format!("{}.coverage", floor.section),
        format!("{}: floor with tube", place(floor.section)),
        Figure::Of(floor.covered, Dimension::Fraction, 0),
        (
            format!("at least {}{least}", percent(WELL_COVERED)),
            COVERAGE_SOURCE,
        ),
    );
    let held = &with.check.balance[0].slab;
    let bare = percent(1.0 - floor.covered);
    let (verdict, why) = match held.bare_c {
        _ if floor.covered >= WELL_COVERED => (
            Verdict::Fine,
            "length of tube times spacing is the floor".to_owned(),
        ),
        Some(bare_c) if is_slab => (
            if floor.covered < HALF_COVERED {
                Verdict::WillNotWork
            } else {
                Verdict::Look
            },
            format!(
                "{bare} of the floor is bare: {} there with {} where there is tube, at the balance point",
                with.temperature(bare_c),
                with.temperature(held.slab_c)
            ),
        ),
        _ => (
            Verdict::Look,
            format!("the earth below {bare} of the floor warms the store's air alone"),
        ),
    };
    let wider_m =
        floor.heated_area_m2 / floor.covered / (floor.circuit_length_m * f64::from(floor.circuits));
    let change = if floor.covered >= WELL_COVERED {
        "closer spacing needs more tube for the same floor".to_owned()
    } else {
        format!(
            "more tube, or this much of it {} apart",
            quantity::format(wider_m, Dimension::Length, with.units)
        )
    };
    draft.judged(with.units, verdict, why, change)
}

fn velocity(with: &With<'_>, floor: &FloorCheck) -> Line {
    let draft = with.draft(
        Group::Circuits,
        format!("{}.velocity", floor.section),
        format!("{}: velocity", place(floor.section)),
        Figure::Velocity(floor.velocity_m_s),
        (
            format!(
                "{} to {}; bubbles move in level tube from {}",
                with.velocity(BUBBLES_CARRIED_DOWN_M_S),
                with.velocity(QUIET_M_S),
                with.velocity(BUBBLES_CARRIED_LEVEL_M_S)
            ),
            VELOCITY_SOURCE,
        ),
    );
    let more = format!(
        "{} through the loop, {} of head, would carry bubbles down; else purge with a stronger pump when filling",
        with.flow(floor.flow_for_bubbles_l_s),
        with.head(floor.head_for_bubbles_m)
    );
    let (verdict, why, change) = match VelocityBand::of(floor.velocity_m_s) {
        _ if floor.velocity_m_s < STUCK_M_S => (
            Verdict::WillNotWork,
            "the circulator cannot move this water: air stays in the tube and stops it".to_owned(),
            format!("{more}; shorter circuits side by side, wider tube or a stronger circulator"),
        ),
        VelocityBand::LeavesAir => (
            Verdict::Caution,
            "bubbles stay where they are: the loop does not clear itself of air".to_owned(),
            more,
        ),
        VelocityBand::CarriesAirLevel => (
            Verdict::Look,
            "level tube clears itself of air, a drop does not".to_owned(),
            more,
        ),
        VelocityBand::Good => (
            Verdict::Fine,
            "clears itself of air, quietly".to_owned(),
            "flow, bore, circuits side by side".to_owned(),
        ),
        VelocityBand::Noisy => (
            Verdict::Look,
            "audible, and hard on bends".to_owned(),
            "wider tube, more circuits side by side or a weaker circulator".to_owned(),
        ),
    };
    draft.judged(with.units, verdict, why, change)
}

fn reynolds(with: &With<'_>, floor: &FloorCheck) -> Line {
    let draft = with.draft(
        Group::Circuits,
        format!("{}.reynolds", floor.section),
        format!("{}: Reynolds number", place(floor.section)),
        Figure::Number(floor.reynolds, 0),
        (
            format!(
                "turbulent from {}, laminar below {}",
                fixed(TURBULENT_START, 0),
                fixed(LAMINAR_END, 0)
            ),
            REYNOLDS_SOURCE,
        ),
    );
    let cliff = format!(
        "below {} the flow is laminar and the film resists {} times as much",
        with.flow(floor.laminar_below_l_s),
        fixed(floor.laminar_film_mk_w / floor.film_mk_w, 1)
    );
    let (verdict, why) = if floor.reynolds >= TURBULENT_START {
        (Verdict::Fine, cliff)
    } else if floor.reynolds >= LAMINAR_END {
        (Verdict::Look, format!("between the two; {cliff}"))
    } else {
        (
            Verdict::Caution,
            "laminar: the film keeps the heat in the water".to_owned(),
        )
    };
    let change = format!(
        "turbulent from {} on; warmer water helps, glycol hurts",
        with.flow(floor.turbulent_above_l_s)
    );
    draft.judged(with.units, verdict, why, change)
}

pub(super) fn circulator(with: &With<'_>) -> Vec<Line> {
    let pump = &with.check.pump;
    vec![
        flow(with, pump),
        head(with, pump),
        efficiency(with, pump),
        ratio(with, pump),
    ]
}

fn flow(with: &With<'_>, pump: &PumpCheck) -> Line {
    let draft = with.draft(
        Group::Circulator,
        "circulator.flow",
        "operating point: flow",
        Figure::Of(pump.flow_l_s, Dimension::FlowRate, 3),
        (
            format!(
                "where the loop needs the head the circulator has; a measured one within {} of it",
                percent(MEASURED_TOO_MUCH - 1.0)
            ),
            OPERATING_SOURCE,
        ),
    );
    let heads = format!(
        "the loop needs {} at it, this circulator has {}",
        with.head(pump.head_m),
        with.head(pump.pump_head_m)
    );
    if !pump.flow_is_measured {
        let change = "a stronger circulator, wider tube, shorter circuits side by side";
        return draft.judged(with.units, Verdict::Fine, heads, change);
    }
    let is_possible = pump.head_m <= MEASURED_TOO_MUCH * pump.pump_head_m;
    draft.judged(
        with.units,
        if is_possible {
            Verdict::Fine
        } else {
            Verdict::WillNotWork
        },
        format!("as measured; {heads}"),
        "measure again, or check length, bore and the circulator's curve",
    )
}

fn head(with: &With<'_>, pump: &PumpCheck) -> Line {
    let draft = with.draft(
        Group::Circulator,
        "circulator.head",
        "operating point: head",
        Figure::Of(pump.head_m, Dimension::Head, 2),
        (
            format!(
                "at most {} of the shut-off head of {}",
                percent(NEAR_SHUTOFF),
                with.head(pump.shutoff_head_m)
            ),
            HEAD_SOURCE,
        ),
    );
    let share = pump.head_m / pump.shutoff_head_m;
    let why = if share <= NEAR_SHUTOFF {
        format!("{} of it", percent(share))
    } else {
        format!(
            "{} of it: the circulator nearly stands against a shut valve, a little more resistance stops the water",
            percent(share)
        )
    };
    draft.judged(
        with.units,
        Verdict::caution_unless(share <= NEAR_SHUTOFF),
        why,
        format!(
            "every circuit halved and doubled in number would pass {}",
            with.flow(pump.split_flow_l_s)
        ),
    )
}

fn efficiency(with: &With<'_>, pump: &PumpCheck) -> Line {
    let (least, most) = USUAL_EFFICIENCY;
    let draft = with.draft(
        Group::Circulator,
        "circulator.wire_to_water",
        "wire to water",
        Figure::Of(pump.wire_to_water, Dimension::Fraction, 1),
        (
            format!("{} to {} is usual", percent(least), percent(most)),
            EFFICIENCY_SOURCE,
        ),
    );
    draft.judged(
        with.units,
        Verdict::fine_if((least..=most).contains(&pump.wire_to_water)),
        format!(
            "{} W of flow work for {} W; the rest is heat, most of it in the water",
            fixed(pump.hydraulic_w, 1),
            fixed(pump.electrical_w, 0)
        ),
        "a circulator whose curve has its middle at this flow and head",
    )
}

fn ratio(with: &With<'_>, pump: &PumpCheck) -> Line {
    let ratio = with.check.heat.heat_per_electricity;
    let draft = with.draft(
        Group::Circulator,
        "circulator.heat_per_electricity",
        "heat for electricity, fresh store",
        Figure::Number(ratio, 1),
        (
            format!("good from {GOOD_RATIO}, run less below {POOR_RATIO}"),
            SEASON_SOURCE,
        ),
    );
    let held = &with.check.balance[0].slab;
    draft.judged(
        with.units,
        Verdict::fine_if(ratio >= GOOD_RATIO),
        format!(
            "{} of heat for {} W, slab at {}; it falls as the store tires",
            with.power(held.heat_w),
            fixed(pump.electrical_w, 0),
            with.temperature(held.slab_c)
        ),
        "more conductance, a smaller circulator",
    )
}
