//! The counters the season's numbers come from: whole numbers, one push a row.

use controller_core::Flow;
use controller_core::sensor::{ReadingFault, Trust};
use controller_core::time::Duration;
use controller_core::trace::TraceRow;
use controller_core::units::Celsius;

/// Heat of a boiler call still leaves the pipes this long after it, as the controller counts it.
const BOILER_HEAT: Duration = Duration::from_mins(30);

#[derive(Clone, Copy, Debug, Default)]
pub(super) struct SlabCount {
    pub(super) min: Option<Celsius>,
    pub(super) min_at_ms: u64,
    pub(super) unknown_ms: u64,
    pub(super) below_target_ms: u64,
    /// 1/65536 K times ms.
    pub(super) deficit: u64,
    pub(super) below_zero_ms: u64,
    pub(super) spell_ms: u64,
    pub(super) longest_spell_ms: u64,
}

#[derive(Clone, Copy, Debug, Default)]
pub(super) struct RelayCount {
    pub(super) on: bool,
    pub(super) on_ms: u64,
    pub(super) starts: u64,
    rest_ms: u64,
    longest_rest_ms: u64,
}

impl RelayCount {
    /// True if it starts in this row.
    pub(super) fn push(&mut self, on: bool, dt_ms: u64) -> bool {
        let starts = on && !self.on;
        self.on = on;
        if starts {
            self.longest_rest_ms = self.longest_rest_ms();
            self.rest_ms = 0;
            self.starts += 1;
        }
        if on {
            self.on_ms += dt_ms;
        } else {
            self.rest_ms += dt_ms;
        }
        starts
    }

    /// The longest rest so far, the present one counted in.
    pub(super) fn longest_rest_ms(&self) -> u64 {
        self.longest_rest_ms.max(self.rest_ms)
    }
}

/// Circulator starts of the present day and the most of any.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct DayStarts {
    pub(super) end_ms: u64,
    pub(super) starts: u64,
    pub(super) most: u64,
}

#[derive(Clone, Copy, Debug, Default)]
pub(super) struct HeatCount {
    pub(super) seen: [u32; 2],
    pub(super) earth_wh: u64,
    pub(super) boiler_wh: u64,
    pub(super) earth_ms: u64,
    pub(super) measured_ms: u64,
    pub(super) unmeasured_ms: u64,
}

#[derive(Clone, Copy, Debug, Default)]
pub(super) struct StoreCount {
    pub(super) min: Option<Celsius>,
    pub(super) first: Option<Celsius>,
    pub(super) last: Option<Celsius>,
    pub(super) return_max: Option<Celsius>,
    pub(super) return_above_ms: u64,
}

#[derive(Clone, Copy, Debug, Default)]
pub(super) struct SensorCount {
    pub(super) amiss: bool,
    pub(super) times: u64,
    pub(super) doubted_ms: u64,
    pub(super) lost_ms: u64,
    pub(super) kinds: [u64; FAULTS.len()],
}

#[derive(Clone, Copy, Debug, Default)]
pub(super) struct AlarmCount {
    pub(super) first_ms: u64,
    pub(super) on_ms: u64,
    pub(super) count: u64,
}

/// What can be wrong with a reading, in the order of its numbers.
pub(super) const FAULTS: [ReadingFault; 9] = [
    ReadingFault::None,
    ReadingFault::Unseen,
    ReadingFault::Lost,
    ReadingFault::Range,
    ReadingFault::Jump,
    ReadingFault::Stuck,
    ReadingFault::PowerOn,
    ReadingFault::Contradicted,
    ReadingFault::Returning,
];

impl SlabCount {
    pub(super) fn push(
        &mut self,
        slab: Option<Celsius>,
        time_ms: u64,
        dt_ms: u64,
        target: Celsius,
    ) {
        let Some(slab) = slab else {
            self.unknown_ms += dt_ms;
            self.spell_ms = 0;
            return;
        };
        if self.min.is_none_or(|min| slab < min) {
            self.min = Some(slab);
            self.min_at_ms = time_ms;
        }
        if slab < target {
            self.below_target_ms += dt_ms;
            self.deficit += deficit(target, slab) * dt_ms;
            self.spell_ms += dt_ms;
            self.longest_spell_ms = self.longest_spell_ms.max(self.spell_ms);
        } else {
            self.spell_ms = 0;
        }
        if slab < Celsius::ZERO {
            self.below_zero_ms += dt_ms;
        }
    }
}

impl HeatCount {
    /// The controller's counters start again at a boot; what they add is counted on.
    /// `boiler_off_for`: time since the boiler was really called.
    pub(super) fn push(&mut self, row: &TraceRow, boiler_off_for: Duration, dt_ms: u64) {
        let e = &row.estimate;
        let now = [e.earth_wh, e.boiler_wh];
        if now != self.seen {
            let [earth, boiler] = added(self.seen, now);
            self.earth_wh += earth;
            self.boiler_wh += boiler;
            self.seen = now;
        }
        if e.flow != Flow::Flowing {
            return;
        }
        if e.heat.is_none() {
            self.unmeasured_ms += dt_ms;
            return;
        }
        self.measured_ms += dt_ms;
        if boiler_off_for >= BOILER_HEAT {
            self.earth_ms += dt_ms;
        }
    }
}

/// What counters that may have started again at zero have added, Wh.
pub(crate) fn added(before: [u32; 2], now: [u32; 2]) -> [u64; 2] {
    let one = |b: u32, n: u32| u64::from(if n >= b { n - b } else { n });
    [one(before[0], now[0]), one(before[1], now[1])]
}

impl StoreCount {
    pub(super) fn push(&mut self, row: &TraceRow, dt_ms: u64, limit: Celsius) {
        if row.estimate.flow != Flow::Flowing {
            return;
        }
        if let Some(store) = row.estimate.store
            && row.estimate.store_age == Duration::ZERO
        {
            self.min = colder(self.min, store);
            self.first = self.first.or(Some(store));
            self.last = Some(store);
        }
        if let Some(water) = row.readings.ret.value {
            self.return_max = Some(self.return_max.map_or(water, |max| max.max(water)));
            if water > limit {
                self.return_above_ms += dt_ms;
            }
        }
    }
}

impl SensorCount {
    pub(super) fn push(&mut self, trust: Trust, fault: ReadingFault, dt_ms: u64) {
        // Just after a boot nothing has been seen yet: no fault, unless it stays so.
        if fault == ReadingFault::Unseen && trust == Trust::Suspect {
            return;
        }
        if !self.amiss {
            self.amiss = true;
            self.times += 1;
        }
        match trust {
            Trust::Good => {}
            Trust::Suspect => self.doubted_ms += dt_ms,
            Trust::Bad => self.lost_ms += dt_ms,
        }
        self.kinds[fault as usize] += dt_ms;
    }
}

/// How far a temperature is below a limit, 1/65536 K; zero above it.
pub(super) fn deficit(limit: Celsius, now: Celsius) -> u64 {
    u64::try_from((limit - now).to_bits()).unwrap_or(0)
}

pub(super) fn colder(before: Option<Celsius>, now: Celsius) -> Option<Celsius> {
    Some(before.map_or(now, |b| b.min(now)))
}
