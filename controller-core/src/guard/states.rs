//! Every state the guard can get into, searched breadth first: the real [`Guard`], every request at every step.
//!
//! Time goes in ticks; a state is the past of a guard in 16 bytes ([`past::Past`]), ages counted up to the longest
//! time that matters. From every state every request is asked of a guard with that past; the answer must keep every
//! rule ([`rules`]), the guard must remember what happened, and from every state a wish kept up must be granted
//! within its bound. All thresholds are whole ticks, or less than one, so that nothing happens between ticks that
//! does not happen at one. A reboot leads to one of the first states from anywhere.
//!
//! Several worlds share the work, since an hour at ten seconds has too many states: `usual`, `hours` and `injections`
//! count starts exactly at coarse ticks; `seconds` has fine ticks and lets the hour's starts be used up, or not, at any
//! step, which is more than can happen.

mod broken;
mod past;
mod rules;

use std::collections::HashSet;
use std::string::String;
use std::vec::Vec;
use std::{format, println, vec};

use super::*;
use crate::restart::Restart;
use crate::settings::{BoilerKind, RawSettings};
use past::Past;

/// What is searched: settings, boots, and the length of a tick.
struct World {
    name: &'static str,
    tick: Duration,
    settings: Settings,
    delays: Vec<BootDelays>,
    /// Starts are counted exactly; else the hour's number is used up or not as it comes.
    counts_starts: bool,
    /// The settings' times.
    times: Times,
    /// The boot delays.
    boots: Vec<Boot>,
}

/// Times of the settings in ticks, a part of one as a whole one.
struct Times {
    pump_run: u8,
    pump_rest: u8,
    frost_rest: u8,
    between_changes: u8,
    boiler_run: u8,
    boiler_rest: u8,
    overrun: u8,
    hour: u8,
}

/// Boot delays in ticks.
struct Boot {
    pump: u8,
    frost: u8,
    boiler: u8,
}

/// The starts of an hour as a guard finds them where they are not counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Crowded {
    pump: bool,
    boiler: bool,
}

/// The guard or something that should be one.
type Apply = fn(&mut Guard, Instant, Request, &Settings) -> GuardStatus;

/// When every state is looked at: far enough from the counter's zero.
const NOW: Instant = Instant::from_millis(1 << 40);

const fn min(n: u32) -> Duration {
    Duration::from_mins(n)
}

const fn delays(pump: Duration, frost: Duration, boiler: Duration) -> BootDelays {
    BootDelays {
        pump,
        frost,
        boiler,
    }
}

impl World {
    fn new(
        name: &'static str,
        tick: Duration,
        counts_starts: bool,
        delays: Vec<BootDelays>,
        change: impl FnOnce(&mut RawSettings),
    ) -> Self {
        let mut raw = RawSettings {
            settling_time: min(3),
            transit: Duration::from_secs(90),
            ..RawSettings::DEFAULT
        };
        change(&mut raw);
        let settings = Settings::check(raw).expect("valid");
        let t = |time: Duration| {
            let ticks = time.as_millis().div_ceil(tick.as_millis());
            u8::try_from(ticks).expect("ticks are long enough")
        };
        let boots = delays.iter().map(|d| Boot {
            pump: t(d.pump),
            frost: t(d.frost),
            boiler: t(d.boiler),
        });
        Self {
            name,
            tick,
            counts_starts,
            times: Times {
                pump_run: t(settings.pump_min_on),
                pump_rest: t(settings.pump_min_off),
                frost_rest: t(settings.frost_min_off.max(LEAST_BETWEEN_CHANGES)),
                between_changes: t(LEAST_BETWEEN_CHANGES),
                boiler_run: t(settings.boiler_min_on()),
                boiler_rest: t(settings.boiler_min_off()),
                overrun: t(settings.post_run),
                // Where starts are not counted none is remembered.
                hour: if counts_starts { t(HOUR) } else { 0 },
            },
            boots: boots.collect(),
            settings,
            delays,
        }
    }

    /// The demonstration's settings and its boots; five minutes a tick, an hour is twelve.
    fn usual() -> Self {
        let boots = vec![Restart::ORDINARY.delays(&Settings::default())];
        Self::new("usual", min(5), true, boots, |raw| {
            *raw = RawSettings::DEFAULT
        })
    }

    /// A fire; three minutes a tick, an hour is twenty.
    fn hours(starts: u8) -> Self {
        let boots = vec![
            delays(min(12), min(6), min(30)),
            delays(min(12), min(6), min(60)),
        ];
        Self::new("hours", min(3), true, boots, |raw| {
            raw.pump_min_on = min(9);
            raw.pump_min_off = min(6);
            raw.frost_min_off = min(3);
            raw.pump_starts = starts;
            raw.post_run = min(6);
            raw.firing_min_on = min(15);
            raw.firing_min_off = min(15);
        })
    }

    /// A valve on a hot jacket, six calls an hour; four minutes a tick, an hour is fifteen.
    fn injections() -> Self {
        let boots = vec![delays(min(12), min(8), min(16))];
        Self::new("injections", min(4), true, boots, |raw| {
            raw.boiler = BoilerKind::Injection;
            raw.pump_min_on = min(8);
            raw.pump_min_off = min(8);
            raw.pump_starts = 2;
            raw.post_run = min(4);
            raw.injection_min_on = min(4);
            raw.injection_min_off = min(4);
        })
    }

    /// Ten seconds a tick; the shortest times that settings may have.
    fn seconds() -> Self {
        let sec = Duration::from_secs;
        let boots = vec![
            delays(min(4), sec(60), min(5)),
            delays(min(4), min(3), min(7)),
        ];
        Self::new("seconds", sec(10), false, boots, |raw| {
            raw.boiler = BoilerKind::Injection;
            raw.pump_min_on = min(8);
            raw.pump_min_off = min(3);
            raw.frost_min_off = sec(30);
            raw.post_run = min(2);
            raw.injection_min_on = min(2);
            raw.injection_min_off = min(2);
        })
    }

    /// How full the hour may be found.
    fn crowds(&self) -> Vec<Crowded> {
        let all = [(false, false), (true, false), (false, true), (true, true)];
        all.into_iter()
            .take(if self.counts_starts { 1 } else { 4 })
            .map(|(pump, boiler)| Crowded { pump, boiler })
            .collect()
    }
}

/// Everything that can be asked.
fn requests() -> Vec<Request> {
    let pumps = [
        PumpRequest::Run(Urgency::Normal),
        PumpRequest::Run(Urgency::Frost),
        PumpRequest::Rest(Stop::AfterMinimum),
        PumpRequest::Rest(Stop::Early),
        PumpRequest::Rest(Stop::AtOnce),
    ];
    let boilers = [
        BoilerRequest::Call,
        BoilerRequest::Release,
        BoilerRequest::Drop,
    ];
    let mut all = Vec::new();
    for pump in pumps {
        for boiler in boilers {
            for heat_proven in [false, true] {
                all.push(Request {
                    pump,
                    boiler,
                    heat_proven,
                });
            }
        }
    }
    all
}

/// What a search found.
#[derive(Debug, Default)]
struct Found {
    states: usize,
    transitions: u64,
    /// Longest waits of wishes kept up, in ticks: frost, economy with a call, rest.
    longest: [u8; 3],
}

/// Wishes kept up, in the order of [`Found::longest`].
const WISHES: [Request; 3] = [
    Request {
        pump: PumpRequest::Run(Urgency::Frost),
        ..Request::IDLE
    },
    Request {
        pump: PumpRequest::Run(Urgency::Normal),
        boiler: BoilerRequest::Call,
        heat_proven: true,
    },
    Request {
        heat_proven: true,
        ..Request::IDLE
    },
];

/// Looks at every state that can be reached.
///
/// # Errors
/// The first broken rule, with the state and the request.
fn search(world: &World, apply: Apply) -> Result<Found, String> {
    let requests = requests();
    let crowds = world.crowds();
    let mut found = Found::default();
    let mut seen: HashSet<Past> = HashSet::new();
    let mut edge: Vec<Past> = Vec::new();
    for boot in 0..world.delays.len() {
        let born = Past::born(world, boot);
        let guard = Guard::new(NOW, world.delays[boot], false);
        if Past::of(&guard, world, boot) != born {
            return Err(format!("{}: a boot is no clean start", world.name));
        }
        seen.insert(born);
        edge.push(born);
    }
    while !edge.is_empty() {
        let mut next_edge = Vec::new();
        for past in edge {
            for request in &requests {
                for crowded in &crowds {
                    let after = step(world, apply, &past, *crowded, *request)
                        .map_err(|rule| report(world, rule, &past, *crowded, *request))?;
                    found.transitions += 1;
                    if seen.insert(after) {
                        next_edge.push(after);
                    }
                }
            }
            for (longest, wish) in found.longest.iter_mut().zip(WISHES) {
                let waited = wait(world, apply, &past, wish)
                    .map_err(|rule| report(world, rule, &past, crowds[0], wish))?;
                *longest = waited.max(*longest);
            }
        }
        edge = next_edge;
    }
    found.states = seen.len();
    Ok(found)
}

fn report(world: &World, rule: &str, past: &Past, crowded: Crowded, request: Request) -> String {
    format!(
        "{}: {rule}: {request:?} of {past:?}, {crowded:?}",
        world.name
    )
}

/// One request asked of a guard with that past, and its state a tick later.
fn step(
    world: &World,
    apply: Apply,
    past: &Past,
    crowded: Crowded,
    request: Request,
) -> Result<Past, &'static str> {
    let mut guard = past.guard(world, crowded);
    let status = apply(&mut guard, NOW, request, &world.settings);
    rules::answer(world, past, crowded, request, &status)?;
    let again = |at| {
        let status = apply(&mut guard.clone(), at, request, &world.settings);
        (
            status.pump,
            status.boiler,
            status.pump_hold,
            status.boiler_hold,
        )
    };
    rules::hold(world, past, &status, again)?;
    let after = past.after(world, request, &status);
    if Past::of(&guard, world, usize::from(past.boot)) != after {
        return Err("the guard remembers what happened");
    }
    Ok(after.a_tick_later(world))
}

/// How many ticks a wish waits that is kept up from this state on.
fn wait(world: &World, apply: Apply, past: &Past, wish: Request) -> Result<u8, &'static str> {
    let bound = rules::longest_wait(world, past, wish);
    let empty = Crowded {
        pump: false,
        boiler: false,
    };
    let mut guard = past.guard(world, empty);
    let mut now = NOW;
    for waited in 0..=bound {
        let status = apply(&mut guard, now, wish, &world.settings);
        let granted = match wish.pump {
            PumpRequest::Run(Urgency::Frost) => status.pump,
            PumpRequest::Run(Urgency::Normal) => status.boiler,
            PumpRequest::Rest(_) => !status.pump,
        };
        if granted {
            return Ok(waited);
        }
        now = now + world.tick;
    }
    Err("a wish kept up is granted within its bound")
}

/// Searches and tells.
fn found(world: &World) -> Found {
    let found = match search(world, Guard::apply) {
        Ok(found) => found,
        Err(broken) => panic!("{broken}"),
    };
    let [frost, call, rest] = found.longest.map(|n| u32::from(n) * world.tick.as_secs());
    println!(
        "{}: {} states, {} transitions; kept up, frost waited {frost} s at most, a call {call} s, a rest {rest} s",
        world.name, found.states, found.transitions
    );
    found
}

/// The rules hold in every state: no call without circulation, shortest runs and rests, starts in any hour, boot delays,
/// frost's exemptions, overheating and limits at once, the overrun; and no wish waits for ever.
#[test]
fn every_reachable_state_keeps_the_rules() {
    let worlds = [
        (World::usual(), 5_000),
        (World::hours(2), 100_000),
        (World::injections(), 10_000),
        (World::seconds(), 4_000),
    ];
    for (world, least) in worlds {
        let found = found(&world);
        assert!(found.states > least, "{}: {}", world.name, found.states);
    }
}

/// The same with four starts an hour at three minutes a tick.
/// `cargo test --release -p controller-core --lib every_state -- --ignored --nocapture`
#[test]
#[ignore = "a million states; the figures are in docs/reliability.md"]
fn every_state_of_four_starts_an_hour_keeps_the_rules() {
    let found = found(&World::hours(4));
    assert!(found.states > 1_000_000, "{}", found.states);
}

/// A key is small, so that millions fit.
#[test]
fn a_state_is_at_most_32_bytes() {
    assert!(size_of::<Past>() <= 32, "{}", size_of::<Past>());
}
