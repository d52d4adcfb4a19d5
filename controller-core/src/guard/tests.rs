//! The guard against a naive model: a list of everything that ever happened, searched from scratch
//! at every step.

use std::vec::Vec;

use proptest::prelude::*;
use proptest::test_runner::RngSeed;

use super::*;
use crate::settings::{BoilerKind, RawSettings};

// --- The naive model ---------------------------------------------------------------------------

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum What {
    Boot {
        called: bool,
    },
    PumpOn,
    PumpOff,
    BoilerOn,
    /// With the overrun it owes.
    BoilerOff {
        proven: bool,
    },
}

/// Everything that happened, with its time in milliseconds.
#[derive(Debug)]
struct History {
    past: Vec<(u64, What)>,
    delays: BootDelays,
}

const fn ms(time: Duration) -> u64 {
    time.as_millis() as u64
}

impl History {
    /// Since the last boot: what went before is forgotten with the power.
    fn lately(&self) -> &[(u64, What)] {
        let boot = self
            .past
            .iter()
            .rposition(|(_, what)| matches!(what, What::Boot { .. }))
            .expect("booted");
        &self.past[boot..]
    }

    fn last(&self, pick: impl Fn(What) -> bool) -> Option<u64> {
        let found = self.lately().iter().rev().find(|(_, what)| pick(*what));
        found.map(|(at, _)| *at)
    }

    fn boot(&self) -> u64 {
        self.lately()[0].0
    }

    fn pump(&self) -> bool {
        let changes = |w| matches!(w, What::PumpOn | What::PumpOff);
        self.latest(changes) == Some(What::PumpOn)
    }

    fn boiler(&self) -> bool {
        let changes = |w| matches!(w, What::BoilerOn | What::BoilerOff { .. });
        self.latest(changes) == Some(What::BoilerOn)
    }

    fn latest(&self, pick: impl Fn(What) -> bool) -> Option<What> {
        let found = self.lately().iter().rev().find(|(_, what)| pick(*what));
        found.map(|(_, what)| *what)
    }

    /// When the circulator last changed, or the boot.
    fn pump_changed(&self) -> u64 {
        self.last(|w| matches!(w, What::PumpOn | What::PumpOff))
            .unwrap_or(self.boot())
    }

    fn boiler_changed(&self) -> u64 {
        self.last(|w| matches!(w, What::BoilerOn | What::BoilerOff { .. }))
            .unwrap_or(self.boot())
    }

    /// Time since the last call; never is very long.
    fn off_for(&self, now: u64) -> Duration {
        let called = matches!(self.lately()[0].1, What::Boot { called: true });
        if self.boiler() {
            Duration::ZERO
        } else if called || self.last(|w| w == What::BoilerOn).is_some() {
            Instant::from_millis(now).since(Instant::from_millis(self.boiler_changed()))
        } else {
            Duration::MAX
        }
    }

    fn starts_within_an_hour(&self, now: u64, start: What) -> usize {
        let recent = |(at, what): &&(u64, What)| *what == start && now - at < 3_600_000;
        self.lately().iter().filter(recent).count()
    }

    /// Until when heat must be carried off.
    fn overrun_until(&self, settings: &Settings) -> u64 {
        let proven = |w| w == What::BoilerOff { proven: true };
        match self.last(proven) {
            Some(at) if at >= self.pump_changed() => at + ms(settings.post_run),
            _ => 0,
        }
    }

    /// What the bits must be now, by the rules in plain words.
    fn expected(&self, now: u64, request: Request, settings: &Settings) -> (bool, bool) {
        let rested = now - self.pump_changed();
        let frost_rest = ms(settings.frost_min_off).max(10_000);
        let may_start = match request.pump {
            PumpRequest::Run(Urgency::Frost) => {
                rested >= frost_rest && now - self.boot() >= ms(self.delays.frost)
            }
            PumpRequest::Run(Urgency::Normal) => {
                rested >= ms(settings.pump_min_off)
                    && now - self.boot() >= ms(self.delays.pump)
                    && self.starts_within_an_hour(now, What::PumpOn)
                        < usize::from(settings.pump_starts)
            }
            PumpRequest::Rest(_) => false,
        };
        let call_rested = now - self.boiler_changed();
        let ever = self.last(|w| w == What::BoilerOn).is_some();
        let may_call = self.pump()
            && now - self.boot() >= ms(self.delays.boiler)
            && (!ever || call_rested >= ms(settings.boiler_min_off()))
            && self.starts_within_an_hour(now, What::BoilerOn)
                < usize::from(settings.boiler_starts());
        let run = matches!(request.pump, PumpRequest::Run(_));
        let boiler = match request.boiler {
            BoilerRequest::Call if run => self.boiler() || may_call,
            BoilerRequest::Call | BoilerRequest::Release => {
                self.boiler() && call_rested < ms(settings.boiler_min_on())
            }
            BoilerRequest::Drop => false,
        };
        let overrun =
            now < self.overrun_until(settings) || (self.boiler() && !boiler && request.heat_proven);
        let pump = match (self.pump(), request.pump) {
            (_, PumpRequest::Rest(Stop::AtOnce)) => false,
            (false, _) => may_start,
            (true, PumpRequest::Run(_)) => true,
            (true, PumpRequest::Rest(Stop::Early)) => boiler || overrun || rested < 10_000,
            (true, PumpRequest::Rest(Stop::AfterMinimum)) => {
                boiler || overrun || rested < ms(settings.pump_min_on)
            }
        };
        (pump, boiler && pump)
    }

    fn record(&mut self, now: u64, pump: bool, boiler: bool, proven: bool) {
        let (pump_was, boiler_was) = (self.pump(), self.boiler());
        if boiler_was && !boiler {
            self.past.push((now, What::BoilerOff { proven }));
        }
        match (pump_was, pump) {
            (false, true) => self.past.push((now, What::PumpOn)),
            (true, false) => self.past.push((now, What::PumpOff)),
            _ => {}
        }
        if !boiler_was && boiler {
            self.past.push((now, What::BoilerOn));
        }
    }
}

// --- Random lives ------------------------------------------------------------------------------

#[derive(Clone, Copy, Debug)]
enum Act {
    /// The same request, so many times, so many milliseconds apart.
    Ask(Request, u8, u32),
    Reboot {
        called: bool,
    },
    /// Step exactly to where the guard says a hold ends.
    WaitForHold(Request),
}

fn request() -> impl Strategy<Value = Request> {
    let pump = prop_oneof![
        3 => Just(PumpRequest::Run(Urgency::Normal)),
        3 => Just(PumpRequest::Run(Urgency::Frost)),
        3 => Just(PumpRequest::Rest(Stop::AfterMinimum)),
        1 => Just(PumpRequest::Rest(Stop::Early)),
        1 => Just(PumpRequest::Rest(Stop::AtOnce)),
    ];
    let boiler = prop_oneof![
        3 => Just(BoilerRequest::Call),
        2 => Just(BoilerRequest::Release),
        1 => Just(BoilerRequest::Drop),
    ];
    (pump, boiler, any::<bool>()).prop_map(|(pump, boiler, heat_proven)| Request {
        pump,
        boiler,
        heat_proven,
    })
}

fn act() -> impl Strategy<Value = Act> {
    let apart = prop_oneof![
        Just(0),
        Just(1),
        Just(1_000),
        Just(10_000),
        Just(60_000),
        Just(180_000),
        0_u32..3_600_000,
    ];
    prop_oneof![
        8 => (request(), 1_u8..20, apart).prop_map(|(r, n, dt)| Act::Ask(r, n, dt)),
        4 => request().prop_map(Act::WaitForHold),
        1 => any::<bool>().prop_map(|called| Act::Reboot { called }),
    ]
}

fn checked(raw: RawSettings) -> Settings {
    Settings::check(raw).expect("valid")
}

fn settings() -> impl Strategy<Value = Settings> {
    let kind = prop_oneof![Just(BoilerKind::Firing), Just(BoilerKind::Injection)];
    (
        kind,
        8_u32..=60,
        3_u32..=30,
        30_u32..=180,
        2_u8..=8,
        2_u32..=15,
    )
        .prop_map(|(boiler, min_on, min_off, frost_s, starts, post_run)| {
            checked(RawSettings {
                boiler,
                settling_time: Duration::from_mins(3),
                transit: Duration::from_secs(90),
                pump_min_on: Duration::from_mins(min_on),
                pump_min_off: Duration::from_mins(min_off),
                frost_min_off: Duration::from_secs(frost_s),
                pump_starts: starts,
                post_run: Duration::from_mins(post_run),
                ..RawSettings::DEFAULT
            })
        })
}

fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        rng_seed: RngSeed::Fixed(0x6A17),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

const DELAYS: BootDelays = BootDelays {
    pump: Duration::from_mins(10),
    frost: Duration::from_secs(60),
    boiler: Duration::from_mins(30),
};

/// The guard and its history, stepped together.
struct Life {
    guard: Guard,
    history: History,
    now: u64,
}

impl Life {
    fn boot(now: u64, called: bool) -> Self {
        Self {
            guard: Guard::new(Instant::from_millis(now), DELAYS, called),
            history: History {
                past: std::vec![(now, What::Boot { called })],
                delays: DELAYS,
            },
            now,
        }
    }

    fn reboot(&mut self, called: bool) {
        self.guard = Guard::new(Instant::from_millis(self.now), DELAYS, called);
        self.history.past.push((self.now, What::Boot { called }));
    }

    fn ask(&mut self, request: Request, settings: &Settings) -> GuardStatus {
        let now = Instant::from_millis(self.now);
        let expected = self.history.expected(self.now, request, settings);
        let status = self.guard.apply(now, request, settings);
        let before = (self.history.pump(), self.history.boiler());
        assert_eq!((status.pump, status.boiler), expected, "{request:?}");
        assert!(status.pump || !status.boiler, "a call without circulation");
        assert!(
            !status.boiler || before.0,
            "a call in the step in which the circulator starts"
        );
        self.history
            .record(self.now, status.pump, status.boiler, request.heat_proven);
        assert_eq!(
            ms(status.pump_for),
            (self.now - self.history.pump_changed()).min(u64::from(u32::MAX))
        );
        assert_eq!(
            usize::from(status.starts_last_hour),
            self.history
                .starts_within_an_hour(self.now, What::PumpOn)
                .min(8)
        );
        let asked = matches!(request.pump, PumpRequest::Run(_));
        assert_eq!(
            status.pump_hold.is_some(),
            status.pump != asked,
            "a hold is named exactly when the circulator is not as asked"
        );
        let called = asked && request.boiler == BoilerRequest::Call;
        assert!(
            status.boiler_hold.is_some() == (status.boiler != called)
                || request.pump == PumpRequest::Rest(Stop::AtOnce),
            "a hold is named exactly when the call is not as asked: {status:?}"
        );
        assert_eq!(status.boiler_off_for, self.history.off_for(self.now));
        self.check_hold(request, &status, settings);
        status
    }

    /// Nothing changes before the time the guard gives, and something does at it.
    fn check_hold(&self, request: Request, status: &GuardStatus, settings: &Settings) {
        let Some(free) = status.free_at else { return };
        assert!(free > Instant::from_millis(self.now));
        let just_before = Instant::from_millis(free.as_millis() - 1);
        let seen = |at| self.guard.clone().apply(at, request, settings);
        let bits = |s: &GuardStatus| (s.pump, s.boiler);
        let all = |s: &GuardStatus| (s.pump, s.boiler, s.pump_hold, s.boiler_hold);
        assert_eq!(bits(&seen(just_before)), bits(status), "{request:?}");
        assert_ne!(all(&seen(free)), all(status), "{request:?} until {free:?}");
    }
}

proptest! {
    #![proptest_config(config(400))]

    /// Whatever is asked, at whatever pace and with power cuts anywhere, the bits are what the
    /// list of past transitions allows, no more and no less.
    #[test]
    fn the_bits_are_what_the_past_allows(
        settings in settings(),
        acts in prop::collection::vec(act(), 1..60),
        start in prop_oneof![Just(0), Just(u64::from(u32::MAX) - 30_000), 0_u64..1 << 40],
    ) {
        let mut life = Life::boot(start, false);
        for act in acts {
            match act {
                Act::Ask(request, times, apart) => {
                    for _ in 0..times {
                        life.now += u64::from(apart);
                        life.ask(request, &settings);
                    }
                }
                Act::WaitForHold(request) => {
                    let status = life.ask(request, &settings);
                    if let Some(free) = status.free_at {
                        life.now = free.as_millis();
                        life.ask(request, &settings);
                    }
                }
                Act::Reboot { called } => life.reboot(called),
            }
        }
    }

    /// Frost is served within its rest and boot delay, whatever went before, for as long as it asks.
    #[test]
    fn frost_always_gets_the_circulator_soon(
        settings in settings(),
        acts in prop::collection::vec((request(), 1_u8..20, 0_u32..600_000), 0..30),
    ) {
        let mut life = Life::boot(0, false);
        for (request, times, apart) in acts {
            for _ in 0..times {
                life.now += u64::from(apart);
                life.ask(request, &settings);
            }
        }
        let asked = life.now;
        let frost = Request { pump: PumpRequest::Run(Urgency::Frost), ..Request::IDLE };
        while !life.ask(frost, &settings).pump {
            life.now += 1_000;
            let waited = life.now - asked;
            let longest = ms(DELAYS.frost).max(ms(settings.frost_min_off)) + 1_000;
            prop_assert!(waited <= longest, "waited {waited} ms");
        }
    }

    /// Every hold ends: a wish kept up is granted within its bound.
    #[test]
    fn every_wish_kept_up_is_granted(
        settings in settings(),
        acts in prop::collection::vec((request(), 1_u8..20, 0_u32..600_000), 0..30),
        wish in request(),
    ) {
        let mut life = Life::boot(0, false);
        for (request, times, apart) in acts {
            for _ in 0..times {
                life.now += u64::from(apart);
                life.ask(request, &settings);
            }
        }
        let pump = matches!(wish.pump, PumpRequest::Run(_));
        // A call without circulation cannot be granted, a release keeps what serves its time.
        let boiler = pump && wish.boiler == BoilerRequest::Call;
        let asked = life.now;
        loop {
            let status = life.ask(wish, &settings);
            if status.pump == pump && (status.boiler == boiler || status.pump_hold.is_none() && !pump) {
                break;
            }
            life.now += 10_000;
            prop_assert!(life.now - asked <= 2 * 3_600_000, "{wish:?} not granted: {status:?}");
        }
    }
}

// --- Timelines ---------------------------------------------------------------------------------

/// One guard, asked at growing times.
struct Timeline {
    guard: Guard,
    settings: Settings,
    now: Instant,
}

const RUN: PumpRequest = PumpRequest::Run(Urgency::Normal);
const FROST: PumpRequest = PumpRequest::Run(Urgency::Frost);
const REST: PumpRequest = PumpRequest::Rest(Stop::AfterMinimum);

impl Timeline {
    fn new(kind: BoilerKind) -> Self {
        let settings = checked(RawSettings {
            boiler: kind,
            ..RawSettings::DEFAULT
        });
        let now = Instant::from_millis(0);
        Self {
            guard: Guard::new(now, DELAYS, false),
            settings,
            now,
        }
    }

    #[track_caller]
    fn at(&mut self, secs: u32, pump: PumpRequest, boiler: BoilerRequest) -> GuardStatus {
        let now = Instant::from_millis(0) + Duration::from_secs(secs);
        assert!(now > self.now, "time must grow");
        self.now = now;
        let request = Request {
            pump,
            boiler,
            heat_proven: true,
        };
        self.guard.apply(now, request, &self.settings)
    }
}

#[test]
fn a_start_waits_for_boot_then_runs_its_shortest_time() {
    let mut t = Timeline::new(BoilerKind::Firing);
    let none = BoilerRequest::Release;
    assert_eq!(t.at(1, RUN, none).pump_hold, Some(Hold::Boot));
    assert_eq!(t.at(599, RUN, none).pump_hold, Some(Hold::Boot));
    assert!(t.at(600, RUN, none).pump);
    let held = t.at(610, REST, none);
    assert_eq!((held.pump, held.pump_hold), (true, Some(Hold::PumpRun)));
    assert_eq!(held.free_at.map(Instant::as_millis), Some(1_500_000));
    assert!(t.at(1_499, REST, none).pump);
    assert!(!t.at(1_500, REST, none).pump);
    assert_eq!(t.at(1_510, RUN, none).pump_hold, Some(Hold::PumpRest));
    assert_eq!(t.at(1_559, FROST, none).pump_hold, Some(Hold::PumpRest));
    assert!(t.at(1_560, FROST, none).pump, "frost rests a minute only");
}

#[test]
fn the_start_cap_holds_economy_and_never_frost() {
    let mut t = Timeline::new(BoilerKind::Firing);
    let early = PumpRequest::Rest(Stop::Early);
    for n in 0..4 {
        assert!(t.at(600 + n * 780, RUN, BoilerRequest::Release).pump);
        assert!(!t.at(630 + n * 780, early, BoilerRequest::Release).pump);
    }
    // Rested 10 min at 3 570 s, but the fifth start waits until the first is an hour old.
    let held = t.at(3_600, RUN, BoilerRequest::Release);
    assert_eq!(held.pump_hold, Some(Hold::PumpStarts));
    assert_eq!(held.free_at.map(Instant::as_millis), Some(4_200_000));
    assert!(t.at(3_601, FROST, BoilerRequest::Release).pump);
}

/// Frost starts beyond the number count: economy waits until few enough of them are left.
#[test]
fn economy_waits_until_enough_of_frosts_starts_are_an_hour_old() {
    let mut t = Timeline::new(BoilerKind::Firing);
    let early = PumpRequest::Rest(Stop::Early);
    for n in 0..6 {
        assert!(t.at(600 + n * 120, FROST, BoilerRequest::Release).pump);
        assert!(!t.at(620 + n * 120, early, BoilerRequest::Release).pump);
    }
    // Six starts in the hour, four allowed: the third to leave it makes room.
    let held = t.at(2_400, RUN, BoilerRequest::Release);
    assert_eq!(held.pump_hold, Some(Hold::PumpStarts));
    assert_eq!(held.free_at.map(Instant::as_millis), Some(4_440_000));
    assert!(!t.at(4_439, RUN, BoilerRequest::Release).pump);
    assert!(t.at(4_440, RUN, BoilerRequest::Release).pump);
}

#[test]
fn a_call_waits_for_circulation_and_leaves_an_overrun() {
    let mut t = Timeline::new(BoilerKind::Injection);
    let call = BoilerRequest::Call;
    assert_eq!(t.at(1, RUN, call).boiler_hold, Some(Hold::NoCirculation));
    assert_eq!(t.at(2, REST, call).boiler_hold, None, "contradicts itself");
    let start = t.at(1_800, RUN, call);
    assert!(
        start.pump && !start.boiler,
        "never in the step of the start"
    );
    assert!(t.at(1_801, RUN, call).boiler);
    assert_eq!(t.at(1_802, RUN, call).boiler_hold, None, "as asked");
    let held = t.at(1_810, REST, BoilerRequest::Release);
    assert_eq!(held.boiler_hold, Some(Hold::BoilerRun));
    assert_eq!(held.pump_hold, Some(Hold::BoilerRun));
    let ended = t.at(1_981, REST, BoilerRequest::Release);
    assert!(!ended.boiler && ended.pump);
    assert_eq!(ended.pump_hold, Some(Hold::Overrun));
    assert_eq!(ended.free_at.map(Instant::as_millis), Some(2_281_000));
    assert!(
        t.at(2_280, PumpRequest::Rest(Stop::Early), call).pump,
        "overrun"
    );
    // Five minutes after the call, the shortest run still stands.
    assert_eq!(
        t.at(2_281, REST, BoilerRequest::Drop).pump_hold,
        Some(Hold::PumpRun)
    );
    assert!(!t.at(2_700, REST, BoilerRequest::Drop).pump);
}

#[test]
fn overheating_stops_both_at_once() {
    let mut t = Timeline::new(BoilerKind::Firing);
    t.at(1_800, RUN, BoilerRequest::Call);
    assert!(t.at(1_801, RUN, BoilerRequest::Call).boiler);
    let stopped = t.at(1_802, PumpRequest::Rest(Stop::AtOnce), BoilerRequest::Call);
    assert!(!stopped.pump && !stopped.boiler);
    assert!(t.at(1_863, FROST, BoilerRequest::Call).pump);
    let waits = t.at(1_864, FROST, BoilerRequest::Call);
    assert_eq!(
        waits.boiler_hold,
        Some(Hold::BoilerRest),
        "no exemption for a fire"
    );
    assert!(!t.at(3_601, FROST, BoilerRequest::Call).boiler);
    assert!(t.at(3_602, FROST, BoilerRequest::Call).boiler);
}

#[test]
fn a_fire_is_called_twice_an_hour_at_most() {
    let mut raw = RawSettings::DEFAULT;
    raw.firing_min_on = Duration::from_mins(15);
    raw.firing_min_off = Duration::from_mins(15);
    let mut t = Timeline::new(BoilerKind::Firing);
    t.settings = checked(raw);
    t.at(1_800, RUN, BoilerRequest::Call);
    for secs in [1_801, 1_801 + 930] {
        assert!(t.at(secs, RUN, BoilerRequest::Call).boiler);
        assert!(!t.at(secs + 10, RUN, BoilerRequest::Drop).boiler);
    }
    let held = t.at(4_000, RUN, BoilerRequest::Call);
    assert_eq!(held.boiler_hold, Some(Hold::BoilerStarts));
    assert!(!t.at(5_400, RUN, BoilerRequest::Call).boiler);
    assert!(t.at(5_401, RUN, BoilerRequest::Call).boiler);
}

#[test]
fn a_call_before_the_power_cut_is_remembered_as_heat() {
    let now = Instant::from_millis(5);
    assert_eq!(
        Guard::new(now, DELAYS, true).status(now).boiler_off_for,
        Duration::ZERO
    );
    assert_eq!(
        Guard::new(now, DELAYS, false).status(now).boiler_off_for,
        Duration::MAX
    );
}
