//! Guards with a fault each: the search must find it and say which rule it breaks.

use super::*;

/// Going by other settings than it should.
fn with(
    guard: &mut Guard,
    now: Instant,
    request: Request,
    settings: &Settings,
    change: impl FnOnce(&mut RawSettings),
) -> GuardStatus {
    let mut raw = *settings.raw();
    change(&mut raw);
    let changed = Settings::check(raw).expect("valid");
    guard.apply(now, request, &changed)
}

/// Taking one request for the circulator for another.
fn pump_as(
    guard: &mut Guard,
    now: Instant,
    request: Request,
    settings: &Settings,
    [from, to]: [PumpRequest; 2],
) -> GuardStatus {
    let pump = if request.pump == from {
        to
    } else {
        request.pump
    };
    guard.apply(now, Request { pump, ..request }, settings)
}

/// Taking one request for the boiler for another.
fn boiler_as(
    guard: &mut Guard,
    now: Instant,
    request: Request,
    settings: &Settings,
    [from, to]: [BoilerRequest; 2],
) -> GuardStatus {
    let boiler = if request.boiler == from {
        to
    } else {
        request.boiler
    };
    guard.apply(now, Request { boiler, ..request }, settings)
}

const ECONOMY: PumpRequest = PumpRequest::Run(Urgency::Normal);
const FROST: PumpRequest = PumpRequest::Run(Urgency::Frost);
const REST: PumpRequest = PumpRequest::Rest(Stop::AfterMinimum);
const EARLY: PumpRequest = PumpRequest::Rest(Stop::Early);
const AT_ONCE: PumpRequest = PumpRequest::Rest(Stop::AtOnce);

/// A rule with a guard that breaks it.
type Fault = (&'static str, Apply);

const FAULTS: [Fault; 17] = [
    ("no start before the boot delay", no_boot_delay),
    ("no start before the rest is over", |g, now, r, s| {
        with(g, now, r, s, |raw| raw.pump_min_off = min(3))
    }),
    (
        "no start beyond the hour's number but for frost",
        |g, now, r, s| with(g, now, r, s, |raw| raw.pump_starts += 1),
    ),
    ("what may start starts", |g, now, r, s| {
        with(g, now, r, s, |raw| raw.pump_min_off = min(9))
    }),
    // Frost held to the rules of economy.
    (
        "a wish kept up is granted within its bound",
        |g, now, r, s| pump_as(g, now, r, s, [FROST, ECONOMY]),
    ),
    ("no stop before the run is over", |g, now, r, s| {
        pump_as(g, now, r, s, [REST, EARLY])
    }),
    // A limit of the boiler's that stops the circulator as well.
    ("no stop against a wish to run", |g, now, r, s| {
        let limit = g.pump && r.boiler == BoilerRequest::Drop;
        pump_as(
            g,
            now,
            r,
            s,
            [ECONOMY, if limit { AT_ONCE } else { ECONOMY }],
        )
    }),
    ("overheating stops both at once", |g, now, r, s| {
        pump_as(g, now, r, s, [AT_ONCE, EARLY])
    }),
    ("nothing changes before a hold ends", no_overrun),
    ("a limit ends a call at once", |g, now, r, s| {
        boiler_as(g, now, r, s, [BoilerRequest::Drop, BoilerRequest::Release])
    }),
    ("no call ends before its shortest time", |g, now, r, s| {
        boiler_as(g, now, r, s, [BoilerRequest::Release, BoilerRequest::Drop])
    }),
    ("no call without circulation", |g, now, r, s| {
        let mut status = g.apply(now, r, s);
        status.boiler |= r.boiler == BoilerRequest::Call;
        status
    }),
    ("no call before its boot delay", |g, now, r, s| {
        g.delays.boiler = g.delays.frost;
        g.apply(now, r, s)
    }),
    ("no call before its rest is over", no_boiler_rest),
    ("no call beyond the hour's number", no_boiler_count),
    ("the guard remembers what happened", |g, now, r, s| {
        let status = g.apply(now, r, s);
        if !status.pump {
            g.pump_starts = Starts::NONE;
        }
        status
    }),
    ("a hold says when it ends", |g, now, r, s| GuardStatus {
        free_at: None,
        ..g.apply(now, r, s)
    }),
];

fn no_boot_delay(guard: &mut Guard, now: Instant, r: Request, s: &Settings) -> GuardStatus {
    guard.delays.frost = Duration::ZERO;
    guard.apply(now, r, s)
}

/// Remembers the overrun and does not keep to it.
fn no_overrun(guard: &mut Guard, now: Instant, r: Request, s: &Settings) -> GuardStatus {
    let until = guard.overrun_until;
    guard.overrun_until = now;
    let status = guard.apply(now, r, s);
    if status.pump {
        guard.overrun_until = guard.overrun_until.max(until);
    }
    status
}

fn no_boiler_rest(guard: &mut Guard, now: Instant, r: Request, s: &Settings) -> GuardStatus {
    let since = guard.boiler_since;
    let earlier = since - min(3);
    if !guard.boiler {
        guard.boiler_since = earlier;
    }
    let status = guard.apply(now, r, s);
    if guard.boiler_since == earlier {
        guard.boiler_since = since;
    }
    status
}

/// Remembers the calls and does not count them.
fn no_boiler_count(guard: &mut Guard, now: Instant, r: Request, s: &Settings) -> GuardStatus {
    let mut starts = core::mem::replace(&mut guard.boiler_starts, Starts::NONE);
    let status = guard.apply(now, r, s);
    if guard.boiler_starts != Starts::NONE {
        starts.record(now);
    }
    guard.boiler_starts = starts;
    status
}

#[test]
fn the_search_finds_every_planted_fault() {
    let world = World::hours(2);
    let missed: Vec<String> = FAULTS
        .into_iter()
        .filter_map(|(rule, fault)| match search(&world, fault) {
            Ok(found) => Some(format!("{rule}: not found in {found:?}")),
            Err(broken) if broken.contains(rule) => None,
            Err(broken) => Some(format!("{rule} expected, but {broken}")),
        })
        .collect();
    assert!(missed.is_empty(), "{}", missed.join("\n"));
}

/// A guard that forgets its boot with every step keeps every rule about what is not to happen; only the wait tells.
#[test]
fn a_wish_that_waits_for_ever_is_found() {
    let never: Apply = |guard, now, r, s| {
        guard.boot = now;
        guard.apply(now, r, s)
    };
    let world = World::hours(2);
    let [frost, ..] = WISHES;
    let born = Past::born(&world, 0);
    assert_eq!(wait(&world, Guard::apply, &born, frost), Ok(2));
    let found = wait(&world, never, &born, frost);
    assert_eq!(found, Err("a wish kept up is granted within its bound"));
}
