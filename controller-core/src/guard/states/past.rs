//! A guard's past, as much of it as matters, in few bytes.

use super::*;

/// What an observer remembers: bits, and ages in ticks, each counted up to where it no longer matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Past {
    /// Which of the world's boot delays.
    pub(super) boot: u8,
    /// Since the boot.
    pub(super) booted: u8,
    pub(super) pump: bool,
    /// Since the circulator changed.
    pub(super) pump_for: u8,
    pub(super) boiler: bool,
    /// Since the boiler changed; nothing before the first call.
    pub(super) boiler_for: u8,
    /// Has the boiler been called since the boot?
    pub(super) called: bool,
    /// Time left in which boiler heat is carried off.
    pub(super) overrun: u8,
    /// Since the latest starts, youngest first; an hour stands for that or more.
    pub(super) pump_starts: [u8; 4],
    /// The same for calls.
    pub(super) boiler_starts: [u8; 6],
}

/// The longest time for which each age matters, ticks.
struct Bounds {
    booted: u8,
    pump: u8,
    boiler: u8,
}

impl Bounds {
    fn of(world: &World, boot: u8) -> Self {
        let (t, boot) = (&world.times, &world.boots[usize::from(boot)]);
        Self {
            booted: boot.pump.max(boot.frost).max(boot.boiler),
            pump: t.pump_run.max(t.pump_rest).max(t.frost_rest),
            boiler: t.boiler_run.max(t.boiler_rest),
        }
    }
}

/// The youngest `cap` of some ages, youngest first; the rest as an hour old.
fn youngest<const N: usize>(ages: impl Iterator<Item = u8>, cap: u8, hour: u8) -> [u8; N] {
    let mut kept = [hour; N];
    for age in ages {
        if age < kept[N - 1] {
            kept[N - 1] = age;
            kept.sort_unstable();
        }
    }
    kept[usize::from(cap).min(N)..].fill(hour);
    kept
}

impl Past {
    /// At a boot.
    pub(super) fn born(world: &World, boot: usize) -> Self {
        let hour = world.times.hour;
        Self {
            boot: u8::try_from(boot).expect("few"),
            booted: 0,
            pump: false,
            pump_for: 0,
            boiler: false,
            boiler_for: 0,
            called: false,
            overrun: 0,
            pump_starts: [hour; 4],
            boiler_starts: [hour; 6],
        }
    }

    /// What a guard remembers.
    pub(super) fn of(guard: &Guard, world: &World, boot: usize) -> Self {
        let boot = u8::try_from(boot).expect("few");
        let bounds = Bounds::of(world, boot);
        let hour = world.times.hour;
        let tick = world.tick.as_millis();
        // Whole ticks go by; anything else is not what is remembered.
        let ticks = |time: Duration| u8::try_from(time.as_millis() / tick).unwrap_or(u8::MAX);
        let age = |since, bound: u8| ticks(NOW.since(since)).min(bound);
        let started = |leaves: &Instant| hour.saturating_sub(ticks(leaves.since(NOW)));
        let s = &world.settings;
        let called = guard.boiler_since != guard.boot;
        Self {
            boot,
            booted: age(guard.boot, bounds.booted),
            pump: guard.pump,
            pump_for: age(guard.pump_since, bounds.pump),
            boiler: guard.boiler,
            boiler_for: if called {
                age(guard.boiler_since, bounds.boiler)
            } else {
                0
            },
            called,
            overrun: ticks(guard.overrun_until.since(NOW)),
            pump_starts: youngest(
                guard.pump_starts.leaves.iter().map(started),
                s.pump_starts,
                hour,
            ),
            boiler_starts: youngest(
                guard.boiler_starts.leaves.iter().map(started),
                s.boiler_starts(),
                hour,
            ),
        }
    }

    /// A guard with this past.
    pub(super) fn guard(&self, world: &World, crowded: Crowded) -> Guard {
        let ago = |ticks: u8| NOW - world.tick.times(u32::from(ticks));
        let hour = world.times.hour;
        let leaves = |age: u8| {
            if age < hour {
                ago(age) + HOUR
            } else {
                Instant::from_millis(0)
            }
        };
        let delays = world.delays[usize::from(self.boot)];
        // A call comes after the boot, which may be further back than its age is counted.
        let booted = if self.called {
            self.booted.max(self.boiler_for + 1)
        } else {
            self.booted
        };
        let mut guard = Guard::new(ago(booted), delays, false);
        guard.pump = self.pump;
        guard.pump_since = ago(self.pump_for);
        guard.boiler = self.boiler;
        guard.boiler_since = if self.called {
            ago(self.boiler_for)
        } else {
            guard.boot
        };
        guard.overrun_until = NOW + world.tick.times(u32::from(self.overrun));
        for (place, age) in guard.pump_starts.leaves.iter_mut().zip(self.pump_starts) {
            *place = leaves(age);
        }
        for (place, age) in guard
            .boiler_starts
            .leaves
            .iter_mut()
            .zip(self.boiler_starts)
        {
            *place = leaves(age);
        }
        if crowded.pump {
            guard.pump_starts.leaves = [NOW + HOUR; 8];
        }
        if crowded.boiler {
            guard.boiler_starts.leaves = [NOW + HOUR; 6];
        }
        guard
    }

    /// What an observer remembers of an answer to a request.
    pub(super) fn after(&self, world: &World, request: Request, status: &GuardStatus) -> Self {
        let mut after = *self;
        let s = &world.settings;
        let hour = world.times.hour;
        if self.boiler && !status.boiler && request.heat_proven {
            after.overrun = world.times.overrun;
        }
        if self.pump != status.pump {
            after.pump = status.pump;
            after.pump_for = 0;
            if status.pump {
                let started = self.pump_starts.into_iter().chain([0]);
                after.pump_starts = youngest(started, s.pump_starts, hour);
            } else {
                after.overrun = 0;
            }
        }
        if self.boiler != status.boiler {
            after.boiler = status.boiler;
            after.boiler_for = 0;
            after.called = true;
            if status.boiler {
                let started = self.boiler_starts.into_iter().chain([0]);
                after.boiler_starts = youngest(started, s.boiler_starts(), hour);
            }
        }
        after
    }

    /// The same with nothing asked for a tick.
    pub(super) fn a_tick_later(&self, world: &World) -> Self {
        let (bounds, hour) = (Bounds::of(world, self.boot), world.times.hour);
        let later = |age: u8, bound: u8| age.saturating_add(1).min(bound);
        Self {
            booted: later(self.booted, bounds.booted),
            pump_for: later(self.pump_for, bounds.pump),
            boiler_for: if self.called {
                later(self.boiler_for, bounds.boiler)
            } else {
                0
            },
            overrun: self.overrun.saturating_sub(1),
            pump_starts: self.pump_starts.map(|age| later(age, hour)),
            boiler_starts: self.boiler_starts.map(|age| later(age, hour)),
            ..*self
        }
    }
}
