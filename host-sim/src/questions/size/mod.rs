//! The loop's design check: is it right, before the concrete is poured?
//!
//! Pure: a plant and a question ([`Question`]) → every figure ([`Check`]) → each judged by a rule with its source ([`Line`]) →
//! text, page or JSON. All physics is the simulated plant's own ([`crate::sim::plant`]); here is only what follows from it for a
//! person with a shovel. Nothing here decides how the house is run.

mod backup;
pub(crate) mod balance;
mod fill;
pub(crate) mod freeze;
pub(crate) mod lines;

mod rules;

mod tiring;
mod tubes;
mod vary;

use serde::Serialize;

use crate::files::quantity::show::{Show, counted};
use crate::files::quantity::{Dimension, Units};
use crate::sim::plant::config::PlantConfig;
use crate::sim::plant::fluid::Fluid;
use crate::sim::plant::ground::kusuda_c;
use crate::sim::plant::operating::{FlowPoint, LoopDesign, Path, REFERENCE_C};
use crate::sim::weather::{Origin, WeatherYear};

pub use backup::{Backup, BoilerCheck};
pub use balance::{BalanceRow, Held, LoopCheck};
pub use fill::{Dose, GlycolCheck, Vessel};
pub use freeze::{EdgeRow, FreezeRow, FreezeTimes, RunFreeze, freeze_table};
pub use lines::{Group, Line, Verdict};

pub use rules::lines;

pub use tiring::TiredRow;
pub use tubes::{FloorCheck, PumpCheck};
pub use vary::{Sweep, SweepPoint, Vary, VaryError};

/// What the loop is asked to do.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Question {
    /// To be held: the slab's core, and once more the air, °C.
    pub hold_c: f64,
    /// Floor of the store before anything is drawn from it, °C.
    pub store_c: f64,
    /// The cold night to be ready for, °C.
    pub design_c: f64,
}

/// A question as a person asks it; what is left out follows from the plant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// To be held, °C.
    pub hold_c: f64,
    /// Floor of the store, °C; left out: the undisturbed earth's on the day a winter begins.
    pub store_c: Option<f64>,
    /// The cold night to be ready for, °C.
    pub design_c: f64,
}

impl Asked {
    /// What is held if nobody says otherwise, °C: half a kelvin above the controller's own target of 1.5 °C.
    pub const HOLD_C: f64 = 2.0;

    /// The question for this plant.
    #[must_use]
    pub fn question(&self, plant: &PlantConfig) -> Question {
        Question {
            hold_c: self.hold_c,
            store_c: self.store_c.unwrap_or_else(|| undisturbed_c(plant)),
            design_c: self.design_c,
        }
    }
}

/// Earth at the store's floor on the day a winter begins, before anything is drawn from it, °C.
fn undisturbed_c(plant: &PlantConfig) -> f64 {
    kusuda_c(&plant.ground, plant.store.depth_m, plant.start.ground_day)
}

/// Share of a year's hours that may be colder than the design night (heating dry bulb of 99.6 %, ASHRAE Fundamentals,
/// climatic design information).
const COLDER_SHARE: f64 = 0.004;

/// The design night of a weather file, °C, and where it is from: the heating dry bulb of 99.6 % from many years' records that
/// the file's head gives, or where it gives none, the temperature that 0.4 % of the file's own hours are below. A typical year
/// is milder than thirty real ones.
#[must_use]
pub fn design_night(year: &WeatherYear) -> (f64, String) {
    let name = &year.station.name;
    match year.station.heating_design_c {
        Some(celsius) if year.origin == Origin::Climate => {
            (celsius, "as the climate has it".to_owned())
        }
        Some(celsius) => (
            celsius,
            format!("99.6 % heating design temperature of {name} (ASHRAE)"),
        ),
        None => (
            typical_design_night_c(year),
            match year.origin {
                Origin::Log => format!("colder in 0.4 % of the hours of {name}"),
                _ => format!("colder in 0.4 % of the hours of a typical year, {name}"),
            },
        ),
    }
}

/// The temperature that 0.4 % of the hours are below, °C.
#[must_use]
pub fn typical_design_night_c(year: &WeatherYear) -> f64 {
    let logged = year.hours.iter().map(|hour| hour.dry_bulb_c);
    let mut sorted: Vec<f64> = logged.filter(|air| !air.is_nan()).collect();
    sorted.sort_by(f64::total_cmp);
    let colder = (COLDER_SHARE * sorted.len() as f64) as usize;
    sorted.get(colder).copied().unwrap_or(f64::NAN)
}

/// Every figure of the design check, SI.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Check {
    /// What was asked.
    pub question: Question,
    /// House floor, store floor.
    pub floors: [FloorCheck; 2],
    /// Circulator against the loop.
    pub pump: PumpCheck,
    /// The loop as a conductor of heat, and the slab's answer to it.
    pub heat: LoopCheck,
    /// Down to which outdoor temperature the store alone holds; the loop as designed first.
    pub balance: Vec<BalanceRow>,
    /// The store after days of running without pause.
    pub tiring: Vec<TiredRow>,
    /// The boiler on the design night.
    pub backup: Backup,
    /// Still pipes, supply run first.
    pub freeze: [RunFreeze; 2],
    /// Tubes near the slab's edge.
    pub edge: Vec<EdgeRow>,
    /// Expansion vessel.
    pub vessel: Vessel,
    /// Glycol.
    pub glycol: GlycolCheck,
}

impl Check {
    /// Works everything out. The plant should have passed [`PlantConfig::check`].
    #[must_use]
    pub fn of(plant: &PlantConfig, question: &Question) -> Self {
        let point = flow_point(plant);
        let balance = balance::rows(plant, question);
        let designed = &balance[0].slab;
        let heat = balance::loop_check(plant, &point, designed);
        let tiring = tiring::rows(plant, question, &point, heat.conductance_w_k);
        let backup = backup::backup(plant, question, &tiring[0], &tiring::tired(&tiring));
        Self {
            question: *question,
            floors: tubes::floors(plant, &point),
            pump: tubes::pump(plant, &point),
            freeze: freeze::runs(plant, question, designed.return_c, &point),
            edge: freeze::edge(plant, question),
            vessel: fill::vessel(plant),
            glycol: fill::glycol(plant, question, heat.conductance_w_k),
            heat,
            balance,
            tiring,
            backup,
        }
    }
}

impl Check {
    /// The store after a week without pause.
    #[must_use]
    pub fn tired(&self) -> TiredRow {
        tiring::tired(&self.tiring)
    }
}

/// The plant with another liquid. A flow measured with one says nothing of another.
fn with_fluid(plant: &PlantConfig, fluid: Fluid) -> PlantConfig {
    let mut changed = plant.clone();
    if fluid != plant.fluid {
        changed.fluid = fluid;
        changed.circulator.measured_flow_l_s = None;
    }
    changed
}

/// Working point of the loop with winter water.
fn flow_point(plant: &PlantConfig) -> FlowPoint {
    LoopDesign::new(plant).flow_point(Path::Series, REFERENCE_C)
}

/// A finished check with everything that is shown.
#[derive(Clone, Debug, Serialize)]
pub struct Shown<'a> {
    /// The worst of the lines.
    pub verdict: Verdict,
    /// In a sentence.
    pub answer: String,
    /// The house's name: that of its site file, or the demo's.
    #[serde(skip)]
    pub house: String,
    /// What the store does alone, and the boiler on the design night.
    pub plainly: String,
    /// What it rests on, name and text.
    pub used: Vec<(String, String)>,
    /// Every judged figure.
    pub lines: Vec<Line>,
    /// The same for people: what is said of like parts is said once.
    #[serde(skip)]
    pub points: Vec<Line>,
    /// Every figure.
    #[serde(flatten)]
    pub check: &'a Check,
    /// The sweep, if one was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sweep: Option<&'a Sweep>,
    /// Remarks on the site file.
    pub notes: Vec<String>,
    /// Units shown in texts.
    #[serde(skip)]
    pub units: Units,
}

impl<'a> Shown<'a> {
    /// Judged and worded.
    #[must_use]
    pub fn new(check: &'a Check, sweep: Option<&'a Sweep>, units: Units) -> Self {
        let lines = lines(check, units);
        let points = lines::merged(&lines);
        let count = |verdict| points.iter().filter(|line| line.verdict == verdict).count() as u64;
        let (bad, caution, look) = (
            count(Verdict::WillNotWork),
            count(Verdict::Caution),
            count(Verdict::Look),
        );
        let mut raised = Vec::new();
        if bad > 0 {
            raised.push(format!("{} against it", counted(bad, "point")));
        }
        if caution > 0 {
            raised.push(counted(caution, "caution"));
        }
        if look > 0 {
            raised.push(format!("{} to check", counted(look, "point")));
        }
        let verdict = Verdict::RAISED
            .into_iter()
            .find(|verdict| count(*verdict) > 0)
            .unwrap_or(Verdict::Fine);
        let works = match verdict {
            Verdict::WillNotWork => "The loop will not work as it is",
            Verdict::Fine | Verdict::Look | Verdict::Caution => "The loop will work",
        };
        let answer = if raised.is_empty() {
            format!("{works}.")
        } else {
            format!("{works}: {}.", raised.join(", "))
        };
        Self {
            verdict,
            answer,
            house: String::new(),
            plainly: plainly(check, Show(units)),
            used: Vec::new(),
            lines,
            points,
            check,
            sweep,
            notes: Vec::new(),
            units,
        }
    }
}

/// What the store does alone, and the boiler on the design night.
fn plainly(check: &Check, show: Show) -> String {
    let design_c = check.question.design_c;
    let alone = format!(
        "Alone the store holds the slab at {} down to {} outdoors, and after a week without pause down to {}.",
        show.temperature(check.question.hold_c),
        show.temperature(check.balance[0].slab.outdoor_c),
        show.temperature(check.tired().outdoor_c)
    );
    if check.backup.tired_store_holds {
        format!(
            "{alone} That is enough for the design night of {}.",
            show.temperature(design_c)
        )
    } else {
        format!(
            "{alone} The design night of {} asks for {} more from a boiler.",
            show.temperature(design_c),
            show.number(check.backup.needed_w, Dimension::Power, 0)
        )
    }
}

#[cfg(test)]
mod tests;
