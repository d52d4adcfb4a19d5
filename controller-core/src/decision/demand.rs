//! Is heat wanted for the slab? A band around a set temperature that is raised a little in cold
//! weather, and a look ahead, since a slab answers in hours.

use super::View;
use crate::reason::{Cause, What};
use crate::units::{Celsius, Kelvin};

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Demand {
    calling: bool,
    early: bool,
}

/// What the slab wants.
#[derive(Clone, Copy)]
pub(super) struct Wanted {
    pub(super) wanted: bool,
    /// Wanted only because of the look ahead.
    pub(super) early: bool,
    pub(super) slab_set: Celsius,
    /// Lower edge of the band.
    pub(super) lower: Celsius,
    pub(super) cause: Cause,
}

/// Outdoor air above which the look ahead starts nothing. Status: judgement.
const NO_FROST_AIR: Celsius = Celsius::from_milli(3_000);

impl Demand {
    pub(super) const NEW: Self = Self {
        calling: false,
        early: false,
    };

    pub(super) fn update(&mut self, view: &View<'_>) -> Wanted {
        let settings = view.settings;
        let colder = view
            .estimate
            .outdoor_mean
            .map_or(Kelvin::ZERO, |mean| settings.reset_start - mean);
        let raise = colder
            .scaled(settings.reset_gain)
            .min(settings.reset_max)
            .max(Kelvin::ZERO);
        let slab_set = settings.slab_set + raise;
        let half = settings.slab_band.half();
        let (lower, upper) = (slab_set - half, slab_set + half);
        let age = view.readings.slab.age;
        let none = |wanted, cause| Wanted {
            wanted,
            early: false,
            slab_set,
            lower,
            cause,
        };
        if !view.is_winter() {
            *self = Self::NEW;
            return none(false, Cause::NONE);
        }
        let Some(slab) = view.slab() else {
            // Nobody knows: heat is wanted, as far as it is worth having.
            self.calling = true;
            return none(true, Cause::NONE);
        };
        self.calling = if self.calling {
            slab < upper
        } else {
            slab <= lower
        };
        // Once early, until the prediction is back at the centre.
        let limit = if self.early { slab_set } else { lower };
        let ahead = view.estimate.slab_ahead.filter(|ahead| {
            *ahead < limit && slab < upper && view.estimate.outdoor_cold < NO_FROST_AIR
        });
        self.early = ahead.is_some();
        if self.calling {
            return none(true, Cause::point(What::Slab, slab, lower, age));
        }
        match ahead {
            Some(ahead) => Wanted {
                wanted: true,
                early: true,
                slab_set,
                lower,
                cause: Cause::point(What::SlabAhead, ahead, limit, age),
            },
            None => none(false, Cause::point(What::Slab, slab, upper, age)),
        }
    }
}
