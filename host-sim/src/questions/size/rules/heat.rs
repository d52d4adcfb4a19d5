//! Heat from water to slab, and what the store alone holds.

use super::super::lines::{Figure, Group, Line, Verdict, duration};
use super::super::tubes::FloorCheck;
use super::{With, fixed, percent, place};
use crate::files::quantity::Dimension;

const SHARES_SOURCE: &str = "film Gnielinski, plane of a row of tubes Faxén and Glück; the quarter: common practice, no source";
const CONDUCTANCE_SOURCE: &str =
    "two exchangers in one loop, Incropera eq. 11.35a; the slab's own balance";
const EVEN_SOURCE: &str = "closed forms of both layouts; the kelvin: common practice, no source";
const INERTIA_SOURCE: &str = "one lump under massless air; a night's length";
const BALANCE_SOURCE: &str =
    "steady balance of loop, slab, air and envelope; design night: ASHRAE, 99.6 %";
const TIRED_SOURCE: &str = "the simulated store: earth, walls and store air, a week without pause";

/// Share of the film from which it is worth a look.
const FILM_SHARE: f64 = 0.25;
/// How far the coldest strip may lie below the slab's mean, K.
const COLD_STRIP_K: f64 = 1.0;
/// Shortest time constant that carries a slab through the coldest hours, s.
const SLOW_SLAB_S: f64 = 6.0 * 3_600.0;

pub(super) fn heat(with: &With<'_>) -> Vec<Line> {
    let mut lines: Vec<Line> = with
        .check
        .floors
        .iter()
        .map(|floor| resistance(with, floor))
        .collect();
    lines.push(conductance(with));
    lines.push(even(with));
    lines.push(inertia(with));
    lines
}

fn resistance(with: &With<'_>, floor: &FloorCheck) -> Line {
    let [film, wall, concrete] = floor.shares();
    let draft = with.draft(
        Group::Heat,
        format!("{}.resistance", floor.section),
        format!(
            "{}: resistance of the tube by its length",
            place(floor.section)
        ),
        Figure::TubeResistance(floor.total_mk_w()),
        (
            format!("film at most {} of it", percent(FILM_SHARE)),
            SHARES_SOURCE,
        ),
    );
    draft.judged(
        with.units,
        Verdict::fine_if(film <= FILM_SHARE),
        format!(
            "film {}, wall {}, concrete {}; {} of the water's excess stays in the floor",
            percent(film),
            percent(wall),
            percent(concrete),
            percent(floor.effectiveness)
        ),
        if film > FILM_SHARE {
            "more flow: the film is the bottleneck"
        } else if wall > concrete {
            "the tube's wall: a thinner or better conducting one"
        } else {
            "the concrete: closer spacing, better conducting concrete; more flow does little"
        },
    )
}

fn conductance(with: &With<'_>) -> Line {
    let heat = &with.check.heat;
    let draft = with.draft(
        Group::Heat,
        "loop.conductance",
        "heat per kelvin of loop",
        Figure::Of(heat.conductance_w_k, Dimension::HeatLoss, 1),
        (
            format!(
                "above the slab's own losses of {}: nearer to the store than to outdoors",
                with.show.heat_loss(heat.losses_w_k)
            ),
            CONDUCTANCE_SOURCE,
        ),
    );
    let held = &with.check.balance[0].slab;
    let question = &with.check.question;
    let drop = percent(1.0 - heat.laminar_conductance_w_k / heat.conductance_w_k);
    let (verdict, why) = if held.heat_w <= 0.0 {
        (
            Verdict::WillNotWork,
            format!(
                "a store at {} cannot warm a slab held at {}",
                with.temperature(question.store_c),
                with.temperature(question.hold_c)
            ),
        )
    } else {
        (
            Verdict::fine_if(heat.conductance_w_k >= heat.losses_w_k),
            format!(
                "{} from a store at {} to a slab at {}; laminar flow would take {drop} of it",
                with.power(held.heat_w),
                with.temperature(question.store_c),
                with.temperature(question.hold_c)
            ),
        )
    };
    draft.judged(
        with.units,
        verdict,
        why,
        "more tube, closer spacing, in both floors; then less loss from the house",
    )
}

fn even(with: &With<'_>) -> Line {
    let heat = &with.check.heat;
    let [warm, cold] = heat.as_laid_c();
    let hold_c = with.check.question.hold_c;
    let draft = with.draft(
        Group::Heat,
        "slab.evenness",
        "slab: warmest less coldest strip",
        Figure::Of(warm - cold, Dimension::TemperatureDifference, 1),
        (
            format!(
                "coldest strip at most {} below a mean of {}",
                with.difference(COLD_STRIP_K),
                with.temperature(hold_c)
            ),
            EVEN_SOURCE,
        ),
    );
    let strip = |[warm, cold]: [f64; 2]| {
        format!("{} to {}", with.temperature(warm), with.temperature(cold))
    };
    let is_even = cold >= hold_c - COLD_STRIP_K;
    draft.judged(
        with.units,
        Verdict::fine_if(is_even),
        format!(
            "to and fro {}, double spiral {}, at the balance point",
            strip(heat.serpentine_c),
            strip(heat.counter_flow_c)
        ),
        if is_even {
            "layout, flow, shorter circuits"
        } else if heat.is_spiral {
            "more flow or shorter circuits"
        } else {
            "lay it as a double spiral, or put the sensor and the tender plants where the water leaves"
        },
    )
}

fn inertia(with: &With<'_>) -> Line {
    let [off_s, on_s] = with.check.heat.time_constant_s;
    let draft = with.draft(
        Group::Heat,
        "slab.time_constant",
        "slab: time constant, loop off",
        Figure::Of(off_s, Dimension::Duration, 1),
        (format!("{} or more", duration(SLOW_SLAB_S)), INERTIA_SOURCE),
    );
    draft.judged(
        with.units,
        Verdict::fine_if(off_s >= SLOW_SLAB_S),
        format!(
            "{} with the loop on: a single night hides the steady answer",
            duration(on_s)
        ),
        "thicker slab, less loss",
    )
}

pub(super) fn store(with: &With<'_>) -> Vec<Line> {
    vec![slab_alone(with), slab_tired(with), air_alone(with)]
}

fn design_rule(with: &With<'_>) -> String {
    format!(
        "down to the design night of {}",
        with.temperature(with.check.question.design_c)
    )
}

fn slab_alone(with: &With<'_>) -> Line {
    let check = with.check;
    let base = &check.balance[0];
    let draft = with.draft(
        Group::Store,
        "store.holds_slab",
        "fresh store holds the slab down to",
        Figure::Of(base.slab.outdoor_c, Dimension::Temperature, 1),
        (design_rule(with), BALANCE_SOURCE),
    );
    // The best of what can be built, not of what the earth happens to be.
    let best = check
        .balance
        .iter()
        .filter(|row| matches!(row.case, "curtain" | "water"))
        .min_by(|a, b| a.slab.outdoor_c.total_cmp(&b.slab.outdoor_c));
    let unit = Dimension::TemperatureDifference.display_unit(with.units);
    let change = best.map_or_else(
        || "less loss from the house, more conductance".to_owned(),
        |row| {
            format!(
                "{}: {}; each {unit} of store temperature moves it by {} {unit}",
                row.name,
                with.temperature(row.slab.outdoor_c),
                fixed(per_kelvin(with), 1)
            )
        },
    );
    draft.judged(
        with.units,
        Verdict::fine_if(check.backup.fresh_store_holds),
        format!(
            "slab at {} with {}, water {} in and {} out; the air is then at {}",
            with.temperature(base.slab.slab_c),
            with.power(base.slab.heat_w),
            with.temperature(base.slab.supply_c),
            with.temperature(base.slab.return_c),
            with.temperature(base.slab.air_c)
        ),
        change,
    )
}

/// How far the balance point moves with a kelvin of the store, K.
fn per_kelvin(with: &With<'_>) -> f64 {
    let of = |case| {
        with.check
            .balance
            .iter()
            .find(|row| row.case == case)
            .map_or(0.0, |row| row.slab.outdoor_c)
    };
    (of("store_colder") - of("store_warmer")) / 4.0
}

fn slab_tired(with: &With<'_>) -> Line {
    let row = with.check.tired();
    let draft = with.draft(
        Group::Store,
        "store.holds_slab_after_a_week",
        "after a week without pause, down to",
        Figure::Of(row.outdoor_c, Dimension::Temperature, 1),
        (design_rule(with), TIRED_SOURCE),
    );
    draft.judged(
        with.units,
        Verdict::fine_if(with.check.backup.tired_store_holds),
        format!(
            "the store's floor is then at {}; with earth alone, no walls, it would hold down to {}",
            with.temperature(row.floor_c),
            with.temperature(row.earth_alone_outdoor_c)
        ),
        "run less when it is mild, more store floor, moist earth, bank summer heat",
    )
}

fn air_alone(with: &With<'_>) -> Line {
    let base = &with.check.balance[0].air;
    let draft = with.draft(
        Group::Store,
        "store.holds_air",
        "fresh store holds the air down to",
        Figure::Of(base.outdoor_c, Dimension::Temperature, 1),
        (design_rule(with), BALANCE_SOURCE),
    );
    let holds = base.outdoor_c <= with.check.question.design_c;
    draft.judged(
        with.units,
        Verdict::fine_if(holds),
        format!(
            "air at {} takes a slab at {}: hold the roots, let the air float",
            with.temperature(base.air_c),
            with.temperature(base.slab_c)
        ),
        format!(
            "less loss through glazing and leaks, where {} of the slab's heat goes",
            percent(with.check.heat.air_share)
        ),
    )
}
