//! Plain words for what happened: the verdict, reasons, causes and alarms.

use controller_core::reason::{Cause, Reason, What};
use controller_core::time::Duration;

use super::Context;
use crate::account::metrics::{Agreement, SummaryNumbers};
use crate::files::quantity::show::{Show, counted, fixed, hours};

/// A digital sensor's usual error, K (DS18B20 datasheet: ±0.5 °C from −10 to 85 °C).
const SENSOR_ERROR_K: f64 = 0.5;

/// Did it hold, in one word and in sentences.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Verdict {
    /// `None`: nobody can say.
    pub(super) held: Option<bool>,
    /// The first sentence.
    pub(super) headline: String,
    /// What belongs to it.
    pub(super) details: Vec<String>,
}

impl Verdict {
    pub(super) const fn word(&self) -> &'static str {
        match self.held {
            Some(true) => "Held",
            Some(false) => "Did not hold",
            None => "Not known",
        }
    }
}

pub(super) fn verdict(numbers: &SummaryNumbers, context: &Context) -> Verdict {
    let show = Show(context.units);
    let target = show.temperature(context.limits.target_c);
    let frozen = frozen(numbers);
    let (Some(min), Some(below)) = (numbers.slab_min_c, numbers.slab_hours_below_target) else {
        let lost = numbers
            .faults
            .get("slab")
            .filter(|slab| slab.lost_hours > 0.0);
        let why = lost.map_or(String::new(), |slab| {
            format!(
                ", since its sensor counts as lost for {}",
                hours(slab.lost_hours)
            )
        });
        let unknown = format!(
            "There is no slab reading to go by{why}: nobody can say whether the slab held."
        );
        return Verdict {
            held: frozen.as_ref().map(|_| false),
            headline: frozen
                .into_iter()
                .fold(unknown, |rest, first| format!("{first} {rest}")),
            details: about_boiler(numbers).into_iter().collect(),
        };
    };
    if numbers.days == 0.0 {
        return Verdict {
            held: None,
            headline: "The rows cover no time: nobody can say whether the slab held.".to_owned(),
            details: vec![format!("Its one reading is {}.", show.temperature(min))],
        };
    }
    let when = numbers
        .slab_min_time
        .as_ref()
        .map_or(String::new(), |time| format!(" at {time}"));
    let part = numbers.slab_true_min_c.map_or(String::new(), |part_c| {
        format!(", its coldest part with tube {}", show.temperature(part_c))
    });
    let coldest = format!("Coldest {}{when}{part}.", show.temperature(min));
    let mut details = vec![coldest];
    let held = held(numbers);
    let slab = if below > 0.0 {
        let sum = numbers.slab_degree_hours_below_target.unwrap_or(0.0);
        format!(
            "The slab did not hold: {} below its target of {target} ({})",
            hours(below),
            show.degree_hours(sum)
        )
    } else if let Some(part_c) = numbers.slab_true_min_c.filter(|part_c| *part_c < 0.0) {
        format!(
            "The slab did not hold: its sensor was never below {target}, but its coldest part with tube fell to {}",
            show.temperature(part_c)
        )
    } else {
        format!("The slab held: it was never below its target of {target}")
    };
    let headline = [frozen, Some(slab + &about_air(numbers, show) + ".")]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" ");
    if let Some(frozen) = numbers.slab_hours_below_zero.filter(|h| *h > 0.0) {
        details.push(format!("It was below freezing for {}.", hours(frozen)));
    }
    if held && min - context.limits.target_c < SENSOR_ERROR_K {
        details.push(format!(
            "That is within a sensor's usual error of ±{}: no margin to rely on.",
            show.difference(SENSOR_ERROR_K)
        ));
    }
    details.extend(about_bare_floor(numbers, show));
    if let Some(unknown) = numbers.slab_hours_unknown.filter(|hours| *hours >= 0.05) {
        details.push(format!("For {} there was no slab reading.", hours(unknown)));
    }
    details.extend(about_boiler(numbers));
    Verdict {
        held: Some(held),
        headline,
        details,
    }
}

/// Whether a run held, as its text and the exit code say: no reading of the slab below its target, no part of it with tube below
/// 0 °C, nothing frozen solid.
#[must_use]
pub fn held(numbers: &SummaryNumbers) -> bool {
    numbers.water_froze_solid_ms.is_none()
        && numbers.slab_hours_below_target == Some(0.0)
        && numbers.slab_true_min_c.is_none_or(|part_c| part_c >= 0.0)
}

/// The one sentence before all others.
fn frozen(numbers: &SummaryNumbers) -> Option<String> {
    numbers.water_froze_solid_ms.map(|_| {
        let on = numbers
            .water_froze_solid_time
            .as_ref()
            .map_or(String::new(), |time| format!(" on {time}"));
        format!("Water froze solid{on}: tubes are likely damaged.")
    })
}

/// What the plants had, said in one breath with the slab.
fn about_air(numbers: &SummaryNumbers, show: Show) -> String {
    let Some(air_c) = numbers.air_min_c else {
        return String::new();
    };
    let air = format!("; the air of the house fell to {}", show.temperature(air_c));
    match numbers.air_hours_below_zero.filter(|h| *h > 0.0) {
        Some(below) => format!("{air} and was below freezing for {}", hours(below)),
        None => air,
    }
}

/// The floor that no tube warms, which "held" does not speak of.
fn about_bare_floor(numbers: &SummaryNumbers, show: Show) -> Option<String> {
    let (share, min_c) = numbers.slab_bare_share.zip(numbers.slab_bare_min_c)?;
    Some(format!(
        "{} % of the floor has no tube: there it fell to {} and lost {} through its edge.",
        fixed(100.0 * share, 0),
        show.temperature(min_c),
        show.heat(numbers.slab_bare_edge_kwh.unwrap_or(0.0))
    ))
}

fn about_boiler(numbers: &SummaryNumbers) -> Option<String> {
    if numbers.rows == 0 {
        return None;
    }
    if numbers.boiler_calls == 0 {
        return Some("The boiler was never called.".to_owned());
    }
    let called = format!(
        "The boiler was called {}, {} in all",
        times(numbers.boiler_calls),
        hours(numbers.boiler_call_hours)
    );
    Some(match numbers.boiler_calls_without_heat {
        0 => format!("{called}."),
        n => format!("{called}; {} brought no heat.", counted(n, "call")),
    })
}

fn times(count: u64) -> String {
    match count {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    }
}

/// How far the temperatures can be trusted, in a sentence.
pub(super) const fn standing(context: &Context) -> &'static str {
    if context.simulated {
        "This is a model's season, not a measured one: trust the difference between two runs more than either."
    } else {
        "Temperatures are the log's own: decisions other than the logged ones would have changed them."
    }
}

/// A reason as words.
pub(super) fn reason_label(reason: Reason) -> String {
    reason.name().replace('_', " ")
}

/// What a reason means.
pub(super) const fn reason_meaning(reason: Reason) -> &'static str {
    match reason {
        Reason::Boot => "waiting after power came on",
        Reason::Drained => "the circuit is empty",
        Reason::Overheat => "water too hot, circulator stopped",
        Reason::Frost => "freezing threatens: the circulator runs, paying or not",
        Reason::Backup => "the boiler is called",
        Reason::StoreHeat => "store heat is worth the electricity",
        Reason::PostRun => "carrying boiler heat out of the pipes",
        Reason::Manual => "a person's command",
        Reason::Exercise => "keeping an idle circulator free",
        Reason::MinimumTime => "a shortest run or rest has to pass first",
        Reason::NotWorthwhile => "heat is wanted, the store has too little to give",
        Reason::WarmEnough => "the slab is warm enough",
    }
}

/// What a number behind a reason is of.
enum Of {
    Nothing,
    Point,
    Minutes,
}

const fn quantity(what: What) -> (&'static str, Of) {
    match what {
        What::Nothing => ("", Of::Nothing),
        What::Slab => ("slab", Of::Point),
        What::WaterSlab => ("slab by its return", Of::Point),
        What::Supply => ("supply", Of::Point),
        What::Return => ("return", Of::Point),
        What::Outdoor => ("outdoor", Of::Point),
        What::OutdoorMean => ("outdoor mean", Of::Point),
        What::WaterAge => ("water last asked", Of::Minutes),
        What::Rest => ("at rest for", Of::Minutes),
        What::Run => ("running for", Of::Minutes),
        What::TimeLeft => ("time left", Of::Minutes),
    }
}

/// Reading, value, limit and age behind a reason; nothing if there is none.
pub(crate) fn cause_text(cause: &Cause, show: Show) -> String {
    let (name, of) = quantity(cause.what);
    let number = |bits: i32| f64::from(bits) / 65_536.0;
    let text = |bits: i32| match of {
        Of::Nothing => String::new(),
        Of::Point => show.temperature(number(bits)),
        // The longest time there is stands for none.
        Of::Minutes if bits == i32::MAX => "never".to_owned(),
        Of::Minutes => format!("{} min", fixed(number(bits), 0)),
    };
    let limited = match of {
        Of::Nothing => return String::new(),
        Of::Minutes => cause.limit != 0,
        Of::Point => true,
    };
    let mut words = format!("{name} {}", text(cause.value));
    if limited {
        words.push_str(&format!(" (limit {})", text(cause.limit)));
    }
    if cause.age >= Duration::from_mins(1) && cause.age != Duration::MAX {
        words.push_str(&format!(", {} min old", cause.age.as_secs() / 60));
    }
    words
}

/// How far the log's relays are as decided here, and what would have differed.
pub(crate) fn about_agreement(agreement: &Agreement) -> Option<String> {
    let relays = [
        ("circulator", &agreement.circulator),
        ("boiler call", &agreement.boiler),
    ];
    let same = relays
        .into_iter()
        .filter_map(|(name, relay)| {
            let relay = relay.as_ref().filter(|relay| relay.equal_share < 1.0)?;
            Some(format!(
                "{name} {} % of the time (here {} h more, {} h less)",
                fixed(100.0 * relay.equal_share, 0),
                fixed(relay.ours_on_theirs_off_hours, 1),
                fixed(relay.ours_off_theirs_on_hours, 1)
            ))
        })
        .collect::<Vec<_>>();
    (!same.is_empty()).then(|| format!("Decided as logged: {}.", same.join(", ")))
}
