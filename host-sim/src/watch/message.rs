//! What is told to a person, and what it is about.

use jiff::{SignedDuration, Timestamp, ZonedDateTime};
use serde::{Deserialize, Serialize};

/// What a message is about. A hook takes the kinds it names.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// A condition that rings, its return to normal, and reminders while it rings.
    Alarm,
    /// A condition that only informs.
    Advice,
    /// Light the fire, or no more wood.
    Wood,
    /// No row comes from the unit, or it is back.
    Silence,
    /// The log cannot be kept, or can again.
    Log,
    /// The daily sign of life.
    SignOfLife,
}

impl Kind {
    /// All.
    pub const ALL: [Self; 6] = [
        Self::Alarm,
        Self::Advice,
        Self::Wood,
        Self::Silence,
        Self::Log,
        Self::SignOfLife,
    ];

    /// Its word in files and messages.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Alarm => "alarm",
            Self::Advice => "advice",
            Self::Wood => "wood",
            Self::Silence => "silence",
            Self::Log => "log",
            Self::SignOfLife => "sign_of_life",
        }
    }
}

/// Where a condition stands with this message.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// It begins.
    Begins,
    /// It stands still: a reminder.
    Stands,
    /// It is over.
    Over,
}

/// A message.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Message {
    /// Its number; a receiver that gets a number twice may drop the second.
    pub id: u64,
    /// When, on this computer's clock.
    pub at: ZonedDateTime,
    /// What it is about.
    pub kind: Kind,
    /// Which condition: an alarm's name, or the kind's.
    pub condition: String,
    /// Where the condition stands.
    pub stage: Stage,
    /// In full sentences.
    pub text: String,
    /// What to do, if there is anything.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub remedy: String,
}

/// Nobody wants to hear of what is older than this, h.
const STALE_H: i64 = 24;

impl Message {
    /// Is it too old to be delivered?
    #[must_use]
    pub fn is_stale(&self, now: Timestamp) -> bool {
        now.duration_since(self.at.timestamp()) >= SignedDuration::from_hours(STALE_H)
    }

    /// Text and remedy in one paragraph.
    #[must_use]
    pub fn sentences(&self) -> String {
        match self.remedy.as_str() {
            "" => self.text.clone(),
            remedy => format!("{} {remedy}", self.text),
        }
    }
}
