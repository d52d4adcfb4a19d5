//! Random lives of a controller.

use controller_core::restart::{Restart, RestartCause};
use controller_core::sensor::{BySensor, ReadFault};
use controller_core::settings::{Field, Key, Kind, Mode, RawSettings, Settings};
use controller_core::units::Celsius;
use controller_core::{Command, Switch};
use proptest::prelude::*;

pub(crate) use crate::support::{Alive, Happens, Says, Stretch, is_boot};

use crate::support::EDGES;

fn temperature() -> impl Strategy<Value = i16> {
    let edge = (0..EDGES.len(), -1_i16..=1).prop_map(|(index, off)| {
        Celsius::from_milli(EDGES[index])
            .to_128ths()
            .saturating_add(off)
    });
    prop_oneof![6 => edge, 3 => 0_i16..1_280, 1 => any::<i16>()]
}

fn fault() -> impl Strategy<Value = ReadFault> {
    prop_oneof![
        Just(ReadFault::Missing),
        Just(ReadFault::Absent),
        Just(ReadFault::Checksum),
        Just(ReadFault::PowerOn),
        Just(ReadFault::Short),
        Just(ReadFault::Impossible),
    ]
}

fn says() -> impl Strategy<Value = Says> {
    prop_oneof![
        5 => temperature().prop_map(Says::Hold),
        3 => (temperature(), -40_i16..40).prop_map(|(from, by)| Says::Ramp(from, by)),
        1 => (temperature(), temperature()).prop_map(|(a, b)| Says::Flip(a, b)),
        1 => fault().prop_map(Says::Fail),
        6 => Just(Says::Same),
    ]
}

pub(crate) fn restart() -> impl Strategy<Value = Restart> {
    (1_u8..9, any::<bool>(), any::<u8>()).prop_map(|(boots, owed, jitter_s)| Restart {
        cause: RestartCause::BrownOut,
        boots_last_hour: boots,
        post_run_owed: owed,
        settings_lost: false,
        jitter_s,
    })
}

fn command() -> impl Strategy<Value = Command> {
    let switch = || prop_oneof![Just(Switch::Auto), Just(Switch::On), Just(Switch::Off)];
    prop_oneof![
        4 => Just(Command::Mode(Mode::Winter)),
        1 => Just(Command::Mode(Mode::Summer)),
        1 => Just(Command::Mode(Mode::Drained)),
        1 => Just(Command::Mode(Mode::Commissioning)),
        3 => switch().prop_map(Command::Pump),
        3 => switch().prop_map(Command::Boiler),
        2 => Just(Command::Acknowledge),
    ]
}

/// Settings with some values at the ends of their ranges, as far as they go together.
pub(crate) fn settings() -> impl Strategy<Value = Settings> {
    let fields = Field::all();
    prop::collection::vec((0..fields.len(), 0_u8..3), 0..25).prop_map(move |changes| {
        let mut raw = RawSettings::DEFAULT;
        for (index, end) in changes {
            let field = fields[index];
            if field.key == Key::Mode {
                continue; // modes come as commands
            }
            let mut tried = raw;
            let bits = match (end, field.kind) {
                (0, _) => field.min,
                (1, _) => field.max,
                (_, Kind::Choice(_) | Kind::Switch) => field.max,
                (_, _) => field.min + (field.max - field.min) / 2,
            };
            if tried.set_bits(field.key, bits) && Settings::check(tried).is_ok() {
                raw = tried;
            }
        }
        Settings::check(raw).expect("every change kept it valid")
    })
}

fn happens() -> impl Strategy<Value = Happens> {
    let late = prop_oneof![
        Just(0),
        1_u32..5_000,
        Just(5_001),
        5_000_u32..60_000,
        Just(60_000),
        Just(60_001),
        60_000_u32..20_000_000,
    ];
    prop_oneof![
        10 => Just(Happens::Nothing),
        4 => command().prop_map(Happens::Command),
        1 => settings().prop_map(|s| Happens::Settings(Box::new(s))),
        3 => late.prop_map(Happens::Late),
        1 => restart().prop_map(Happens::Reboot),
    ]
}

fn stretch() -> impl Strategy<Value = Stretch> {
    let feedback = prop_oneof![8 => Just(None), 1 => Just(Some(true)), 1 => Just(Some(false))];
    let steps = prop_oneof![4 => 1_u16..10, 4 => 10_u16..120, 1 => 120_u16..900];
    let slow = prop_oneof![3 => Just(0), 1 => 0_u16..4_000];
    (
        (says(), says(), says(), says()),
        steps,
        happens(),
        feedback,
        prop::bool::weighted(0.8),
        slow,
    )
        .prop_map(
            |((supply, ret, slab, outdoor), steps, happens, feedback, framed, slow)| Stretch {
                says: BySensor {
                    supply,
                    ret,
                    slab,
                    outdoor,
                },
                steps,
                happens,
                feedback,
                framed,
                slow,
            },
        )
}

pub(crate) fn life(longest: usize) -> impl Strategy<Value = Vec<Stretch>> {
    prop::collection::vec(stretch(), 1..longest)
}
