//! Tonight: will the store alone hold the slab until morning, and if not, when must the fire be lit?
//!
//! Flow: readings and forecast → times and weather ([`forecast`]) → the house as it stands now ([`start`]) → the night many times
//! over ([`ensemble`]) → what the fire does for it ([`fire`]) → one screen (`present::tonight`). Each stage returns a value. The house is the
//! plant of the winters and the controller the very same; nothing here decides.

pub mod axis;
pub mod ensemble;
pub mod fire;
pub mod forecast;
pub mod hours;
pub mod night;
pub mod recent;
pub mod score;
pub mod start;
mod weather;

use controller_core::settings::{BoilerKind, Mode, Settings};

use crate::files::site::SiteConfig;
use crate::sim::plant::config::Curtain;
use crate::sim::season::Variant;
use crate::sim::weather::{PeriodError, Station};

use axis::Axis;
use ensemble::{Ensemble, Range, Size, StoreAlone};
use fire::FireAnswer;
use forecast::{Forecast, Outlook, SkyCover};
use start::{History, Present, Start, StartSpread, by_hand};
use weather::{Doubt, spread};

/// Share of the members that must hold for the answer "it holds".
pub const SURE: f64 = 0.9;

/// Everything that is asked with.
#[derive(Clone, Debug)]
pub struct Question<'a> {
    /// The house.
    pub site: &'a SiteConfig,
    /// The controller's settings.
    pub settings: &'a Settings,
    /// Where it stands.
    pub station: &'a Station,
    /// From when to when.
    pub axis: Axis,
    /// Readings of the present.
    pub present: Present,
    /// What a log tells of the days before.
    pub history: Option<&'a History>,
    /// The forecast.
    pub forecast: &'a Forecast,
    /// Seed of everything random.
    pub seed: u64,
    /// How many members.
    pub size: Size,
    /// Whether to ask about the fire where the store alone does not hold for sure.
    pub fire: bool,
}

/// Does the store alone hold the slab?
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// In at least nine of ten members.
    Holds,
    /// In more than one and less than nine of ten.
    Doubtful,
    /// In at most one of ten.
    Fails,
}

/// The answer.
#[derive(Clone, Debug)]
pub struct Answer {
    /// The times.
    pub axis: Axis,
    /// What must hold, °C.
    pub target_c: f64,
    /// What was known of the present.
    pub present: Present,
    /// How well.
    pub spread: StartSpread,
    /// The store alone.
    pub alone: StoreAlone,
    /// The fire, if there is a boiler and the store alone does not hold for sure.
    pub fire: Option<FireAnswer>,
    /// Whether there is a boiler that the settings let be called.
    pub has_boiler: bool,
    /// The same night with a usual curtain drawn, if the house has none and does not hold for sure.
    pub curtained: Option<Curtained>,
}

/// A night with a curtain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curtained {
    /// Nights asked: with the fire, where there is one.
    pub nights: usize,
    /// Nights in which the slab holds its target.
    pub holding: usize,
    /// Coldest slab, °C.
    pub coldest_c: Range,
}

impl Answer {
    /// In a word.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        let share = self.alone.holding as f64 / self.alone.members as f64;
        if share >= SURE {
            Verdict::Holds
        } else if share > 1.0 - SURE {
            Verdict::Doubtful
        } else {
            Verdict::Fails
        }
    }

    /// Whether the slab holds for sure, with the fire if the store alone does not do it.
    #[must_use]
    pub fn holds_with_fire(&self) -> bool {
        self.verdict() == Verdict::Holds || self.fire.as_ref().is_some_and(FireAnswer::holds)
    }
}

/// Answers a question whose parts have been checked.
///
/// # Errors
/// The period cannot be laid out: a fault of this program.
pub fn answer(question: &Question<'_>) -> Result<Answer, PeriodError> {
    let &Question {
        site,
        settings,
        present,
        ..
    } = question;
    let outlook = Outlook::new(
        question.forecast,
        question.station,
        &site.glazing(),
        question.axis,
        present.outdoor_c,
        question.history,
    )?;
    let plant = by_hand(&site.plant);
    let start = Start::settle(
        &plant,
        settings,
        &outlook,
        &present,
        question.history,
        question.seed,
    );
    let unsaid = matches!(
        question.forecast,
        Forecast::LowHigh {
            sky: SkyCover::Unknown,
            ..
        } | Forecast::Hours(_, SkyCover::Unknown)
    );
    let doubt = Doubt {
        cover_tenths: if unsaid {
            spread::COVER_UNKNOWN_TENTHS
        } else {
            spread::COVER_TENTHS
        },
    };
    let target_c = settings.target.to_fixed().to_num::<f64>();
    let (ensemble, alone) = Ensemble::run(
        &outlook,
        &start,
        doubt,
        target_c,
        question.size,
        question.seed,
    );
    let mut answer = Answer {
        axis: question.axis,
        target_c,
        present,
        spread: start.spread,
        alone,
        fire: None,
        has_boiler: plant.boiler.is_some()
            && settings.boiler != BoilerKind::None
            && matches!(settings.mode, Mode::Winter | Mode::Commissioning),
        curtained: None,
    };
    if question.fire && answer.has_boiler && answer.verdict() != Verdict::Holds {
        let (_, quiet) = Variant::WithoutBoiler.apply(&plant, settings);
        answer.fire = fire::ask(&ensemble, &plant, settings, &quiet, target_c);
    }
    if question.fire && !answer.holds_with_fire() && site.plant.house.curtain.is_none() {
        answer.curtained = Some(curtained(question)?);
    }
    Ok(answer)
}

/// The same question with a usual curtain.
fn curtained(question: &Question<'_>) -> Result<Curtained, PeriodError> {
    let mut site = question.site.clone();
    site.plant.house.curtain = Some(Curtain::USUAL);
    let other = answer(&Question {
        site: &site,
        ..question.clone()
    })?;
    Ok(match &other.fire {
        Some(fire) => Curtained {
            nights: fire.nights,
            holding: fire.holding,
            coldest_c: fire.coldest_c,
        },
        None => Curtained {
            nights: other.alone.members,
            holding: other.alone.holding,
            coldest_c: other.alone.coldest_c,
        },
    })
}

#[cfg(test)]
mod tests;
