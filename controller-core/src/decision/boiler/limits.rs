//! What ends a call at once, and keeps the next from starting.

use super::super::{OUTLIVES_SENSOR, View, no_flow};
use super::is_emergency;
use crate::time::Duration;
use crate::units::Celsius;

/// Return limit in an emergency, °C: plants before the food store.
const RETURN_EMERGENCY: Celsius = Celsius::from_milli(25_000);

/// What ends a call at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Limit {
    SupplySoft,
    Return,
    SlabMax,
    /// No water moves, or the water contradicts what asks for heat.
    Water,
}

/// For each limit the time since it was last seen to stand; [`Duration::MAX`] for over. A limit
/// outlives its sensor by an hour: losing a reading never lets heat in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Limits {
    supply: Duration,
    ret: Duration,
    slab: Duration,
    water: Duration,
}

impl Limits {
    pub(super) const NONE: Self = Self {
        supply: Duration::MAX,
        ret: Duration::MAX,
        slab: Duration::MAX,
        water: Duration::MAX,
    };

    pub(super) fn update(&mut self, view: &View<'_>) -> Option<Limit> {
        let next = |before: Duration, stands: Option<bool>| match stands {
            Some(true) => Duration::ZERO,
            Some(false) => Duration::MAX,
            None => before + view.step,
        };
        let readings = view.readings;
        let settings = view.settings;
        let soft = settings.soft_limit().min(view.row.call.supply_soft);
        let pipe_lost = readings.supply.is_lost() || readings.ret.is_lost();
        self.supply = next(self.supply, readings.supply.hot().map(|t| t >= soft));
        self.ret = next(
            self.ret,
            match return_limit(view) {
                Some(cap) => readings.ret.hot().map(|t| t >= cap),
                None => Some(false),
            },
        );
        self.slab = next(
            self.slab,
            readings.slab.value.map(|t| t >= settings.slab_max),
        );
        let water = no_flow(view.estimate.flow_proof)
            || view.estimate.slab_reads_low
            || view.estimate.swapped;
        self.water = next(self.water, (water || !pipe_lost).then_some(water));
        self.standing()
    }

    pub(super) fn standing(&self) -> Option<Limit> {
        if self.supply < OUTLIVES_SENSOR {
            Some(Limit::SupplySoft)
        } else if self.ret < OUTLIVES_SENSOR {
            Some(Limit::Return)
        } else if self.slab < OUTLIVES_SENSOR {
            Some(Limit::SlabMax)
        } else if self.water < OUTLIVES_SENSOR {
            Some(Limit::Water)
        } else {
            None
        }
    }
}

/// Return that ends a call, °C; the store's limit is lifted in an emergency.
fn return_limit(view: &View<'_>) -> Option<Celsius> {
    let settings = view.settings;
    let to_store = settings.return_to_store.then(|| {
        if is_emergency(view) {
            RETURN_EMERGENCY
        } else {
            settings.return_limit()
        }
    });
    match (view.row.call.return_stop, to_store) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (one, other) => one.or(other),
    }
}
