//! What asks for heat, and when it is warm enough. Never on a bare threshold, but in an emergency.

use super::super::View;
use super::super::demand::Wanted;
use crate::estimate::Flow;
use crate::fallback::CallOn;
use crate::reason::{Cause, What};
use crate::units::{Celsius, Kelvin};

/// Slab above the end of a frost run at which a call ends, K: wood keeps the slab from freezing, the
/// earth may warm it further.
const ENOUGH: Kelvin = Kelvin::from_milli(500);
/// Limits of the rows of the matrix that do not go by the slab.
const RETURN_COLD: Celsius = Celsius::from_milli(3_000);
const SUPPLY_COLD: Celsius = Celsius::from_milli(5_000);
const LEAVE_ABOVE: Kelvin = Kelvin::from_milli(1_000);

/// Is the loop running and yet not holding the slab, or not to be used?
fn not_holding(view: &View<'_>, store_hold: bool) -> bool {
    let ran = view.estimate.moving_for >= view.settings.holding_time;
    let falling = view
        .estimate
        .run_slope
        .is_some_and(|slope| slope < view.settings.holding_slope);
    let purged = view.estimate.flow == Flow::Flowing;
    (ran && purged && falling) || (store_hold && purged)
}

/// What calls for heat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Trigger {
    /// The slab is at its emergency temperature.
    Emergency,
    /// The slab is at the backup temperature and the loop does not hold it.
    Slab,
    /// The slab's water is at the backup temperature.
    Water,
    /// The outdoor mean is low.
    Outdoor,
    /// The return is cold.
    Return,
    /// The supply is cold.
    Supply,
    /// Nothing is known.
    Blind,
}

/// The condition that calls for heat, if one holds. Raising the supply never makes one hold.
pub(super) fn trigger(view: &View<'_>, demand: &Wanted, store_hold: bool) -> Option<Trigger> {
    let settings = view.settings;
    let estimate = view.estimate;
    let slab = view.slab_believed();
    let colder = |than: Celsius| slab.is_some_and(|slab| slab <= than);
    let by_slab = || {
        if colder(settings.backup_emergency) {
            Some(Trigger::Emergency)
        } else if colder(settings.backup_slab) && not_holding(view, store_hold) {
            Some(Trigger::Slab)
        } else {
            None
        }
    };
    let outdoor = || view.outdoor_mean_below(settings.backup_outdoor);
    let water = || {
        let cold = |water| water <= settings.backup_slab;
        estimate.water_slab.is_some_and(cold)
    };
    match view.row.call.on {
        CallOn::Everything => by_slab().or_else(|| {
            let below = slab.is_some_and(|slab| slab < demand.lower);
            let asks = below && view.is_winter() && outdoor() && not_holding(view, store_hold);
            asks.then_some(Trigger::Outdoor)
        }),
        CallOn::Slab => by_slab(),
        CallOn::WaterOrOutdoor if water() => Some(Trigger::Water),
        CallOn::WaterOrOutdoor => {
            let slab = view.slab().or(estimate.slab_at_least);
            let asks = outdoor() && slab.is_none_or(|slab| slab < demand.lower);
            asks.then_some(Trigger::Outdoor)
        }
        CallOn::Water => water().then_some(Trigger::Water),
        CallOn::Outdoor => outdoor().then_some(Trigger::Outdoor),
        CallOn::ColdReturn => {
            let ret = view.readings.ret.cold();
            ret.is_some_and(|ret| ret < RETURN_COLD)
                .then_some(Trigger::Return)
        }
        CallOn::ColdSupply => {
            let supply = view.readings.supply.cold();
            let cold = supply.is_some_and(|supply| supply < SUPPLY_COLD);
            (cold && view.is_winter() && estimate.flow == Flow::Flowing).then_some(Trigger::Supply)
        }
        CallOn::Blind => view.is_winter().then_some(Trigger::Blind),
    }
}

impl Trigger {
    /// The reading behind it, and its limit.
    pub(super) fn cause(self, view: &View<'_>) -> Cause {
        let (readings, estimate, settings) = (view.readings, view.estimate, view.settings);
        let known = |t: Option<Celsius>| t.unwrap_or(Celsius::ZERO); // it holds, so it is known
        let (what, value, limit, age) = match self {
            Self::Emergency => {
                let limit = settings.backup_emergency;
                (What::Slab, view.slab_believed(), limit, readings.slab.age)
            }
            Self::Slab => {
                let limit = settings.backup_slab;
                (What::Slab, view.slab_believed(), limit, readings.slab.age)
            }
            Self::Water => {
                let (water, age) = (estimate.water_slab, estimate.water_slab_age);
                (What::WaterSlab, water, settings.backup_slab, age)
            }
            Self::Outdoor => {
                let (mean, age) = (estimate.outdoor_mean, readings.outdoor.age);
                (What::OutdoorMean, mean, settings.backup_outdoor, age)
            }
            Self::Return => {
                let ret = &readings.ret;
                (What::Return, ret.cold(), RETURN_COLD, ret.age)
            }
            Self::Supply => {
                let supply = &readings.supply;
                (What::Supply, supply.cold(), SUPPLY_COLD, supply.age)
            }
            Self::Blind => return Cause::count(What::SensorsLost, 4),
        };
        Cause::point(what, known(value), limit, age)
    }
}

/// Slab at which a call for its sake ends, °C.
pub(super) fn enough_slab(view: &View<'_>) -> Celsius {
    view.settings.frost_off + ENOUGH
}

/// Is it warm enough to end what was asked for?
pub(super) fn enough(view: &View<'_>) -> bool {
    match view.row.call.on {
        CallOn::Everything | CallOn::Slab | CallOn::WaterOrOutdoor | CallOn::Water => {
            view.slab().is_none_or(|slab| slab >= enough_slab(view))
        }
        CallOn::Outdoor => !view.outdoor_mean_below(view.settings.backup_outdoor + LEAVE_ABOVE),
        CallOn::ColdReturn => view
            .readings
            .ret
            .value
            .is_none_or(|ret| ret >= RETURN_COLD + LEAVE_ABOVE + LEAVE_ABOVE),
        CallOn::ColdSupply => view
            .readings
            .supply
            .value
            .is_none_or(|supply| supply >= SUPPLY_COLD + LEAVE_ABOVE + LEAVE_ABOVE),
        CallOn::Blind => !view.is_winter(),
    }
}
