//! Drills: what must happen, and by when, if something goes wrong.
//!
//! A drill is data: a situation, events, and expectations with deadlines, in the words of the trace.
//! The built-in ones and a person's own have the same format. They run through the very same
//! controller, against a scripted bench or the simulated house.

mod check;
mod condition;
pub(crate) mod file;
pub(crate) mod house;
mod row;
pub(crate) mod run;
mod sensor;
pub(crate) mod values;

pub use check::Verdict;
pub use condition::Condition;
pub use file::{
    Drill, DrillError, Event, Expectation, FaultChanges, House, Reset, SensorName, Water, parse,
};
pub use house::Ending;
pub use row::Row;
pub use run::{Outcome, RunError, Step, run, run_with};
pub use sensor::Doing;
pub use values::{Mass, Point, Power, Span};

/// The built-in drills, a file a group.
const BUILT_IN: [(&str, &str); 7] = [
    ("frost", include_str!("../../../data/drills/frost.toml")),
    ("sensors", include_str!("../../../data/drills/sensors.toml")),
    ("boiler", include_str!("../../../data/drills/boiler.toml")),
    ("store", include_str!("../../../data/drills/store.toml")),
    ("power", include_str!("../../../data/drills/power.toml")),
    ("owner", include_str!("../../../data/drills/owner.toml")),
    ("house", include_str!("../../../data/drills/house.toml")),
];

/// The built-in drills, in the order of the groups.
///
/// # Errors
/// A fault of this program: one of its own files cannot be read.
pub fn built_in() -> Result<Vec<Drill>, DrillError> {
    let mut drills = Vec::new();
    for (group, text) in BUILT_IN {
        drills.extend(parse(text, &format!("built-in drills, {group}"))?);
    }
    Ok(drills)
}

#[cfg(test)]
mod tests;
