//! Numbers by day, and how long the slab was how cold.

use controller_core::reason::Reason;
use controller_core::trace::TraceRow;
use controller_core::units::Celsius;

/// One day: from midnight where the wall clock is known, else from the first row.
#[derive(Clone, Debug, PartialEq)]
pub struct Day {
    /// Its beginning (or the first row), ms since the first row.
    pub start_ms: u64,
    /// Its length, ms; the first one may be short.
    pub length_ms: u64,
    /// Time covered by rows, ms.
    pub covered_ms: u64,
    /// Circulator starts.
    pub starts: u32,
    /// Time by reason, ms, in the order of `Reason::ALL`.
    pub reason_ms: [u64; Reason::ALL.len()],
    /// Time the circulator was on, ms.
    pub pump_ms: u64,
    /// Time the boiler was called, ms.
    pub boiler_ms: u64,
    /// Store as last measured that day.
    pub store: Option<Celsius>,
    pub(super) earth_wh: u64,
    pub(super) boiler_wh: u64,
    pump_wms: f64,
    outdoor_sum: i64,
    outdoor_ms: u64,
    slab_min: Option<Celsius>,
}

impl Day {
    pub(super) const fn new(start_ms: u64, length_ms: u64) -> Self {
        Self {
            start_ms,
            length_ms,
            covered_ms: 0,
            starts: 0,
            reason_ms: [0; Reason::ALL.len()],
            pump_ms: 0,
            boiler_ms: 0,
            store: None,
            earth_wh: 0,
            boiler_wh: 0,
            pump_wms: 0.0,
            outdoor_sum: 0,
            outdoor_ms: 0,
            slab_min: None,
        }
    }

    pub(super) fn pass(&mut self, row: &TraceRow, dt_ms: u64, pump_w: f64) {
        self.covered_ms += dt_ms;
        self.reason_ms[row.reason as usize] += dt_ms;
        if row.outputs.circulator {
            self.pump_wms += pump_w * dt_ms as f64;
            self.pump_ms += dt_ms;
        }
        if row.outputs.boiler_call {
            self.boiler_ms += dt_ms;
        }
        if let Some(outdoor) = row.readings.outdoor.value {
            self.outdoor_sum += i64::from(outdoor.to_bits()) * dt_ms as i64;
            self.outdoor_ms += dt_ms;
        }
        if let Some(slab) = row.readings.slab.value {
            self.slab_min = Some(self.slab_min.map_or(slab, |min| min.min(slab)));
        }
    }

    /// Metered heat from the earth, kWh.
    #[must_use]
    pub fn earth_kwh(&self) -> f64 {
        self.earth_wh as f64 / 1_000.0
    }

    /// Metered heat from the boiler, kWh.
    #[must_use]
    pub fn boiler_kwh(&self) -> f64 {
        self.boiler_wh as f64 / 1_000.0
    }

    /// Circulator electricity, kWh.
    #[must_use]
    pub fn pump_kwh(&self) -> f64 {
        self.pump_wms / 3.6e9
    }

    /// Mean outdoor temperature, °C.
    #[must_use]
    pub fn outdoor_mean_c(&self) -> Option<f64> {
        (self.outdoor_ms > 0).then(|| self.outdoor_sum as f64 / self.outdoor_ms as f64 / 65_536.0)
    }

    /// Coldest slab, °C.
    #[must_use]
    pub fn slab_min_c(&self) -> Option<f64> {
        self.slab_min.map(|t| f64::from(t.to_bits()) / 65_536.0)
    }

    /// Store as last measured that day, °C.
    #[must_use]
    pub fn store_c(&self) -> Option<f64> {
        self.store.map(|t| f64::from(t.to_bits()) / 65_536.0)
    }
}

/// Tenths of a kelvin from here up.
const COLDEST_TENTHS: i32 = -300;
const TENTHS: usize = 900;

/// How long the slab was how cold, in steps of 0.1 K from −30 to 60 °C; the ends take what is beyond.
#[derive(Clone, Debug)]
pub struct SlabHours {
    target: Celsius,
    ms: Vec<u64>,
}

impl SlabHours {
    pub(super) fn new(target: Celsius) -> Self {
        Self {
            target,
            ms: vec![0; TENTHS],
        }
    }

    pub(super) fn push(&mut self, slab: Celsius, dt_ms: u64) {
        let tenths = (i64::from(slab.to_bits()) * 10) >> 16;
        let place = (tenths - i64::from(COLDEST_TENTHS)).clamp(0, TENTHS as i64 - 1);
        self.ms[place as usize] += dt_ms;
    }

    /// The temperature held against.
    #[must_use]
    pub const fn target(&self) -> Celsius {
        self.target
    }

    /// (temperature °C, hours the slab was colder), where there is anything to tell.
    #[must_use]
    pub fn hours_colder(&self) -> Vec<(f64, f64)> {
        let first = self.ms.iter().position(|ms| *ms > 0);
        let last = self.ms.iter().rposition(|ms| *ms > 0);
        let (Some(first), Some(last)) = (first, last) else {
            return Vec::new();
        };
        let mut colder = 0_u64;
        let mut curve = Vec::with_capacity(last - first + 2);
        for place in first..=last + 1 {
            let tenths = COLDEST_TENTHS + place as i32;
            curve.push((f64::from(tenths) / 10.0, colder as f64 / 3.6e6));
            colder += self.ms.get(place).copied().unwrap_or(0);
        }
        curve
    }
}
