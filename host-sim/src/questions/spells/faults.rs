//! The table of faults: what can go wrong, how likely it is drawn, and with what parameters.
//!
//! The keys are stable: results name faults by them. A fault of a sensor has the sensor's name before it.

use controller_core::sensor::Sensor;
use controller_core::settings::Mode;
use controller_core::{Command, Switch};

/// How likely this sensor is the one that fails; the slab's matters most.
pub(super) const fn weight(sensor: Sensor) -> u32 {
    match sensor {
        Sensor::Slab => 2,
        Sensor::Supply | Sensor::Return | Sensor::Outdoor => 1,
    }
}

/// How a parameter is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spread {
    /// Evenly.
    Even,
    /// Evenly, with either sign.
    EitherSign,
}

/// A number that goes with a fault.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parameter {
    /// What it is.
    pub name: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// Smallest.
    pub low: f64,
    /// Largest.
    pub high: f64,
    /// How it is drawn.
    pub spread: Spread,
}

const fn even(name: &'static str, unit: &'static str, low: f64, high: f64) -> Parameter {
    Parameter {
        name,
        unit,
        low,
        high,
        spread: Spread::Even,
    }
}

const fn signed(name: &'static str, unit: &'static str, low: f64, high: f64) -> Parameter {
    Parameter {
        spread: Spread::EitherSign,
        ..even(name, unit, low, high)
    }
}

/// What a wrong sensor gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lie {
    /// No device answers.
    Open,
    /// Shorted.
    Short,
    /// No conversion.
    Missing,
    /// Frames with a wrong checksum.
    Checksum,
    /// 85 °C, told to be the power-on value.
    PowerOn,
    /// 85 °C as if it were a reading.
    PowerOnUntold,
    /// The value it had.
    Stuck,
    /// The value it had, with scatter.
    StuckDither,
    /// Off by a constant.
    Offset,
    /// Off by more every day, 6 K at most.
    Drift,
    /// A wrong slope about 25 °C.
    Gain,
    /// Scatter.
    Noise,
    /// Some reads fail.
    Dropout,
    /// Fails and comes back.
    Intermittent,
    /// Shows one temperature.
    Constant,
    /// Shows the house air.
    Air,
    /// Shows the store's air.
    Store,
    /// Shows the outdoor air.
    Outdoor,
    /// Warmed by the sun.
    Sunlit,
    /// Follows too slowly.
    Lag,
    /// Some reads are far off.
    Spikes,
    /// Goes over to the house air slowly.
    ComingLoose,
}

/// What is wrong in the plant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// The circulator does not turn.
    PumpDead,
    /// The circulator moves less water, from the beginning.
    PumpWeak,
    /// The circulator does not start every time.
    PumpSticky,
    /// Air stops the water.
    Air,
    /// Air stops the water now and then.
    AirIntermittent,
    /// The circulator's contact is welded shut.
    PumpRelayWelded,
    /// The boiler's contact is welded shut.
    BoilerRelayWelded,
    /// The boiler's contact never closes.
    BoilerRelayOpen,
    /// The fire goes out and stays out.
    FireOut,
    /// Nobody brings wood.
    NoFuel,
    /// The boiler gives half its power, from the beginning.
    FirePoor,
}

/// What is wrong with the power, the processor's time or a person.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Upset {
    /// A power cut.
    PowerCut,
    /// Many short power cuts.
    BootLoop,
    /// A short power cut after which the settings are unreadable.
    SettingsLost,
    /// Steps that come late.
    LateSteps,
    /// One step that comes late.
    Stall,
    /// Other settings, each within its range and together accepted.
    SettingsChanged,
    /// A person's command.
    Command(Command),
}

/// What a fault does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Does {
    /// A sensor is wrong.
    Lie(Lie),
    /// Two sensors are exchanged.
    Exchange(Sensor, Sensor),
    /// The plant is wrong.
    Part(Part),
    /// Power, processor or person.
    Upset(Upset),
}

/// One line of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Kind {
    /// Its name in results; a sensor's name comes before it where it is a sensor's.
    pub key: &'static str,
    /// What is wrong, in words.
    pub words: &'static str,
    /// How likely it is within its family.
    pub weight: u32,
    /// The sensors it may befall; none where it is no sensor's.
    pub on: &'static [Sensor],
    /// Its parameters.
    pub parameters: &'static [Parameter],
    /// What it does.
    pub does: Does,
}

/// Faults of one sort.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Family {
    /// Its name where rates are given.
    pub key: &'static str,
    /// What they have in common.
    pub words: &'static str,
    /// Faults that stand in the coldest fortnight of a winter, on average. Status: judgement.
    pub rate: f64,
    /// How many of a hundred faults.
    pub weight: u32,
    /// The faults.
    pub kinds: &'static [Kind],
}

const ANY: &[Sensor] = &Sensor::ALL;
const PIPES: &[Sensor] = &[Sensor::Supply, Sensor::Return];
const SLAB: &[Sensor] = &[Sensor::Slab];
const OUTDOORS: &[Sensor] = &[Sensor::Outdoor];
const INDOORS: &[Sensor] = &[Sensor::Supply, Sensor::Return, Sensor::Slab];

const fn lie(
    key: &'static str,
    words: &'static str,
    weight: u32,
    on: &'static [Sensor],
    parameters: &'static [Parameter],
    lie: Lie,
) -> Kind {
    Kind {
        key,
        words,
        weight,
        on,
        parameters,
        does: Does::Lie(lie),
    }
}

const fn other(
    key: &'static str,
    words: &'static str,
    weight: u32,
    parameters: &'static [Parameter],
    does: Does,
) -> Kind {
    Kind {
        key,
        words,
        weight,
        on: &[],
        parameters,
        does,
    }
}

const fn exchange(
    key: &'static str,
    words: &'static str,
    weight: u32,
    a: Sensor,
    b: Sensor,
) -> Kind {
    other(key, words, weight, &[], Does::Exchange(a, b))
}

const fn part(
    key: &'static str,
    words: &'static str,
    weight: u32,
    parameters: &'static [Parameter],
    part: Part,
) -> Kind {
    other(key, words, weight, parameters, Does::Part(part))
}

const fn upset(
    key: &'static str,
    words: &'static str,
    weight: u32,
    parameters: &'static [Parameter],
    upset: Upset,
) -> Kind {
    other(key, words, weight, parameters, Does::Upset(upset))
}

const fn by_hand(key: &'static str, words: &'static str, command: Command) -> Kind {
    upset(key, words, 1, &[], Upset::Command(command))
}

#[rustfmt::skip]
const SENSORS: &[Kind] = &[
    lie("open", "no answer", 2, ANY, &[], Lie::Open),
    lie("short", "shorted", 1, ANY, &[], Lie::Short),
    lie("missing", "no conversion", 1, ANY, &[], Lie::Missing),
    lie("checksum", "frames garbled; each is read again three times", 1, ANY, &[even("share", "%", 10.0, 100.0)], Lie::Checksum),
    lie("power-on", "shows its power-on value, told", 1, ANY, &[even("share", "%", 10.0, 100.0)], Lie::PowerOn),
    lie("power-on-untold", "shows 85 °C as a reading", 1, ANY, &[even("share", "%", 10.0, 100.0)], Lie::PowerOnUntold),
    lie("stuck", "keeps the value it had", 2, ANY, &[], Lie::Stuck),
    lie("stuck-dither", "keeps the value it had, with scatter", 2, ANY, &[even("scatter", "K", 0.03, 0.3)], Lie::StuckDither),
    lie("offset", "off by a constant", 3, ANY, &[signed("offset", "K", 0.5, 3.0)], Lie::Offset),
    lie("drift", "off by more every day, 6 K at most", 2, ANY, &[signed("drift", "K/d", 0.1, 2.0)], Lie::Drift),
    lie("gain", "a wrong slope about 25 °C", 1, ANY, &[even("gain", "", 0.8, 1.2)], Lie::Gain),
    lie("noise", "scatters", 2, ANY, &[even("scatter", "K", 0.2, 3.0)], Lie::Noise),
    lie("dropout", "some reads fail", 1, ANY, &[even("share", "%", 5.0, 100.0)], Lie::Dropout),
    lie("intermittent", "fails and comes back", 1, ANY, &[even("fails for", "s", 30.0, 7_200.0), even("reads for", "s", 30.0, 7_200.0)], Lie::Intermittent),
    lie("constant", "shows one temperature", 1, PIPES, &[even("shows", "°C", -5.0, 60.0)], Lie::Constant),
    lie("constant", "shows one temperature", 1, SLAB, &[even("shows", "°C", -5.0, 15.0)], Lie::Constant),
    lie("constant", "shows one temperature", 1, OUTDOORS, &[even("shows", "°C", -30.0, 25.0)], Lie::Constant),
    lie("reads-air", "shows the house air", 1, ANY, &[], Lie::Air),
    lie("reads-store", "shows the store's air", 1, INDOORS, &[], Lie::Store),
    lie("reads-outdoor", "shows the outdoor air", 1, INDOORS, &[], Lie::Outdoor),
    lie("sunlit", "warmed by the sun", 2, OUTDOORS, &[even("at full sun", "K", 5.0, 25.0)], Lie::Sunlit),
    lie("lag", "follows too slowly", 1, ANY, &[even("time constant", "h", 0.5, 6.0)], Lie::Lag),
    lie("spikes", "some reads are far off", 1, ANY, &[even("share", "%", 1.0, 30.0), signed("by", "K", 1.0, 20.0)], Lie::Spikes),
    lie("coming-loose", "goes over to the house air", 1, ANY, &[even("within", "d", 1.0, 6.0)], Lie::ComingLoose),
];

#[rustfmt::skip]
const EXCHANGES: &[Kind] = &[
    exchange("exchanged-supply-return", "supply and return exchanged", 6, Sensor::Supply, Sensor::Return),
    exchange("exchanged-supply-slab", "supply and slab exchanged", 1, Sensor::Supply, Sensor::Slab),
    exchange("exchanged-return-slab", "return and slab exchanged", 1, Sensor::Return, Sensor::Slab),
    exchange("exchanged-slab-outdoor", "slab and outdoor exchanged", 1, Sensor::Slab, Sensor::Outdoor),
    exchange("exchanged-supply-outdoor", "supply and outdoor exchanged", 1, Sensor::Supply, Sensor::Outdoor),
];

#[rustfmt::skip]
const PLANT: &[Kind] = &[
    part("pump-dead", "the circulator does not turn", 2, &[], Part::PumpDead),
    part("pump-weak", "the circulator moves less water, from the beginning", 1, &[even("share", "", 0.15, 0.6)], Part::PumpWeak),
    part("pump-sticky", "the circulator does not start every time", 1, &[even("fails", "%", 20.0, 90.0)], Part::PumpSticky),
    part("air", "air stops the water", 1, &[], Part::Air),
    part("air-intermittent", "air stops the water now and then", 1, &[even("stops for", "s", 300.0, 7_200.0), even("moves for", "s", 300.0, 7_200.0)], Part::AirIntermittent),
    part("pump-relay-welded", "the circulator's relay is welded shut", 1, &[], Part::PumpRelayWelded),
    part("boiler-relay-welded", "the boiler's relay is welded shut", 1, &[], Part::BoilerRelayWelded),
    part("boiler-relay-open", "the boiler's relay never closes", 1, &[], Part::BoilerRelayOpen),
    part("fire-out", "the fire goes out and stays out", 2, &[], Part::FireOut),
    part("no-fuel", "nobody brings wood", 1, &[], Part::NoFuel),
    part("fire-poor", "the boiler gives half its power, from the beginning", 1, &[], Part::FirePoor),
];

#[rustfmt::skip]
const POWER: &[Kind] = &[
    upset("power-cut", "no power", 5, &[even("for", "h", 0.02, 14.0)], Upset::PowerCut),
    upset("boot-loop", "power fails again and again, for a second each", 5, &[even("times", "", 2.0, 62.0), even("every", "s", 3.0, 900.0)], Upset::BootLoop),
    upset("settings-lost", "a short power cut, then the settings are unreadable", 1, &[], Upset::SettingsLost),
];

#[rustfmt::skip]
const PROCESSOR: &[Kind] = &[
    upset("late-steps", "steps come late", 3, &[even("share", "%", 1.0, 100.0), even("at most", "s", 4.0, 200.0)], Upset::LateSteps),
    upset("stall", "one step comes late", 1, &[even("by", "s", 5.0, 40_000.0)], Upset::Stall),
];

#[rustfmt::skip]
const PERSON: &[Kind] = &[
    upset("settings-changed", "other settings, within their ranges", 6, &[], Upset::SettingsChanged),
    by_hand("hand-pump-off", "circulator switched off by hand", Command::Pump(Switch::Off)),
    by_hand("hand-pump-on", "circulator switched on by hand", Command::Pump(Switch::On)),
    by_hand("hand-boiler-off", "boiler switched off by hand", Command::Boiler(Switch::Off)),
    by_hand("hand-boiler-on", "boiler called by hand", Command::Boiler(Switch::On)),
    by_hand("acknowledged", "alarms acknowledged", Command::Acknowledge),
    by_hand("mode-summer", "put into summer mode", Command::Mode(Mode::Summer)),
    by_hand("mode-commissioning", "put into commissioning mode", Command::Mode(Mode::Commissioning)),
];

/// The whole table. Weights are judgement: sensors fail most often.
#[rustfmt::skip]
pub const FAMILIES: &[Family] = &[
    Family { key: "sensor", words: "a sensor", rate: 0.05, weight: 52, kinds: SENSORS },
    Family { key: "exchanged", words: "two sensors exchanged", rate: 0.01, weight: 3, kinds: EXCHANGES },
    Family { key: "plant", words: "circulator, water or fire", rate: 0.05, weight: 20, kinds: PLANT },
    Family { key: "power", words: "power", rate: 0.2, weight: 11, kinds: POWER },
    Family { key: "processor", words: "the processor", rate: 0.01, weight: 4, kinds: PROCESSOR },
    Family { key: "person", words: "a person", rate: 0.05, weight: 10, kinds: PERSON },
];
