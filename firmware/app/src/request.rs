//! What a person or program may say on the serial line.

use controller_core::sensor::Sensor;
use controller_core::settings::{Key, Mode};
use controller_core::{Command, Switch};

use crate::bindings::Source;
use crate::one_wire::Rom;
use serial_line::line::Line;
use serial_line::refusal::Refusal;
use serial_line::value;

/// A request that makes sense by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Request {
    /// Lists the requests.
    Help,
    /// State in short.
    Status,
    /// All settings.
    Settings,
    /// One setting.
    Show(Key),
    /// Puts a value into the draft.
    Set(Key, i32),
    /// Checks the draft.
    Check,
    /// Checks, stores and adopts the draft.
    Apply,
    /// Stores a unit's defaults as meant.
    ApplyDefaults,
    /// Drops the draft.
    Discard,
    /// For the controller.
    Command(Command),
    /// Chips and inputs with their names.
    Sensors,
    /// Names a chip or input.
    Bind(Sensor, Source),
    /// Exchanges two names.
    Exchange(Sensor, Sensor),
    /// Shows which chip is being warmed by hand.
    Identify,
    /// Trims supply and return to each other.
    TrimPair,
    /// Guided test of one output.
    Test(Tested),
    /// A person's answer.
    Answer(bool),
    /// Ends whatever is under way.
    Stop,
    /// Reads out the log.
    Log,
    /// The last resets: why, after how long, during what.
    Resets,
    /// The trace's column names.
    Columns,
}

/// An output to be tested.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tested {
    /// The circulator relay.
    Circulator,
    /// The boiler call relay.
    BoilerCall,
    /// The alarm relay.
    Alarm,
}

impl Tested {
    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Circulator => "circulator",
            Self::BoilerCall => "boiler_call",
            Self::Alarm => "alarm",
        }
    }
}

/// Every request, for `help`.
pub const HELP: [&str; 22] = [
    "status | settings | show NAME | sensors | columns | log | resets | help",
    "set NAME VALUE [UNIT]   puts a value into the draft",
    "set NAME raw BITS       the same, exact to the last bit",
    "check                   checks the draft",
    "apply                   checks, stores and adopts the draft",
    "apply defaults          stores a new unit's defaults as meant",
    "discard                 drops the draft",
    "mode winter|summer|drained|commissioning",
    "pump on|off|auto        by hand, ends by itself after manual_time",
    "boiler on|off|auto      by hand, as far as protection allows",
    "acknowledge             seen: retries the boiler, ends held outputs",
    "bind SENSOR IDENTITY    names a chip: supply, return, slab or outdoor",
    "bind SENSOR input N     names a thermistor input",
    "unbind SENSOR",
    "exchange SENSOR SENSOR",
    "identify                shows which chip is warmed by hand, 5 min",
    "trim pair               supply and return in one bath: trims them to their mean",
    "test circulator|boiler_call|alarm   guided, ends by itself",
    "yes | no                answers a test",
    "stop                    ends listing, log, test, trim or identify",
    "Lines that change anything need their checksum: ~ and four hexadecimal digits.",
    "Without it the reply shows the line to send.",
];

impl Request {
    /// Reads a line.
    ///
    /// # Errors
    /// [`Refusal`]; nothing has changed then.
    pub fn parse(line: &Line) -> Result<Self, Refusal> {
        let request = words(&line.text)?;
        if request.changes_something() && !line.checked {
            return Err(Refusal::NoChecksum);
        }
        Ok(request)
    }

    const fn changes_something(self) -> bool {
        match self {
            Self::Help
            | Self::Status
            | Self::Settings
            | Self::Show(_)
            | Self::Check
            | Self::Sensors
            | Self::Answer(_)
            | Self::Stop
            | Self::Log
            | Self::Resets
            | Self::Columns => false,
            Self::Set(..)
            | Self::Apply
            | Self::ApplyDefaults
            | Self::Discard
            | Self::Command(_)
            | Self::Bind(..)
            | Self::Exchange(..)
            | Self::Identify
            | Self::TrimPair
            | Self::Test(_) => true,
        }
    }
}

fn words(text: &str) -> Result<Request, Refusal> {
    let mut words = text.split_ascii_whitespace();
    let first = words.next().ok_or(Refusal::Unknown)?;
    if first == "set" {
        let field = words.next().and_then(Key::from_name);
        let field = field.ok_or(Refusal::NoSuchSetting)?.field();
        let bits = value::parse(field, words).map_err(Refusal::Value)?;
        return Ok(Request::Set(field.key, bits));
    }
    let rest = (words.next(), words.next(), words.next());
    if words.next().is_some() {
        return Err(Refusal::Words);
    }
    match (first, rest) {
        ("help", (None, ..)) => Ok(Request::Help),
        ("status", (None, ..)) => Ok(Request::Status),
        ("settings", (None, ..)) => Ok(Request::Settings),
        ("check", (None, ..)) => Ok(Request::Check),
        ("apply", (None, ..)) => Ok(Request::Apply),
        ("apply", (Some("defaults"), None, _)) => Ok(Request::ApplyDefaults),
        ("discard", (None, ..)) => Ok(Request::Discard),
        ("sensors", (None, ..)) => Ok(Request::Sensors),
        ("identify", (None, ..)) => Ok(Request::Identify),
        ("log", (None, ..)) => Ok(Request::Log),
        ("resets", (None, ..)) => Ok(Request::Resets),
        ("columns", (None, ..)) => Ok(Request::Columns),
        ("stop", (None, ..)) => Ok(Request::Stop),
        ("yes", (None, ..)) => Ok(Request::Answer(true)),
        ("no", (None, ..)) => Ok(Request::Answer(false)),
        ("acknowledge", (None, ..)) => Ok(Request::Command(Command::Acknowledge)),
        ("show", (Some(name), None, _)) => Key::from_name(name)
            .map(Request::Show)
            .ok_or(Refusal::NoSuchSetting),
        ("mode", (Some(word), None, _)) => Mode::ALL
            .into_iter()
            .find(|mode| mode.name() == word)
            .map(|mode| Request::Command(Command::Mode(mode)))
            .ok_or(Refusal::Words),
        ("pump", (Some(word), None, _)) => Ok(Request::Command(Command::Pump(switch(word)?))),
        ("boiler", (Some(word), None, _)) => Ok(Request::Command(Command::Boiler(switch(word)?))),
        ("bind", (Some(name), Some("input"), Some(n))) => {
            let channel = n.parse().map_err(|_| Refusal::Words)?;
            Ok(Request::Bind(sensor(name)?, Source::Thermistor(channel)))
        }
        ("bind", (Some(name), Some(identity), None)) => {
            let rom = rom(identity).ok_or(Refusal::BadIdentity)?;
            Ok(Request::Bind(sensor(name)?, Source::Chip(rom)))
        }
        ("unbind", (Some(name), None, _)) => Ok(Request::Bind(sensor(name)?, Source::Unbound)),
        ("exchange", (Some(one), Some(other), None)) => {
            Ok(Request::Exchange(sensor(one)?, sensor(other)?))
        }
        ("trim", (Some("pair"), None, _)) => Ok(Request::TrimPair),
        ("test", (Some(word), None, _)) => [Tested::Circulator, Tested::BoilerCall, Tested::Alarm]
            .into_iter()
            .find(|tested| tested.name() == word)
            .map(Request::Test)
            .ok_or(Refusal::Words),
        (
            "help" | "status" | "settings" | "check" | "apply" | "discard" | "sensors" | "identify"
            | "log" | "resets" | "columns" | "stop" | "yes" | "no" | "acknowledge" | "show"
            | "mode" | "pump" | "boiler" | "bind" | "unbind" | "exchange" | "trim" | "test",
            _,
        ) => Err(Refusal::Words),
        _ => Err(Refusal::Unknown),
    }
}

fn switch(word: &str) -> Result<Switch, Refusal> {
    [Switch::On, Switch::Off, Switch::Auto]
        .into_iter()
        .find(|switch| switch.name() == word)
        .ok_or(Refusal::Words)
}

fn sensor(word: &str) -> Result<Sensor, Refusal> {
    Sensor::ALL
        .into_iter()
        .find(|sensor| sensor.name() == word)
        .ok_or(Refusal::Words)
}

/// Sixteen hexadecimal digits in the order the bytes come over the bus.
fn rom(word: &str) -> Option<Rom> {
    if word.len() != 16 || !word.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return None;
    }
    let number = u64::from_str_radix(word, 16).ok()?;
    let rom = number.to_be_bytes();
    let right = controller_core::sensor::ds18b20::crc(&rom) == 0 && number != 0;
    right.then_some(rom)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serial_line::value::ValueFault;

    fn line(text: &str, checked: bool) -> Line {
        Line {
            text: text.try_into().unwrap(),
            checked,
        }
    }

    fn read(text: &str) -> Result<Request, Refusal> {
        Request::parse(&line(text, true))
    }

    #[test]
    fn requests_are_read() {
        let key = Key::from_name("target").unwrap();
        assert_eq!(read("set  target 1.5 C"), Ok(Request::Set(key, 98_304)));
        assert_eq!(
            read("mode summer"),
            Ok(Request::Command(Command::Mode(Mode::Summer)))
        );
        assert_eq!(
            read("boiler auto"),
            Ok(Request::Command(Command::Boiler(Switch::Auto)))
        );
        // Identity with the checksum worked out in the chip maker's application note on CRC.
        let rom = [0x02, 0x1C, 0xB8, 0x01, 0, 0, 0, 0xA2];
        assert_eq!(
            read("bind return 021cb801000000a2"),
            Ok(Request::Bind(Sensor::Return, Source::Chip(rom)))
        );
        assert_eq!(
            read("bind slab input 2"),
            Ok(Request::Bind(Sensor::Slab, Source::Thermistor(2)))
        );
        assert_eq!(
            read("test boiler_call"),
            Ok(Request::Test(Tested::BoilerCall))
        );
    }

    #[test]
    fn refusals_say_why() {
        for (text, why) in [
            ("reboot", Refusal::Unknown),
            ("mode", Refusal::Words),
            ("mode autumn", Refusal::Words),
            ("pump on now", Refusal::Words),
            ("status please", Refusal::Words),
            ("set purpose 1", Refusal::NoSuchSetting),
            ("set", Refusal::NoSuchSetting),
            ("set target 9", Refusal::Value(ValueFault::OutOfRange)),
            ("bind slab 021cb801000000a3", Refusal::BadIdentity),
            ("bind slab 0000000000000000", Refusal::BadIdentity),
            ("bind slab +21cb801000000a2", Refusal::BadIdentity),
            ("bind slab input 256", Refusal::Words),
            ("a b c d e f", Refusal::Words),
        ] {
            assert_eq!(read(text), Err(why), "{text}");
        }
    }

    #[test]
    fn only_checked_lines_change_anything() {
        for text in [
            "set target 1",
            "apply",
            "apply defaults",
            "mode drained",
            "pump off",
            "bind slab input 0",
            "unbind slab",
            "test alarm",
            "trim pair",
            "acknowledge",
            "discard",
        ] {
            assert_eq!(
                Request::parse(&line(text, false)),
                Err(Refusal::NoChecksum),
                "{text}"
            );
        }
        for text in [
            "status",
            "settings",
            "show target",
            "log",
            "resets",
            "yes",
            "stop",
        ] {
            assert!(Request::parse(&line(text, false)).is_ok(), "{text}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "[ -~]{0,96}") {
            let _ = read(&text);
        }

        #[test]
        fn near_misses_are_read_or_refused(
            text in "(set|bind|mode|pump|test|show|trim|unbind|exchange) (target|slab|supply|pair|on|raw|[a-z]{1,9}) ?(input|raw|[0-9a-f]{16}|-?[0-9]{0,8}\\.?[0-9]{0,4})? ?[0-9]{0,12}"
        ) {
            let _ = Request::parse(&line(&text.chars().take(96).collect::<std::string::String>(), true));
        }
    }
}
