//! What one control came to over one winter, counted from the model, not from the control's own words.

use serde::Serialize;

use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::closed_loop::{ClosedLoop, Pace};
use crate::sim::plant::Plant;
use crate::sim::season::Run;
use crate::sim::stepper::Stepper;
use crate::sim::tally::Season;

/// A call is needed if without fire the slab falls below its target within this time: till morning.
/// Status: judgement.
const UNTIL_MORNING_S: u64 = 8 * 3_600;
/// A call that gives less heat than this gave none, kWh. Status: judgement; a few minutes of a small fire.
const NO_HEAT_KWH: f64 = 0.3;

/// A control's winter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Count {
    /// True slab temperature below its target, K·h.
    pub below_target_kh: f64,
    /// Wood burnt, kg.
    pub wood_kg: f64,
    /// Heat the boiler gave to the water, kWh.
    pub boiler_heat_kwh: f64,
    /// Heat from the store, less what was carried back, kWh.
    pub earth_heat_kwh: f64,
    /// Electricity of the circulator, kWh.
    pub pump_kwh: f64,
    /// Circulator starts.
    pub starts: u32,
    /// Boiler calls.
    pub calls: u32,
    /// Calls without which the slab would have held until morning, or that gave no heat.
    pub useless_calls: u32,
    /// Nights in which the boiler was called.
    pub nights_with_fire: u32,
    /// Times wood was put on.
    pub feeds: u32,
    /// Of these, in the hours of sleep.
    pub wakings: u32,
    /// Nights in which wood was put on.
    pub fed_nights: u32,
}

impl Count {
    /// Of the house's own account; useless calls are not in it.
    #[must_use]
    pub fn of(season: &Season) -> Self {
        Self {
            below_target_kh: season.below_target_kh,
            wood_kg: season.wood_kg,
            boiler_heat_kwh: season.boiler_heat_kwh,
            earth_heat_kwh: season.earth_heat_kwh,
            pump_kwh: season.pump_kwh,
            starts: season.starts,
            calls: season.calls,
            useless_calls: 0,
            nights_with_fire: season.nights_with_fire,
            feeds: season.tended.feeds,
            wakings: season.tended.wakings,
            fed_nights: season.tended.nights,
        }
    }

    /// Several winters as one.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self {
            below_target_kh: self.below_target_kh + other.below_target_kh,
            wood_kg: self.wood_kg + other.wood_kg,
            boiler_heat_kwh: self.boiler_heat_kwh + other.boiler_heat_kwh,
            earth_heat_kwh: self.earth_heat_kwh + other.earth_heat_kwh,
            pump_kwh: self.pump_kwh + other.pump_kwh,
            starts: self.starts + other.starts,
            calls: self.calls + other.calls,
            useless_calls: self.useless_calls + other.useless_calls,
            nights_with_fire: self.nights_with_fire + other.nights_with_fire,
            feeds: self.feeds + other.feeds,
            wakings: self.wakings + other.wakings,
            fed_nights: self.fed_nights + other.fed_nights,
        }
    }
}

/// Runs one control through one winter.
///
/// # Errors
/// Ctrl-C.
pub fn count<S: Stepper>(
    run: &Run<'_>,
    controller: &mut S,
    cancel: &Cancel,
) -> Result<Count, Cancelled> {
    count_with_totals(run, controller, cancel).map(|(count, _)| count)
}

/// The same with what the plant did.
///
/// # Errors
/// Ctrl-C.
pub fn count_with_totals<S: Stepper>(
    run: &Run<'_>,
    controller: &mut S,
    cancel: &Cancel,
) -> Result<(Count, Season), Cancelled> {
    let target_c: f64 = run.settings.target.to_fixed().to_num();
    let mut useless_calls = 0;
    let mut call: Option<Call> = None;
    let season = run.go_with::<S, Cancelled>(controller, cancel, |_, seen| {
        if seen.relays.boiler_call {
            let call = call.get_or_insert_with(|| Call {
                would_hold: would_hold(run, seen.plant, seen.now_s, target_c),
                heat_kwh: 0.0,
            });
            let hours = seen.stands_ms as f64 / 3.6e6;
            call.heat_kwh += seen.plant.true_state().boiler_heat_w / 1e3 * hours;
        } else if let Some(ended) = call.take() {
            useless_calls += u32::from(ended.is_useless());
        }
        Ok(())
    })?;
    useless_calls += u32::from(call.is_some_and(|call| call.is_useless()));
    let count = Count {
        useless_calls,
        ..Count::of(&season)
    };
    Ok((count, season))
}

/// A boiler call under way.
#[derive(Clone, Copy, Debug)]
struct Call {
    would_hold: bool,
    heat_kwh: f64,
}

impl Call {
    fn is_useless(&self) -> bool {
        self.would_hold || self.heat_kwh < NO_HEAT_KWH
    }
}

/// Would this house, from now until morning, hold its slab by the store alone? Circulating whenever the
/// store is the warmer.
fn would_hold(run: &Run<'_>, plant: &Plant, now_s: u64, target_c: f64) -> bool {
    let end_s = (now_s + UNTIL_MORNING_S).min(run.weather.duration_s());
    let mut house = ClosedLoop::new(plant.clone(), now_s, Pace::COARSE);
    while house.now_s() < end_s {
        let state = house.plant.true_state();
        if state.slab_sensor_c < target_c {
            return false;
        }
        house.relays.circulator = state.store_floor_c > state.slab_core_c;
        house.go_on(end_s, |at_s| run.weather.conditions(at_s).into());
    }
    true
}
