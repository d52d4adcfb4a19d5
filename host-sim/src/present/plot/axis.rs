//! Scales and their ticks: numbers in round steps, powers of ten, hours and dates.

use jiff::ToSpan as _;
use jiff::civil::DateTime;

/// From numbers to pixels.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scale {
    range: [f64; 2],
    pixels: [f64; 2],
    log: bool,
}

impl Scale {
    pub(super) fn new(range: [f64; 2], pixels: [f64; 2], log: bool) -> Self {
        let [low, high] = range;
        let range = match (low.is_finite() && high.is_finite(), high > low) {
            (false, _) => [0.0, 1.0],
            (true, false) => [low - 0.5, low + 0.5],
            (true, true) => range,
        };
        Self { range, pixels, log }
    }

    pub(super) fn at(&self, value: f64) -> f64 {
        let of = |v: f64| if self.log { v.max(1e-9).log10() } else { v };
        let [low, high] = self.range.map(of);
        let [from, to] = self.pixels;
        from + (of(value) - low) / (high - low) * (to - from)
    }

    pub(super) fn holds(&self, value: f64) -> bool {
        let slack = 1e-9 * (self.range[1] - self.range[0]);
        (self.range[0] - slack..=self.range[1] + slack).contains(&value)
    }

    /// At most about so many ticks with their text.
    pub(super) fn ticks(&self, most: f64) -> Vec<(f64, String)> {
        if self.log {
            return self.powers();
        }
        let [low, high] = self.range;
        let rough = (high - low) / most.max(1.0);
        let power = 10_f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .map(|n| n * power)
            .into_iter()
            .find(|step| *step >= rough * 0.999)
            .unwrap_or(10.0 * power);
        let digits = (-step.log10().floor()).max(0.0) as usize;
        let first = (low / step).ceil() as i64;
        (first..)
            .map(|n| n as f64 * step)
            .take_while(|tick| *tick <= high + 1e-9 * step)
            .map(|tick| (tick, crate::files::quantity::show::fixed(tick, digits)))
            .collect()
    }

    fn powers(&self) -> Vec<(f64, String)> {
        let [low, high] = self.range.map(|v| v.max(1e-9).log10());
        (low.ceil() as i32..=high.floor() as i32)
            .map(|n| 10_f64.powi(n))
            .map(|tick| (tick, format!("{tick}")))
            .collect()
    }
}

/// Steps between ticks, h.
const STEPS_H: [f64; 12] = [
    0.25, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0, 48.0, 96.0, 168.0, 336.0, 672.0,
];
/// From so many days on there is a tick at the beginning of every month.
const MONTHS_FROM_DAYS: f64 = 60.0;
const MS_AN_HOUR: f64 = 3.6e6;

/// Ticks of a time axis: places in ms since the first row.
pub(super) fn time_ticks(
    start: Option<DateTime>,
    from_ms: f64,
    until_ms: f64,
    most: f64,
) -> Vec<(f64, String)> {
    let hours = (until_ms - from_ms) / MS_AN_HOUR;
    if let Some(start) = start.filter(|_| hours > MONTHS_FROM_DAYS * 24.0) {
        return months(start, from_ms, until_ms);
    }
    let step_h = STEPS_H
        .into_iter()
        .find(|step| hours / step <= most)
        .unwrap_or_else(|| (hours / most / 168.0).ceil() * 168.0);
    let step_ms = step_h * MS_AN_HOUR;
    // Ticks stand on whole hours of the clock.
    let since_midnight_ms = start.map_or(0.0, |start| {
        let time = start.time();
        (f64::from(time.hour()) * 60.0 + f64::from(time.minute())) * 60e3
            + f64::from(time.second()) * 1e3
    });
    let first = ((from_ms + since_midnight_ms) / step_ms).ceil() as i64;
    (first..)
        .map(|n| n as f64 * step_ms - since_midnight_ms)
        .take_while(|ms| *ms <= until_ms)
        .map(|ms| {
            let text = match start.and_then(|start| at(start, ms)) {
                Some(time) if time.time() == jiff::civil::Time::midnight() || step_h >= 24.0 => {
                    time.strftime("%-d %b").to_string()
                }
                Some(time) => time.strftime("%H:%M").to_string(),
                None => {
                    crate::files::quantity::show::fixed(ms / MS_AN_HOUR, usize::from(step_h < 1.0))
                }
            };
            (ms, text)
        })
        .collect()
}

fn at(start: DateTime, ms: f64) -> Option<DateTime> {
    // To the nearest second: steps are no finer.
    start
        .checked_add(((ms / 1e3).round() as i64).seconds())
        .ok()
}

fn months(start: DateTime, from_ms: f64, until_ms: f64) -> Vec<(f64, String)> {
    let mut ticks = Vec::new();
    let mut month = start.date().first_of_month();
    while let Ok(next) = month.checked_add(1.month()) {
        month = next;
        let since = month
            .to_datetime(jiff::civil::Time::midnight())
            .duration_since(start);
        let ms = since.as_millis_f64();
        if ms > until_ms {
            break;
        }
        if ms >= from_ms {
            ticks.push((ms, month.strftime("%b").to_string()));
        }
    }
    ticks
}
