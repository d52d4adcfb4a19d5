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

/// The condition that calls for heat, if one holds. Raising the supply never makes one hold.
pub(super) fn trigger(view: &View<'_>, demand: &Wanted, store_hold: bool) -> Option<Cause> {
    let settings = view.settings;
    let age = view.readings.slab.age;
    let slab = view.slab_believed();
    let at_or_below = |limit: Celsius| {
        slab.filter(|slab| *slab <= limit)
            .map(|slab| Cause::point(What::Slab, slab, limit, age))
    };
    let by_slab = || {
        at_or_below(settings.backup_emergency)
            .or_else(|| at_or_below(settings.backup_slab).filter(|_| not_holding(view, store_hold)))
    };
    let outdoor = || {
        let mean = view.estimate.outdoor_mean?;
        (mean < settings.backup_outdoor).then(|| {
            Cause::point(
                What::OutdoorMean,
                mean,
                settings.backup_outdoor,
                view.readings.outdoor.age,
            )
        })
    };
    let by_water = || {
        let water = view.estimate.water_slab?;
        (water <= settings.backup_slab).then(|| {
            Cause::point(
                What::WaterSlab,
                water,
                settings.backup_slab,
                view.estimate.water_slab_age,
            )
        })
    };
    match view.row.call.on {
        CallOn::Everything => by_slab().or_else(|| {
            let below = slab.is_some_and(|slab| slab < demand.lower);
            let winter = view.is_winter();
            outdoor().filter(|_| winter && below && not_holding(view, store_hold))
        }),
        CallOn::Slab => by_slab(),
        CallOn::WaterOrOutdoor => by_water().or_else(|| {
            let water = view.slab().or(view.estimate.slab_at_least);
            outdoor().filter(|_| water.is_none_or(|slab| slab < demand.lower))
        }),
        CallOn::Water => by_water(),
        CallOn::Outdoor => outdoor(),
        CallOn::ColdReturn => view
            .readings
            .ret
            .cold()
            .filter(|ret| *ret < RETURN_COLD)
            .map(|ret| Cause::point(What::Return, ret, RETURN_COLD, view.readings.ret.age)),
        CallOn::ColdSupply => view
            .readings
            .supply
            .cold()
            .filter(|supply| {
                view.is_winter() && *supply < SUPPLY_COLD && view.estimate.flow == Flow::Flowing
            })
            .map(|supply| {
                Cause::point(What::Supply, supply, SUPPLY_COLD, view.readings.supply.age)
            }),
        CallOn::Blind => view.is_winter().then(|| Cause::count(What::SensorsLost, 4)),
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
