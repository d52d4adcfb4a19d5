//! What an answer of the guard must keep, from what an observer remembers.

use super::*;

type Bits = (bool, bool, Option<Hold>, Option<Hold>);

/// Which rule an answer breaks, if one.
pub(super) fn answer(
    world: &World,
    past: &Past,
    crowded: Crowded,
    request: Request,
    status: &GuardStatus,
) -> Result<(), &'static str> {
    let s = &world.settings;
    let (t, boot) = (&world.times, &world.boots[usize::from(past.boot)]);
    let (pump, boiler) = (status.pump, status.boiler);
    let (starts, stops) = (!past.pump && pump, past.pump && !pump);
    let (calls, ends) = (!past.boiler && boiler, past.boiler && !boiler);
    let run = matches!(request.pump, PumpRequest::Run(_));
    let call = run && request.boiler == BoilerRequest::Call;
    let at_once = request.pump == PumpRequest::Rest(Stop::AtOnce);
    let drop = request.boiler == BoilerRequest::Drop;
    let early = request.pump == PumpRequest::Rest(Stop::Early);

    // The circulator's rest, run and starts.
    let frost = request.pump == PumpRequest::Run(Urgency::Frost);
    let (rest, boot_delay) = if frost {
        (t.frost_rest, boot.frost)
    } else {
        (t.pump_rest, boot.pump)
    };
    let rested = past.pump_for >= rest;
    let booted = past.booted >= boot_delay;
    let counted = within_an_hour(world, &past.pump_starts, crowded.pump, s.pump_starts);
    let room = frost || counted < s.pump_starts;
    let shortest = if early { t.between_changes } else { t.pump_run };
    let ran = past.pump_for >= shortest;
    let heat_left = past.overrun > 0 || ends && request.heat_proven;

    // The boiler's.
    let call_rested = !past.called || past.boiler_for >= t.boiler_rest;
    let call_booted = past.booted >= boot.boiler;
    let called = within_an_hour(
        world,
        &past.boiler_starts,
        crowded.boiler,
        s.boiler_starts(),
    );
    let call_room = called < s.boiler_starts();
    let burnt = past.boiler_for >= t.boiler_run;

    let may_start = run && booted && rested && room;
    let may_call = call && past.pump && call_booted && call_rested && call_room;
    let rules = [
        ("no call without circulation", pump || !boiler),
        (
            "no call in the step in which the circulator starts",
            !calls || past.pump,
        ),
        (
            "nothing starts unasked",
            (!starts || run) && (!calls || call),
        ),
        ("no start before the boot delay", !starts || booted),
        ("no start before the rest is over", !starts || rested),
        (
            "no start beyond the hour's number but for frost",
            !starts || room,
        ),
        ("no stop against a wish to run", !stops || !run),
        ("no stop before the run is over", !stops || ran || at_once),
        (
            "no stop before boiler heat is carried off",
            !stops || !heat_left || at_once,
        ),
        (
            "overheating stops both at once",
            !at_once || !pump && !boiler,
        ),
        ("a limit ends a call at once", !drop || !boiler),
        ("no call before its boot delay", !calls || call_booted),
        ("no call before its rest is over", !calls || call_rested),
        ("no call beyond the hour's number", !calls || call_room),
        (
            "no call ends before its shortest time",
            !ends || drop || at_once || burnt,
        ),
        ("no call ends that is asked for", !ends || !call),
        ("what may start starts", past.pump || pump || !may_start),
        (
            "what may stop stops",
            run || !past.pump || !pump || boiler || heat_left || !ran,
        ),
        (
            "what may be called is called",
            past.boiler || boiler || !may_call,
        ),
        (
            "what need not burn on ends",
            call || !past.boiler || !boiler || !burnt,
        ),
        (
            "a hold is named where the circulator is not as asked",
            (pump != run) == status.pump_hold.is_some(),
        ),
        (
            "a hold is named where the call is not as asked",
            at_once || (boiler != call) == status.boiler_hold.is_some(),
        ),
    ];
    first_broken(&rules)
}

fn first_broken(rules: &[(&'static str, bool)]) -> Result<(), &'static str> {
    match rules.iter().find(|(_, holds)| !holds) {
        Some((rule, _)) => Err(rule),
        None => Ok(()),
    }
}

/// Starts in the hour that ends now.
fn within_an_hour(world: &World, ages: &[u8], crowded: bool, cap: u8) -> u8 {
    if crowded {
        return cap;
    }
    let recent = ages.iter().filter(|age| **age < world.times.hour);
    u8::try_from(recent.count()).expect("few")
}

/// A hold says when it ends, no later than its bound; until then nothing changes, and then something does.
pub(super) fn hold(
    world: &World,
    past: &Past,
    status: &GuardStatus,
    ask: impl Fn(Instant) -> Bits,
) -> Result<(), &'static str> {
    let holds = [status.pump_hold, status.boiler_hold];
    let Some(end) = status.free_at else {
        // The circulator just started: the call follows in the next step.
        let waits = holds
            .iter()
            .flatten()
            .any(|hold| *hold != Hold::NoCirculation);
        let follows = status.boiler_hold.is_none() || status.pump;
        return first_broken(&[("a hold says when it ends", !waits && follows)]);
    };
    let longest = holds
        .iter()
        .flatten()
        .map(|hold| bound(world, past, *hold))
        .max();
    let just_before = Instant::from_millis(end.as_millis() - 1);
    let now = (
        status.pump,
        status.boiler,
        status.pump_hold,
        status.boiler_hold,
    );
    let still = ask(just_before);
    first_broken(&[
        ("a hold ends later than now", end > NOW),
        (
            "a hold ends within its bound",
            longest.is_some_and(|longest| end.since(NOW) <= longest),
        ),
        (
            "nothing changes before a hold ends",
            (still.0, still.1) == (now.0, now.1),
        ),
        ("something changes when a hold ends", ask(end) != now),
    ])
}

/// The longest a hold can last.
fn bound(world: &World, past: &Past, hold: Hold) -> Duration {
    let s = &world.settings;
    let delays = &world.delays[usize::from(past.boot)];
    match hold {
        Hold::Boot => delays.pump.max(delays.frost),
        Hold::PumpRest => s
            .pump_min_off
            .max(s.frost_min_off)
            .max(LEAST_BETWEEN_CHANGES),
        Hold::PumpRun => s.pump_min_on.max(LEAST_BETWEEN_CHANGES),
        Hold::PumpStarts | Hold::BoilerStarts => HOUR,
        Hold::Overrun => s.post_run,
        Hold::BoilerRun => s.boiler_min_on(),
        Hold::BoilerRest => s.boiler_min_off(),
        Hold::BoilerBoot => delays.boiler,
        // The circulator's own hold says when.
        Hold::NoCirculation => Duration::ZERO,
    }
}

/// The longest a wish can wait that is kept up from this state on, ticks.
pub(super) fn longest_wait(world: &World, past: &Past, wish: Request) -> u8 {
    let (t, boot) = (&world.times, &world.boots[usize::from(past.boot)]);
    match wish.pump {
        // Frost: what is left of its own rest and its own boot delay, and not a tick more.
        PumpRequest::Run(Urgency::Frost) if past.pump => 0,
        PumpRequest::Run(Urgency::Frost) => {
            let rest = t.frost_rest.saturating_sub(past.pump_for);
            rest.max(boot.frost.saturating_sub(past.booted))
        }
        // The circulator, then the call a tick later at the soonest.
        PumpRequest::Run(Urgency::Normal) => {
            let pump = boot.pump.max(t.pump_rest).max(t.hour);
            let call = boot.boiler.max(t.boiler_rest).max(t.hour);
            call.max(pump + 1)
        }
        // The call's shortest time, then the overrun; the shortest run meanwhile.
        PumpRequest::Rest(_) => (t.boiler_run + t.overrun).max(t.pump_run),
    }
}
