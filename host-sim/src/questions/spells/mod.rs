//! Fault spells: a cold fortnight in closed loop, with faults drawn from a table, beside references that cannot be misled.
//!
//! A seed stands for a house, a stretch of cold weather, and faults with their times and parameters ([`Plan`]). The
//! controller runs through it with its sensors tampered with; where the slab gets cold, the same weather and plant faults
//! also go through controls that read the truth, and the controller once more with nothing wrong ([`judge`]). What it
//! comes to ([`Spell`]) depends on the seed alone: not on other seeds, nor on how many cores there are.
//!
//! Nothing here decides; the controller is taken as it is.

pub mod batch;
mod draw;
pub mod faults;
pub mod houses;
pub mod judge;
mod measure;
mod pair;
mod physical;
mod plan;
mod references;
pub mod results;
pub mod risk;
mod run;
mod sensors;
mod tamper;
mod told;
mod unit;
mod weather;
pub mod winters;

use std::panic::{AssertUnwindSafe, catch_unwind};

use serde::{Deserialize, Serialize};

use crate::sim::cancel::{Cancel, Cancelled};
use houses::House;
use judge::{Avoidable, Beside, Brief, Warning};
use measure::rounded;
use references::{Reference, Simple};
use unit::Unit;

pub use measure::Measured;
pub use plan::{Fault, FaultCount, Plan};
pub use told::Told;
pub use unit::{Step, Watch};
pub use weather::Windows;

/// What is asked.
pub struct Question {
    /// The houses.
    pub houses: Vec<House>,
    /// The weather.
    pub windows: Windows,
    /// How many faults.
    pub faults: FaultCount,
    /// Run the references in every spell, not only where the slab gets cold.
    pub references: bool,
}

/// A fault as results name it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Named {
    /// Its key in the table.
    pub key: String,
    /// Its parameters.
    pub details: String,
    /// When it begins, h.
    pub from_h: f64,
    /// When it ends, h.
    pub to_h: f64,
}

/// What a spell came to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Spell {
    /// What it was drawn from.
    pub seed: u64,
    /// The house.
    pub house: String,
    /// The weather.
    pub weather: String,
    /// The faults.
    pub faults: Vec<Named>,
    /// What the house came to.
    pub ours: Measured,
    /// The alarms.
    pub alarms: Vec<Told>,
    /// What they were worth.
    pub warning: Warning,
    /// Boots that were none of the power's: steps more than a minute late.
    pub late_boots: u32,
    /// A rule of the outputs that was broken, or a panic.
    pub violation: Option<String>,
    /// The comparison, where it was needed or asked for.
    pub beside: Option<Beside>,
    /// Avoidable, the controller itself doing without it when nothing is wrong.
    pub avoidable: Avoidable,
    /// Avoidable, whatever the controller does when nothing is wrong.
    pub avoidable_in_any_case: Avoidable,
}

/// Why a spell has no result.
#[derive(Debug)]
pub enum SpellError {
    /// Ctrl-C.
    Cancelled(Cancelled),
    /// The weather cannot be used: a fault of this program.
    Weather(anyhow::Error),
}

impl std::fmt::Display for SpellError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Cancelled(cancelled) => cancelled.fmt(f),
            Self::Weather(error) => write!(f, "the built-in weather: {error}"),
        }
    }
}

impl std::error::Error for SpellError {}

impl From<Cancelled> for SpellError {
    fn from(cancelled: Cancelled) -> Self {
        Self::Cancelled(cancelled)
    }
}

impl Question {
    /// Is it a spell of a house whose hazard is known?
    #[must_use]
    pub fn is_known_hazard(&self, spell: &Spell) -> bool {
        let mut houses = self.houses.iter();
        houses.any(|house| house.name == spell.house && house.is_known_hazard())
    }

    /// What is asked, in words; seeds may be added later.
    #[must_use]
    pub fn arguments(&self) -> String {
        let days = self.windows.days();
        let houses: Vec<&str> = self
            .houses
            .iter()
            .map(|house| house.name.as_str())
            .collect();
        let faults = match self.faults {
            FaultCount::Exactly(count) => format!("{count} faults"),
            FaultCount::Mixed => "one or two faults".to_owned(),
        };
        let references = if self.references {
            ", all references"
        } else {
            ""
        };
        format!(
            "{days} days, {faults}, houses {}{references}",
            houses.join(", ")
        )
    }

    /// Everything the results depend on, but the seeds and the program.
    #[must_use]
    pub fn fingerprint(&self) -> String {
        let houses: Vec<String> = self
            .houses
            .iter()
            .map(|house| format!("{:?} {:?}", house.site, house.settings))
            .collect();
        format!("{} {}", self.arguments(), houses.join(" "))
    }

    /// What a seed stands for.
    #[must_use]
    pub fn plan(&self, seed: u64) -> Plan {
        Plan::draw(
            seed,
            &self.houses,
            self.windows.len(),
            self.windows.length_s(),
            self.faults,
        )
    }

    /// Runs the spell of a seed; `watch` hears of every step of the controller.
    ///
    /// # Errors
    /// Ctrl-C.
    pub fn spell<'w>(
        &self,
        seed: u64,
        cancel: &Cancel,
        watch: Option<&'w mut Watch<'w>>,
    ) -> Result<Spell, SpellError> {
        let plan = self.plan(seed);
        let house = &self.houses[plan.house];
        let plant = &house.site.plant;
        let (name, weather) = self
            .windows
            .window(plan.weather, &house.site.glazing())
            .map_err(SpellError::Weather)?;
        let mut unit = Unit::new(&plan, &house.settings, watch);
        let outcome = catch_unwind(AssertUnwindSafe(|| {
            run::run(plant, &weather, &plan, &mut unit, cancel)
        }));
        let said = unit.finish();
        let (ours, panic) = match outcome {
            Ok(measured) => (measured?, None),
            Err(panic) => (Measured::default(), Some(panic_text(panic.as_ref()))),
        };
        let is_cold = ours.slab_min_c < judge::WORTH_COMPARING_C
            || ours.ice >= judge::SOME_ICE
            || ours.damaged;
        let beside = if (self.references || is_cold) && panic.is_none() {
            let brief = |reference| {
                let mut simple = Simple::new(reference, plant.boiler.is_some());
                run::run(plant, &weather, &plan, &mut simple, cancel).map(|m| Brief::from(&m))
            };
            let free = plan.without_faults();
            let mut unit = Unit::new(&free, &house.settings, None);
            let fault_free = run::run(plant, &weather, &free, &mut unit, cancel)?;
            Some(Beside {
                fault_free: Brief::from(&fault_free),
                plain: brief(Reference::Plain)?,
                always_on: brief(Reference::AlwaysOn)?,
                nothing: brief(Reference::Nothing)?,
            })
        } else {
            None
        };
        let any = beside.as_ref().map_or(Avoidable::default(), |beside| {
            judge::in_any_case(&ours, beside)
        });
        let avoidable = beside
            .as_ref()
            .map_or(any, |beside| judge::by_fault(any, beside));
        let first_fault_h = plan.first_fault_s() as f64 / 3_600.0;
        Ok(Spell {
            seed,
            house: house.name.clone(),
            weather: name,
            faults: plan.faults.iter().map(Named::of).collect(),
            warning: judge::warning(&ours, &said.alarms, first_fault_h),
            ours,
            alarms: said.alarms,
            late_boots: said.late_boots,
            violation: panic.or(said.violation),
            beside,
            avoidable,
            avoidable_in_any_case: any,
        })
    }
}

impl Spell {
    /// Is there harm that a reference did without, and that the controller did without when nothing was wrong?
    #[must_use]
    pub fn is_avoidable(&self) -> bool {
        self.avoidable.freeze || self.avoidable.damage
    }

    /// Was a slab zone below 0 °C?
    #[must_use]
    pub fn is_frozen(&self) -> bool {
        self.ours.below_0_from_h.is_some()
    }
}

impl results::Numbered for Spell {
    fn number(&self) -> u64 {
        self.seed
    }
}

impl Named {
    fn of(fault: &Fault) -> Self {
        Self {
            key: fault.key(),
            details: fault.details(),
            from_h: rounded(fault.from_s as f64 / 3_600.0),
            to_h: rounded(fault.to_s as f64 / 3_600.0),
        }
    }
}

fn panic_text(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic
        .downcast_ref::<String>()
        .map(String::as_str)
        .or_else(|| panic.downcast_ref::<&str>().copied());
    format!("panic: {}", text.unwrap_or("of unknown cause"))
}

#[cfg(test)]
mod tests;
