//! The comparison as a table and two sentences.

use super::{Line, Worth};
use crate::quantity::{Dimension, Units};
use crate::report::show::Show;

/// Pounds in a kilogram; degrees Fahrenheit in a kelvin.
const POUNDS: f64 = 2.204_62;
const FAHRENHEIT: f64 = 1.8;

/// The whole screen.
#[must_use]
pub fn text(worth: &Worth, units: Units) -> String {
    let (mass, degree_hours, mass_unit, degree_unit) = match units {
        Units::Si => (1.0, 1.0, "kg", "K·h"),
        Units::Us => (POUNDS, FAHRENHEIT, "lb", "°F·h"),
    };
    let mut text = format!(
        "What each rule is worth, over {}\n\n",
        worth.winters.join("; ")
    );
    let show = Show(units);
    let head = format!(
        "{:<30}{:>10}{:>8}{:>8}{:>8}{:>8}{:>7}{:>9}",
        "", "below", "wood", "pump", "earth", "starts", "calls", "useless"
    );
    let named = format!(
        "{:<30}{degree_unit:>10}{mass_unit:>8}{:>8}{:>8}",
        "",
        "kWh",
        show.heat_unit()
    );
    text.push_str(&(head + "\n" + &named + "\n"));
    let mut row = |line: &Line| {
        let c = &line.total;
        text.push_str(&format!(
            "{:<30}{:>10.2}{:>8.0}{:>8.1}{:>8.0}{:>8}{:>7}{:>9}\n",
            line.name,
            c.below_target_kh * degree_hours,
            c.wood_kg * mass,
            c.pump_kwh,
            show.heat_value(c.earth_heat_kwh),
            c.starts,
            c.calls,
            c.useless_calls
        ));
    };
    row(&worth.ours);
    worth.plain.iter().for_each(&mut row);
    if let Some(equal) = &worth.equal {
        row(&equal.line);
    }
    text.push_str(
        "\nBelow: true slab under its target. Useless: a boiler call without which the slab would have held for\n\
         eight hours by the store alone, or that gave no heat. Earth: net of what was carried back.\n",
    );
    text.push_str(&answer(worth, show));
    text
}

/// Against the plain pair at equal care.
fn answer(worth: &Worth, show: Show) -> String {
    let Some(equal) = &worth.equal else {
        return "No call limit makes the plain pair keep the slab as well.\n".to_owned();
    };
    let (ours, plain) = (&worth.ours.total, &equal.line.total);
    let less = |ours: f64, plain: f64| {
        if plain <= 0.0 {
            return "nothing to compare".to_owned();
        }
        let percent = 100.0 * (1.0 - ours / plain);
        let word = if percent < 0.0 { "more" } else { "less" };
        format!("{:.0} % {word}", percent.abs())
    };
    format!(
        "Against a plain differential with a bare call at {}, which keeps the slab as well:\n\
         {} wood, {} boiler heat, {} electricity,\n{} circulator starts, {} useless calls.\n",
        show.number(equal.call_below_c, Dimension::Temperature, 2),
        less(ours.wood_kg, plain.wood_kg),
        less(ours.boiler_heat_kwh, plain.boiler_heat_kwh),
        less(ours.pump_kwh, plain.pump_kwh),
        less(f64::from(ours.starts), f64::from(plain.starts)),
        less(
            f64::from(ours.useless_calls),
            f64::from(plain.useless_calls)
        ),
    )
}
