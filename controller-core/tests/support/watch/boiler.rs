//! What must hold on every row of the boiler's call.

use super::*;

impl Watch {
    pub(super) fn boiler(&mut self, report: &StepReport, settings: &Settings) {
        let (row, on) = (&report.row, report.outputs.boiler_call);
        let (pump_was, was) = self.was();
        let now = row.now;
        self.water(report, settings);
        wood(report, settings);
        if on {
            self.limits(report, settings);
            assert!(!row.summary.tripped, "a call in a trip");
            assert!(
                self.emergency(report, settings)
                    || !matches!(row.estimate.flow_proof, FlowProof::Absent(_)),
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
                after_boot >= Duration::from_mins(3),
                "called {after_boot:?} after a boot"
            );
            assert!(
                pump_was,
                "called in the step in which the circulator starts"
            );
            assert!(
                now.since(self.pump_changed) >= settings.settling_time
                    || row.shadow.is_some()
                    || !self.unchanged(now)
                    || self.unstable_power && self.emergency(report, settings),
                "called before the settling time"
            );
            let retried = self.failed.map(|(at, wait)| (now.since(at), wait));
            assert!(
                retried.is_none_or(|(after, wait)| after >= wait),
                "called again {retried:?} after a call without heat"
            );
            if self.unchanged(now) {
                let since_boot = self.boiler_changed == self.boot;
                assert!(
                    since_boot || stood >= settings.boiler_min_off(),
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
            let was = self.last.as_ref().map(|last| last.row.summary.boiler);
            let seen = was == Some(BoilerState::Heating) && row.summary.failed_calls == 0;
            if seen && report.outputs.circulator {
                self.overrun_until = Some(now + settings.post_run);
            }
        }
        self.boiler_changed = now;
    }

    /// No call passes a limit, but an emergency takes half of one.
    fn limits(&self, report: &StepReport, settings: &Settings) {
        let row = &report.row;
        let readings = &row.readings;
        let at = |t: Option<Celsius>, limit| t.is_some_and(|t| t >= limit);
        let (supply, ret, slab) = (
            readings.supply.value,
            readings.ret.value,
            readings.slab.value,
        );
        assert!(
            supply.is_some() || settings.supply_limited,
            "a call without a supply reading or the owner's word for a limit"
        );
        let warm = |t: Option<Celsius>| t.is_none_or(|t| t >= settings.slab_max);
        let hot_slab = slab.or(ret).is_some() && warm(slab) && warm(ret);
        let hot = at(supply, settings.supply_soft) || hot_slab;
        if at(supply, settings.soft_limit()) || hot {
            // Only the lower limit for new concrete halves a call without need.
            assert!(
                settings.supply_limited && (!hot || self.emergency(report, settings)),
                "a call at the supply's or the slab's limit"
            );
            let called_for = if self.was().1 {
                row.now.since(self.boiler_changed)
            } else {
                Duration::ZERO
            };
            assert!(called_for < HALF, "a halved call of {called_for:?}");
        }
        assert!(
            !settings.return_to_store
                || self.emergency(report, settings)
                || !at(ret, settings.return_cap),
            "warm water to the store"
        );
    }

    /// The slab is at its emergency temperature, unknown, or overruled by its water of late.
    fn emergency(&self, report: &StepReport, settings: &Settings) -> bool {
        let row = &report.row;
        let slab = row.estimate.slab;
        let by_water = self.water_colder.map(|at| row.now.since(at));
        slab.is_none_or(|t| t <= settings.backup_emergency)
            || by_water.is_some_and(|ago| ago <= Duration::from_mins(75))
    }

    /// Notes water that may call against the slab's reading, or without it.
    fn water(&mut self, report: &StepReport, settings: &Settings) {
        let row = &report.row;
        let limit = settings.frost_off + Kelvin::from_milli(1_250);
        let slab = row.readings.slab.cold_side();
        let colder = |water: Celsius| {
            water <= limit && slab.is_none_or(|t| water < t - Kelvin::from_milli(1_000))
        };
        if row.estimate.water.is_some_and(colder) {
            self.water_colder = Some(row.now);
        }
    }

    /// Notes a call that failed, and how long the next one waits.
    fn failures(&mut self, report: &StepReport) {
        let row = &report.row;
        let before = self
            .last
            .as_ref()
            .map_or(0, |last| last.row.summary.failed_calls);
        let failed = row.summary.failed_calls;
        if failed > before {
            let wait = Duration::from_mins(if failed == 1 { 40 } else { 80 });
            self.failed = Some((row.now, wait));
        }
        let stood = self
            .last
            .as_ref()
            .is_some_and(|last| matches!(last.row.estimate.flow_proof, FlowProof::Absent(_)));
        let moves_again = stood && row.estimate.flow_proof == FlowProof::Present;
        if moves_again || row.event == Event::Command(Command::Acknowledge) {
            self.failed = None;
        }
    }
}

/// The advice on wood: it fits, it is not asked for where it may not burn, and not while the slab is warm.
fn wood(report: &StepReport, settings: &Settings) {
    let (row, summary) = (&report.row, &report.row.summary);
    let said = summary.wood;
    if said.request != WoodRequest::Light {
        assert_eq!((said.kg, said.within_min), (0, 0), "{said:?}");
        return;
    }
    assert!((1..=settings.wood_most).contains(&said.kg), "{said:?}");
    assert!(said.within_min <= 90, "{said:?}");
    assert_eq!(settings.boiler, BoilerKind::Firing, "{said:?}");
    assert_ne!(settings.mode, Mode::Drained, "{said:?}");
    assert!(!summary.tripped, "{said:?} in a trip");
    assert_ne!(summary.boiler, BoilerState::Barred, "{said:?}");
    // The fastest fall needs no more in 90 min.
    let warm = settings.backup_slab + Kelvin::from_milli(3_000);
    let idle = summary.boiler == BoilerState::Idle && said.within_min > 0;
    assert!(
        !idle || row.estimate.slab.is_none_or(|slab| slab <= warm),
        "{said:?} with a warm slab"
    );
}
