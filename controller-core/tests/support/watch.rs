//! What must hold on every row, whatever the readings, commands and settings.

use controller_core::alarm::Alarm;
use controller_core::reason::Reason;
use controller_core::sensor::{Sensor, Trust};
use controller_core::settings::{BoilerKind, Mode, SUSPECT_MARGIN, Settings};
use controller_core::time::{Duration, Instant};
use controller_core::{BoilerState, Command, Event, Flow, FlowProof, StepReport};

/// The past, as far as the rules need it.
#[derive(Clone, Debug)]
pub struct Watch {
    last: Option<StepReport>,
    boot: Instant,
    /// A boot whose first row is still to come.
    booted: Option<Instant>,
    /// The reason that stands, since.
    reason: Option<(Reason, Instant)>,
    /// A harvest has been poor since.
    poor: Option<Instant>,
    pump_changed: Instant,
    boiler_changed: Instant,
    pump_starts: Vec<Instant>,
    boiler_starts: Vec<Instant>,
    /// Every reason given in the run that is on.
    run_reasons: Vec<Reason>,
    /// Until when the circulator carries off boiler heat.
    overrun_until: Option<Instant>,
    /// Frost asks and the circulator still rests, since.
    frost_waits: Option<Instant>,
    /// The last call that showed no heat, unless a person has said to try again.
    failed: Option<Instant>,
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
const URGENT: [Reason; 4] = [
    Reason::Frost,
    Reason::Overheat,
    Reason::FreezeHarm,
    Reason::PostRun,
];
/// Runs that may be shorter than the shortest run.
const SHORT: [Reason; 9] = [
    Reason::Frost,
    Reason::Overheat,
    Reason::FreezeHarm,
    Reason::Sampling,
    Reason::Banking,
    Reason::Manual,
    Reason::Exercise,
    Reason::PostRun,
    Reason::MinimumTime,
];
/// Reasons that end any run early.
const STOPPERS: [Reason; 5] = [
    Reason::Drained,
    Reason::Overheat,
    Reason::FreezeHarm,
    Reason::Manual,
    Reason::Frost,
];
/// Reasons that explain a standing circulator, and those that explain a running one.
const RESTING: [Reason; 5] = [
    Reason::Boot,
    Reason::Drained,
    Reason::StoreHold,
    Reason::NotWorthwhile,
    Reason::Satisfied,
];
const RUNNING: [Reason; 6] = [
    Reason::Backup,
    Reason::Harvest,
    Reason::Sampling,
    Reason::PostRun,
    Reason::Banking,
    Reason::Exercise,
];

impl Watch {
    pub fn boot(now: Instant) -> Self {
        Self {
            last: None,
            boot: now,
            booted: Some(now),
            reason: None,
            poor: None,
            pump_changed: now,
            boiler_changed: now,
            pump_starts: Vec::new(),
            boiler_starts: Vec::new(),
            run_reasons: Vec::new(),
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
        if matches!(row.event, Event::Boot(_)) {
            let counts = (self.starts, self.calls, self.pump_time, self.call_time);
            let (times, steps) = (std::mem::take(&mut self.reason_time), self.steps);
            *self = Self::boot(self.booted.unwrap_or(now));
            self.booted = None;
            (self.starts, self.calls, self.pump_time, self.call_time) = counts;
            (self.reason_time, self.steps) = (times, steps);
        }
        if matches!(row.event, Event::Settings | Event::Command(_)) {
            self.settings_changed = Some(now);
        }
        self.count(report, now);
        self.outputs(report, settings);
        self.circulator(report, settings);
        self.boiler(report, settings);
        self.reason(report);
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
        let alarms = [
            (Sensor::Supply, Alarm::SupplyLost),
            (Sensor::Return, Alarm::ReturnLost),
            (Sensor::Slab, Alarm::SlabLost),
            (Sensor::Outdoor, Alarm::OutdoorLost),
        ];
        for (sensor, alarm) in alarms {
            let lost = row.readings.get(sensor).is_lost();
            assert_eq!(row.alarms.has(alarm), lost, "a lost sensor rings");
            assert!(!lost || out.alarm);
        }
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
        if was {
            self.run_reasons.push(row.reason);
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
                !row.summary.tripped || stood >= Duration::from_mins(15),
                "looked {stood:?} after overheating"
            );
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
            self.run_reasons.push(row.reason);
        } else {
            let at_once = [Reason::Overheat, Reason::Drained].contains(&row.reason);
            assert!(
                at_once || stood >= Duration::from_secs(10),
                "changed twice within ten seconds: {stood:?}"
            );
            let stopped = STOPPERS.contains(&row.reason);
            // Reasons up to the step before: the last one may already explain the rest.
            let count = self.run_reasons.len() - 1;
            let short = self
                .run_reasons
                .iter()
                .take(count)
                .all(|r| SHORT.contains(r));
            assert!(
                stopped || short || !self.unchanged(now) || stood >= settings.pump_min_on,
                "ran {stood:?} only: {:?}, then {:?}",
                self.run_reasons.first(),
                row.reason
            );
            if let Some(until) = self.overrun_until {
                assert!(at_once || now >= until, "boiler heat left in the pipes");
            }
            self.overrun_until = None;
        }
        self.pump_changed = now;
    }

    fn boiler(&mut self, report: &StepReport, settings: &Settings) {
        let (row, on) = (&report.row, report.outputs.boiler_call);
        let (pump_was, was) = self.was();
        let now = row.now;
        let supply = &row.readings.supply;
        if on {
            assert_ne!(supply.trust, Trust::Suspect, "a call on a doubted supply");
            assert!(
                !supply.is_lost() || settings.hard_limit_tested,
                "a call without a supply reading or a tested limit"
            );
            assert!(
                supply.hot().is_none_or(|t| t < settings.soft_limit()),
                "a call at the supply limit"
            );
            let slab = row.readings.slab.value;
            assert!(
                slab.is_none_or(|t| t < settings.slab_max),
                "a call on a hot slab"
            );
            assert!(!row.summary.tripped, "a call in a trip");
            assert!(
                !matches!(row.estimate.flow_proof, FlowProof::Absent(_)),
                "a call without flow"
            );
        }
        self.failures(report);
        if on == was {
            return;
        }
        let stood = now.since(self.boiler_changed);
        if on {
            let after_boot = now.since(self.boot);
            assert!(
                after_boot >= Duration::from_mins(10),
                "called {after_boot:?} after a boot"
            );
            assert!(
                pump_was,
                "called in the step in which the circulator starts"
            );
            assert!(
                now.since(self.pump_changed) >= settings.purge || !self.unchanged(now),
                "called before the purge"
            );
            let retried = self.failed.map(|at| now.since(at));
            assert!(
                retried.is_none_or(|after| after >= Duration::from_hours(1)),
                "called again {retried:?} after a call without heat"
            );
            if !row.summary.manual {
                Self::no_steep_rise(report, settings);
            }
            if self.unchanged(now) {
                assert!(
                    stood >= settings.boiler_min_off(),
                    "the boiler rested {stood:?}"
                );
                let recent = |at: &&Instant| now.since(**at) < Duration::from_hours(1);
                let starts = self.boiler_starts.iter().filter(recent).count();
                assert!(
                    starts < usize::from(settings.boiler_starts()),
                    "a call too many"
                );
            }
            self.boiler_starts.push(now);
            self.calls += 1;
        } else {
            // Heat that was seen, and did not die before the call did, is heat to carry off.
            if row.summary.boiler == BoilerState::Heating && report.outputs.circulator {
                self.overrun_until = Some(now + settings.post_run);
            }
        }
        self.boiler_changed = now;
    }

    /// Notes a call that failed.
    fn failures(&mut self, report: &StepReport) {
        let row = &report.row;
        let before = self
            .last
            .as_ref()
            .map_or(0, |last| last.row.summary.failed_calls);
        if row.summary.failed_calls > before {
            self.failed = Some(row.now);
        }
        if row.event == Event::Command(Command::Acknowledge) {
            self.failed = None;
        }
    }

    /// Water far above a slab that rises fast starts no call, but in an emergency.
    fn no_steep_rise(report: &StepReport, settings: &Settings) {
        let row = &report.row;
        let readings = &row.readings;
        let (Some(supply), Some(slab), Some(slope)) = (
            readings.supply.value,
            readings.slab.value,
            row.estimate.slab_slope,
        ) else {
            return;
        };
        // A doubted slab counts half a kelvin colder, and its water may be colder still.
        let water = row.estimate.water_slab;
        let coldest = water.map_or(slab, |water| slab.min(water));
        let emergency = coldest <= settings.backup_emergency + SUSPECT_MARGIN;
        assert!(
            emergency
                || supply - slab <= settings.supply_slab_max
                || slope <= settings.slab_rise_max,
            "a call on a slab that rises fast"
        );
    }

    fn reason(&self, report: &StepReport) {
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
            let calling = [Reason::Backup, Reason::Frost, Reason::FreezeHarm];
            assert!(
                calling.contains(&reason),
                "{reason:?} with the boiler called"
            );
        }
    }

    /// Short runs are short, and a poor harvest ends.
    fn lengths(&mut self, report: &StepReport, settings: &Settings) {
        let row = &report.row;
        let now = row.now;
        match self.reason {
            Some((reason, _)) if reason == row.reason => {}
            _ => self.reason = Some((row.reason, now)),
        }
        let stood = self
            .reason
            .map_or(Duration::ZERO, |(_, since)| now.since(since));
        let unchanged = self.unchanged(now);
        // A caller may be late, a minute at most.
        let late = settings.sensor_cycle.times(2) + Duration::from_mins(1);
        if row.reason == Reason::Sampling && unchanged {
            let most = settings.purge + Duration::from_mins(5) + late;
            assert!(stood <= most, "sampled for {stood:?}");
        }
        if row.reason == Reason::Exercise && unchanged {
            assert!(
                stood <= settings.exercise_run + late,
                "exercised for {stood:?}"
            );
        }
        let poor = row.reason == Reason::Harvest
            && row.lost == 0
            && row.status.pump_for >= settings.pump_min_on
            && row
                .estimate
                .difference
                .is_some_and(|d| d < settings.stop_difference);
        self.poor = match (poor, self.poor) {
            (false, _) => None,
            (true, since) => since.or(Some(now)),
        };
        if let Some(since) = self.poor
            && unchanged
        {
            let lasted = now.since(since);
            assert!(
                lasted <= Duration::from_mins(10) + late,
                "poor for {lasted:?}"
            );
        }
    }

    fn estimates(&self, report: &StepReport) {
        let row = &report.row;
        let now = &row.estimate;
        if now.flow != Flow::Flowing {
            assert_eq!(now.difference, None, "a difference before the purge");
            assert_eq!(now.heat, None, "heat before the purge");
        }
        let store = now.store.to_bits();
        assert!((-5 << 16..=60 << 16).contains(&store), "store {store}");
        let Some(last) = &self.last else { return };
        let before = &last.row.estimate;
        if matches!(row.event, Event::Boot(_)) {
            return;
        }
        assert!(now.earth_wh >= before.earth_wh, "heat counters only grow");
        assert!(now.banked_wh >= before.banked_wh);
        assert!(now.boiler_wh >= before.boiler_wh);
        let moved = |a: u32, b: u32| u8::from(a != b);
        let counters = moved(now.earth_wh, before.earth_wh)
            + moved(now.banked_wh, before.banked_wh)
            + moved(now.boiler_wh, before.boiler_wh);
        assert!(counters <= 1, "heat counted twice");
        let measured = now.store_age == Duration::ZERO;
        if now.flow != Flow::Flowing {
            assert!(!measured, "a store temperature from water at rest");
            let learned = before.flow == Flow::Flowing || !self.unchanged(row.now);
            assert!(learned || now.loop_yield == before.loop_yield);
        }
        if !measured && self.unchanged(row.now) && before.store_age != Duration::MAX {
            let drift = (now.store - before.store).abs().to_bits();
            assert!(
                drift <= 730,
                "the remembered store jumped by {drift}/65536 K"
            );
        }
    }

    fn frost(&mut self, report: &StepReport, settings: &Settings) {
        let row = &report.row;
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
