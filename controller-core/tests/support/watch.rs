//! What must hold on every row, whatever the readings, commands and settings.

use controller_core::alarm::Alarm;
use controller_core::reason::Reason;
use controller_core::sensor::{Sensor, Trust};
use controller_core::settings::{BoilerKind, Mode, Settings};
use controller_core::time::{Duration, Instant};
use controller_core::units::{Celsius, Kelvin};
use controller_core::{
    BoilerState, Command, Event, Flow, FlowProof, FrostKind, SlabFrom, StepReport, WoodRequest,
};

#[path = "watch/boiler.rs"]
mod boiler;

/// The past, as far as the rules need it.
#[derive(Clone, Debug)]
pub struct Watch {
    last: Option<StepReport>,
    boot: Instant,
    /// A boot whose first row is still to come.
    booted: Option<Instant>,
    /// The exercise that is on, and the look that is on, in steps of at most a cycle.
    exercised_for: Duration,
    looked_for: Duration,
    /// A sensor has been read again for so long, in steps of at most a cycle.
    read_for: [Duration; 4],
    pump_changed: Instant,
    boiler_changed: Instant,
    water_colder: Option<Instant>,
    unstable_power: bool,
    pump_starts: Vec<Instant>,
    boiler_starts: Vec<Instant>,
    /// Everything that asked for the run that is on: its reason, and whether it allows the run to be short.
    run_reasons: Vec<(Reason, bool)>,
    /// The circulator stands for overheated water.
    overheated: bool,
    /// Until when the circulator carries off boiler heat.
    overrun_until: Option<Instant>,
    /// Frost asks and the circulator still rests, since.
    frost_waits: Option<Instant>,
    /// The last call that showed no heat, unless a person has said to try again.
    failed: Option<(Instant, Duration)>,
    /// How long each reason stood.
    pub reason_time: Vec<(Reason, u64)>,
    pub steps: u64,
    pub starts: u32,
    pub calls: u32,
    pub pump_time: u64,
    pub call_time: u64,
    /// Settings change minimum times under way: the strict ones are checked again after a while.
    settings_changed: Option<Instant>,
}

/// Reasons for which the circulator may start after the short rest.
const URGENT: [Reason; 3] = [Reason::Frost, Reason::Backup, Reason::PostRun];
/// Runs that may be shorter than the shortest run; one against frost only if it is a look.
const SHORT: [Reason; 4] = [
    Reason::Manual,
    Reason::Exercise,
    Reason::PostRun,
    Reason::MinimumTime,
];
/// Reasons that end any run early; frost by a pause, when no water moves.
const STOPPERS: [Reason; 4] = [
    Reason::Drained,
    Reason::Overheat,
    Reason::Manual,
    Reason::Frost,
];
/// Reasons that explain a standing circulator, and those that explain a running one.
const RESTING: [Reason; 5] = [
    Reason::Boot,
    Reason::Drained,
    Reason::Overheat,
    Reason::NotWorthwhile,
    Reason::WarmEnough,
];
const RUNNING: [Reason; 4] = [
    Reason::Backup,
    Reason::StoreHeat,
    Reason::PostRun,
    Reason::Exercise,
];
/// An alarm stays at most this long once its condition has ended.
const HELD: Duration = Duration::from_mins(20);
/// Length of an exercise.
const EXERCISE: Duration = Duration::from_mins(2);
/// A limit that halves a call ends it after this.
const HALF: Duration = Duration::from_mins(30);
/// The water speaks for the slab for so long.
const WATER_VOID: Duration = Duration::from_mins(150);

impl Watch {
    pub fn boot(now: Instant) -> Self {
        Self {
            last: None,
            boot: now,
            booted: Some(now),
            exercised_for: Duration::ZERO,
            looked_for: Duration::ZERO,
            read_for: [Duration::MAX; 4],
            pump_changed: now,
            boiler_changed: now,
            water_colder: None,
            unstable_power: false,
            pump_starts: Vec::new(),
            boiler_starts: Vec::new(),
            run_reasons: Vec::new(),
            overheated: false,
            overrun_until: None,
            frost_waits: None,
            failed: None,
            reason_time: Vec::new(),
            steps: 0,
            starts: 0,
            calls: 0,
            pump_time: 0,
            call_time: 0,
            settings_changed: None,
        }
    }

    /// The controller was booted at `now`; its first row follows.
    pub fn reboot(&mut self, now: Instant) {
        self.booted = Some(now);
    }

    #[track_caller]
    pub fn row(&mut self, report: &StepReport, settings: &Settings) {
        let row = &report.row;
        let now = row.now;
        if let Event::Boot(restart) = row.event {
            let counts = (self.starts, self.calls, self.pump_time, self.call_time);
            let (times, steps) = (std::mem::take(&mut self.reason_time), self.steps);
            *self = Self::boot(self.booted.unwrap_or(now));
            self.booted = None;
            (self.starts, self.calls, self.pump_time, self.call_time) = counts;
            (self.reason_time, self.steps) = (times, steps);
            self.unstable_power = restart.is_unstable();
        }
        if matches!(row.event, Event::Settings | Event::Command(_)) {
            self.settings_changed = Some(now);
        }
        self.count(report, now);
        self.outputs(report, settings);
        self.told(report, settings);
        self.circulator(report, settings);
        self.boiler(report, settings);
        Self::reason(report, settings);
        self.lengths(report, settings);
        self.estimates(report);
        self.frost(report, settings);
        self.last = Some(report.clone());
    }

    fn count(&mut self, report: &StepReport, now: Instant) {
        self.steps += 1;
        let Some(last) = &self.last else { return };
        let time = u64::from(now.since(last.row.now).as_millis());
        if last.outputs.circulator {
            self.pump_time += time;
        }
        if last.outputs.boiler_call {
            self.call_time += time;
        }
        match self
            .reason_time
            .iter_mut()
            .find(|(r, _)| *r == last.row.reason)
        {
            Some((_, sum)) => *sum += time,
            None => self.reason_time.push((last.row.reason, time)),
        }
        assert!(report.row.now > last.row.now, "one row an instant");
    }

    /// Were the settings the same for long enough that minimum times are judged by them?
    fn unchanged(&self, now: Instant) -> bool {
        self.settings_changed
            .is_none_or(|at| now.since(at) > Duration::from_hours(2))
    }

    fn outputs(&self, report: &StepReport, settings: &Settings) {
        let (row, out) = (&report.row, report.outputs);
        assert_eq!(row.outputs, out);
        assert!(report.next > row.now, "the next step is later");
        assert!(
            report.next.since(row.now) <= settings.sensor_cycle,
            "and within a cycle"
        );
        assert!(
            out.circulator || !out.boiler_call,
            "a call without circulation"
        );
        if settings.mode == Mode::Drained {
            assert!(
                !out.circulator && !out.boiler_call,
                "an empty circuit is left alone"
            );
        }
        if settings.boiler == BoilerKind::None {
            assert!(!out.boiler_call, "no boiler, no call");
        }
    }

    /// A lost sensor rings as long as it is lost, and not for ever afterwards.
    fn told(&mut self, report: &StepReport, settings: &Settings) {
        let row = &report.row;
        let step = self.step(row.now, settings);
        let unchanged = self.unchanged(row.now);
        let alarms = [
            (Sensor::Supply, Alarm::SupplyLost),
            (Sensor::Return, Alarm::ReturnLost),
            (Sensor::Slab, Alarm::SlabLost),
            (Sensor::Outdoor, Alarm::OutdoorLost),
        ];
        for ((sensor, alarm), read_for) in alarms.into_iter().zip(&mut self.read_for) {
            let told = row.alarms.has(alarm);
            if row.readings.get(sensor).is_lost() {
                assert!(told && report.outputs.alarm, "a lost sensor rings");
                *read_for = Duration::ZERO;
            } else {
                *read_for = *read_for + step;
                let most = HELD + settings.sensor_cycle.times(2);
                assert!(
                    !told || *read_for <= most || !unchanged,
                    "{alarm:?} {read_for:?} after the sensor is read again"
                );
            }
        }
        assert_eq!(row.alarms.rings(), report.outputs.alarm);
        if row
            .readings
            .slab
            .value
            .is_some_and(|t| t <= Celsius::from_milli(500))
            && settings.mode != Mode::Drained
        {
            assert!(
                row.alarms.has(Alarm::SlabCold),
                "a slab near freezing rings"
            );
        }
    }

    /// Time since the last row, at most a cycle of it: a late step is one step.
    fn step(&self, now: Instant, settings: &Settings) -> Duration {
        let last = self.last.as_ref().map_or(now, |last| last.row.now);
        now.since(last).min(settings.sensor_cycle)
    }

    fn was(&self) -> (bool, bool) {
        self.last.as_ref().map_or((false, false), |r| {
            (r.outputs.circulator, r.outputs.boiler_call)
        })
    }

    fn circulator(&mut self, report: &StepReport, settings: &Settings) {
        let (row, on) = (&report.row, report.outputs.circulator);
        let was = self.was().0;
        let now = row.now;
        let stood = now.since(self.pump_changed);
        let look = row.summary.frost == Some(FrostKind::Look);
        let short = SHORT.contains(&row.reason) || row.reason == Reason::Frost && look;
        if was {
            self.run_reasons.push((row.reason, short));
        }
        if on == was {
            return;
        }
        if on {
            let after_boot = now.since(self.boot);
            assert!(
                after_boot >= Duration::from_secs(60),
                "started {after_boot:?} after a boot"
            );
            let urgent = URGENT.contains(&row.reason);
            assert!(
                !self.overheated || stood >= Duration::from_mins(15),
                "started {stood:?} after overheating"
            );
            self.overheated = false;
            assert!(
                row.reason != Reason::Exercise
                    || !self.unchanged(now)
                    || stood >= settings.exercise_interval,
                "exercised after {stood:?}"
            );
            if self.unchanged(now) {
                let rest = if urgent {
                    settings.frost_min_off.max(Duration::from_secs(10))
                } else {
                    settings.pump_min_off
                };
                assert!(
                    stood >= rest,
                    "rested {stood:?} of {rest:?} for {:?}",
                    row.reason
                );
                let recent = |at: &&Instant| now.since(**at) < Duration::from_hours(1);
                let starts = self.pump_starts.iter().filter(recent).count();
                assert!(
                    urgent || starts < usize::from(settings.pump_starts),
                    "a start too many for {:?}",
                    row.reason
                );
            }
            self.pump_starts.push(now);
            self.starts += 1;
            self.run_reasons.clear();
            self.run_reasons.push((row.reason, short));
        } else {
            let at_once = [Reason::Overheat, Reason::Drained].contains(&row.reason);
            assert!(
                at_once || stood >= Duration::from_secs(10),
                "changed twice within ten seconds: {stood:?}"
            );
            let stopped = STOPPERS.contains(&row.reason);
            // Reasons up to the step before: the last one may already explain the rest.
            let count = self.run_reasons.len() - 1;
            let short = self.run_reasons.iter().take(count).all(|(_, short)| *short);
            assert!(
                stopped || short || !self.unchanged(now) || stood >= settings.pump_min_on,
                "ran {stood:?} only: {:?}, then {:?}",
                self.run_reasons.iter().find(|(_, short)| !short),
                row.reason
            );
            if let Some(until) = self.overrun_until {
                assert!(at_once || now >= until, "boiler heat left in the pipes");
            }
            self.overrun_until = None;
            self.overheated = row.reason == Reason::Overheat;
        }
        self.pump_changed = now;
    }

    fn reason(report: &StepReport, settings: &Settings) {
        let (row, out) = (&report.row, report.outputs);
        let reason = row.reason;
        if out.circulator {
            assert!(
                !RESTING.contains(&reason),
                "{reason:?} with the circulator on"
            );
        } else {
            assert!(
                !RUNNING.contains(&reason),
                "{reason:?} with the circulator off"
            );
        }
        if out.boiler_call {
            let calling = [Reason::Backup, Reason::Frost];
            assert!(
                calling.contains(&reason),
                "{reason:?} with the boiler called"
            );
        }
        if reason == Reason::StoreHeat {
            let half = settings.slab_band.half();
            let slab = row.estimate.slab;
            assert!(
                slab.is_none_or(|t| t < settings.slab_set + half),
                "harvested for a warm slab"
            );
            let moving = row.estimate.flow == Flow::Flowing;
            let difference = row.readings.supply.good().zip(slab).map(|(a, b)| a - b);
            assert!(
                !moving || difference.is_none_or(|k| k >= settings.stop_difference),
                "harvested {difference:?} from a cold store"
            );
        }
    }

    /// An exercise and a look are short.
    fn lengths(&mut self, report: &StepReport, settings: &Settings) {
        let row = &report.row;
        let step = self.step(row.now, settings);
        let unchanged = self.unchanged(row.now);
        let grown = |time: &mut Duration, on: bool| {
            *time = if on { *time + step } else { Duration::ZERO };
            *time
        };
        let slack = settings.sensor_cycle.times(2);
        let exercised = grown(&mut self.exercised_for, row.reason == Reason::Exercise);
        assert!(
            exercised <= EXERCISE + slack || !unchanged,
            "exercised for {exercised:?}"
        );
        // With the return read and water moving as far as anybody knows, a settling time is all it takes.
        let look = row.summary.frost == Some(FrostKind::Look)
            && report.outputs.circulator
            && row.readings.ret.trust == Trust::Good
            && row.pump_feedback.is_none()
            && row.shadow.is_none()
            && !matches!(row.estimate.flow_proof, FlowProof::Absent(_));
        let looked = grown(&mut self.looked_for, look);
        assert!(
            looked <= settings.settling_time + slack || !unchanged,
            "looked for {looked:?}"
        );
    }

    fn estimates(&self, report: &StepReport) {
        let row = &report.row;
        let now = &row.estimate;
        if now.flow != Flow::Flowing {
            assert_eq!(
                now.difference, None,
                "a difference before the settling time"
            );
            assert_eq!(now.heat, None, "heat before the settling time");
        }
        assert!(
            now.store.is_none_or(
                |t| t >= Celsius::from_milli(-1_000) && t <= Celsius::from_milli(20_000)
            ),
            "a store of {:?}",
            now.store
        );
        let sensor = row.readings.slab.cold_side();
        let coldest = match (sensor, now.water) {
            (Some(sensor), Some(water)) => Some(sensor.min(water)),
            (one, other) => one.or(other),
        };
        assert_eq!(now.slab, coldest, "the colder of slab and water counts");
        assert_eq!(now.slab_from == SlabFrom::Nothing, now.slab.is_none());
        assert_eq!(now.water.is_some(), now.water_age < WATER_VOID);
        assert!(
            now.flow == Flow::Flowing || now.water_age > Duration::ZERO,
            "water at rest spoke for the slab"
        );
        let Some(last) = &self.last else { return };
        let before = &last.row.estimate;
        if matches!(row.event, Event::Boot(_)) {
            return;
        }
        assert!(now.earth_wh >= before.earth_wh, "heat counters only grow");
        assert!(now.boiler_wh >= before.boiler_wh);
        let moved = |a: u32, b: u32| u8::from(a != b);
        let counters =
            moved(now.earth_wh, before.earth_wh) + moved(now.boiler_wh, before.boiler_wh);
        assert!(counters <= 1, "heat counted twice");
        let measured = now.store_age == Duration::ZERO;
        // The store is told as it was before the step.
        assert!(
            before.flow == Flow::Flowing || !measured,
            "a store temperature from water at rest"
        );
        // What was seen longer ago than the clock counts is not known any more.
        let forgotten = now.store_age == Duration::MAX && now.store.is_none();
        assert!(
            measured || now.store == before.store || forgotten,
            "the remembered store changed"
        );
        assert!(
            now.water_age == Duration::ZERO || now.water.is_none() || now.water == before.water,
            "the water's remembered word changed"
        );
    }

    fn frost(&mut self, report: &StepReport, settings: &Settings) {
        let row = &report.row;
        let cold = (row.estimate.slab).is_some_and(|t| t <= settings.frost_on);
        assert!(
            !cold || row.summary.frost == Some(FrostKind::Slab),
            "a cold slab asks for frost protection"
        );
        let unheard = [
            Reason::StoreHeat,
            Reason::Exercise,
            Reason::NotWorthwhile,
            Reason::WarmEnough,
        ];
        assert!(
            row.summary.frost.is_none() || !unheard.contains(&row.reason),
            "{:?} while frost asks",
            row.reason
        );
        let waits = row.summary.frost.is_some()
            && !report.outputs.circulator
            && row.reason == Reason::MinimumTime;
        self.frost_waits = match (waits, self.frost_waits) {
            (false, _) => None,
            (true, since) => since.or(Some(row.now)),
        };
        if let Some(since) = self.frost_waits {
            let most =
                settings.frost_min_off.max(Duration::from_secs(10)) + Duration::from_secs(10);
            let waited = row.now.since(since);
            assert!(waited <= most, "frost waited {waited:?}");
        }
    }
}
