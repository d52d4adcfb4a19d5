//! What a step is given and what it gives to the pins.

use crate::decision::Switch;
use crate::restart::Restart;
use crate::sensor::{BySensor, Sample};
use crate::settings::{Mode, Settings};
use crate::shadow::ActualRelays;
use crate::time::Duration;

/// What a person asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Command {
    /// Change the mode of operation.
    Mode(Mode),
    /// Circulator by hand, for a limited time.
    Pump(Switch),
    /// Boiler call by hand, for a limited time, as far as protection allows.
    Boiler(Switch),
    /// Seen: clear latched doubts and retry the boiler.
    Acknowledge,
}

/// Everything one step is given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Inputs<'a> {
    /// This cycle's reads.
    pub samples: BySensor<Sample>,
    /// Does the circulator really run, if anything can tell?
    pub pump_feedback: Option<bool>,
    /// Are the relays somebody else's? Then this controller runs in shadow mode, and this is what ran.
    pub shadow: Option<ActualRelays>,
    /// What a person asks for, if anything.
    pub command: Option<Command>,
    /// New settings to adopt from this step on.
    pub settings: Option<&'a Settings>,
}

/// Something that happened besides the ordinary step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Event {
    /// Nothing.
    #[default]
    None,
    /// First step after a boot. Settings or a command given with it were not taken.
    Boot(Restart),
    /// The caller was late by more than five seconds.
    Stalled(Duration),
    /// A command was taken.
    Command(Command),
    /// New settings were adopted. A command given with them was not taken.
    Settings,
}

/// Relay bits. The alarm contact is to be energised when `alarm` is false.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Outputs {
    /// Run the circulator.
    pub circulator: bool,
    /// Call the boiler.
    pub boiler_call: bool,
    /// Ring.
    pub alarm: bool,
}
