//! The balance point in a season's own days: heat stays level while it is mild and rises with the cold.

/// Two straight pieces: `base` above the balance point, rising by `slope` per kelvin below it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Knee {
    /// Outdoor temperature at which heat begins to be needed, °C.
    pub(super) balance_c: f64,
    /// Heat a day and kelvin below, kWh/K.
    pub(super) slope_kwh_k: f64,
    /// Heat a day above, kWh.
    pub(super) base_kwh: f64,
}

impl Knee {
    pub(super) fn heat(&self, outdoor_c: f64) -> f64 {
        self.base_kwh + self.slope_kwh_k * (self.balance_c - outdoor_c).max(0.0)
    }
}

/// Days either side of the knee before it means anything.
const EITHER_SIDE: usize = 3;

/// Least squares over (mean outdoor °C, heat kWh) days, the knee tried every 0.1 K between the
/// coldest and the warmest day. `None`: too few days, or heat does not rise with cold.
///
/// The three-parameter change-point model for heating of ASHRAE Guideline 14 (its name from memory).
pub(super) fn fit(days: &[(f64, f64)]) -> Option<Knee> {
    let coldest = days.iter().map(|d| d.0).fold(f64::INFINITY, f64::min);
    let warmest = days.iter().map(|d| d.0).fold(f64::NEG_INFINITY, f64::max);
    if days.len() < 2 * EITHER_SIDE || !(warmest - coldest).is_finite() {
        return None;
    }
    let steps = ((warmest - coldest) * 10.0) as u32;
    let mut best: Option<(f64, Knee)> = None;
    for step in 0..=steps {
        let balance_c = coldest + f64::from(step) / 10.0;
        let below = days.iter().filter(|d| d.0 < balance_c).count();
        if below < EITHER_SIDE || days.len() - below < EITHER_SIDE {
            continue;
        }
        let knee = at(days, balance_c)?;
        let error: f64 = days.iter().map(|d| (d.1 - knee.heat(d.0)).powi(2)).sum();
        if best.is_none_or(|(least, _)| error < least) {
            best = Some((error, knee));
        }
    }
    best.map(|(_, knee)| knee)
        .filter(|knee| knee.slope_kwh_k > 0.0)
}

/// An ordinary straight-line fit against kelvins below the balance point.
fn at(days: &[(f64, f64)], balance_c: f64) -> Option<Knee> {
    let n = days.len() as f64;
    let cold = |outdoor: f64| (balance_c - outdoor).max(0.0);
    let mean_x = days.iter().map(|d| cold(d.0)).sum::<f64>() / n;
    let mean_y = days.iter().map(|d| d.1).sum::<f64>() / n;
    let xx: f64 = days.iter().map(|d| (cold(d.0) - mean_x).powi(2)).sum();
    let xy: f64 = days
        .iter()
        .map(|d| (cold(d.0) - mean_x) * (d.1 - mean_y))
        .sum();
    (xx > 0.0).then(|| {
        let slope_kwh_k = xy / xx;
        Knee {
            balance_c,
            slope_kwh_k,
            base_kwh: mean_y - slope_kwh_k * mean_x,
        }
    })
}
