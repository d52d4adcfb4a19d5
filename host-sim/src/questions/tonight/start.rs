//! The state of the house now, from a few readings or from a log.
//!
//! Two readings, slab and store, cannot tell the state of some two hundred cells. The rest is filled in by running the house through
//! the day before (two days where there is a log) and leading it to what is known on the way: with a log to the logged slab and store,
//! without one to where a free run would have come from to reach the present slab. So the slab has the profile of a floor that
//! lost heat to this evening's air, the air and the tubes are in tune with it, the controller has its means and slopes, and the earth
//! below has been drawn by the loop's own runs. What stays unknown (how long the store has been drawn, how the slab beside
//! the sensor differs, what the sensors err) is drawn anew for every member; see [`StartSpread`].

use super::forecast::Outlook;
use super::night::{Course, House, Rule, SAMPLE_S};
use super::weather::MemberWeather;
use crate::sim::plant::adjust::Shift;
use crate::sim::plant::config::{BoilerKind, SensorConfig, Tending};
use crate::sim::plant::{Plant, PlantConfig, TrueState};
use crate::sim::season::Variant;
use controller_core::settings::Settings;

/// Days the store is taken to have been drawn (estimate; varied from member to member).
const DRAWN_DAYS: f64 = 10.0;
/// Spread of its logarithm: a third of the members lie beyond 4.5 and 22 days.
const DRAWN_SPREAD: f64 = 0.8;
/// The slab beside the sensor, K: its profile and the zones, with a log and without one (estimates; compared with whole winters in
/// docs/tonight.md).
const BESIDE_K: [f64; 2] = [0.15, 0.30];
/// The store's floor against its air, K, with a log and without one (estimates, as above).
const FLOOR_K: [f64; 2] = [0.25, 0.50];
/// A reading typed to half a unit of its last digit, K (common practice, no source).
const TYPED_K: f64 = 0.25;

/// Length of the history run before the present, s.
pub(super) const HISTORY_S: u64 = 86_400;
/// The same with a log.
pub(super) const LOGGED_HISTORY_S: u64 = 2 * 86_400;
/// Stretch over which a house without a log is led to its reading, s.
const LED_S: f64 = 12.0 * 3600.0;
/// How fast slab and store are led to what is known, share of the difference each ten minutes.
const SLAB_LEAD: f64 = 0.3;
const STORE_LEAD: f64 = 0.15;

/// A logged quantity on the axis, in equal steps; `None` where the log has nothing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Track {
    /// Second of the axis of the first value.
    pub start_s: u64,
    /// The values, one every ten minutes.
    pub values: Vec<Option<f64>>,
}

impl Track {
    /// The value at a second, linearly between neighbours; `None` outside or beside a gap.
    #[must_use]
    pub fn at(&self, second: u64) -> Option<f64> {
        let since = second.checked_sub(self.start_s)?;
        let index = (since / SAMPLE_S) as usize;
        let from = (*self.values.get(index)?)?;
        let share = (since % SAMPLE_S) as f64 / SAMPLE_S as f64;
        if share == 0.0 {
            return Some(from);
        }
        let to = (*self.values.get(index + 1)?)?;
        Some(from + (to - from) * share)
    }
}

/// What a log tells of the time before now.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct History {
    /// Where the log begins, s of the axis.
    pub start_s: u64,
    /// Outdoor air, °C.
    pub outdoor_c: Track,
    /// Slab, °C.
    pub slab_c: Track,
    /// Store air, °C; all `None` where it is not logged.
    pub store_c: Track,
}

/// The store, as it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StoreReading {
    /// Its air, from a thermometer, °C.
    Air(f64),
    /// Its floor at the tubes, from the water of a run, °C.
    Floor(f64),
}

impl StoreReading {
    /// The temperature, °C.
    #[must_use]
    pub fn celsius(self) -> f64 {
        match self {
            StoreReading::Air(c) | StoreReading::Floor(c) => c,
        }
    }
}

/// Readings of the present.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Present {
    /// Slab, °C.
    pub slab_c: f64,
    /// Store.
    pub store: StoreReading,
    /// Outdoor air, °C, if read.
    pub outdoor_c: Option<f64>,
    /// Whether slab and store were typed rather than logged.
    pub typed: bool,
}

/// Standard deviations of the start, K.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StartSpread {
    /// The slab's reading.
    pub slab_k: f64,
    /// The slab beside it.
    pub beside_k: f64,
    /// The store's reading.
    pub store_k: f64,
    /// The store's floor against it.
    pub floor_k: f64,
}

impl StartSpread {
    fn new(present: &Present, logged: bool, plant: &PlantConfig) -> StartSpread {
        let sensor = |config: &SensorConfig| {
            let typed = if present.typed { TYPED_K } else { 0.0 };
            let step = config.resolution_k / 12.0_f64.sqrt();
            let parts = [config.scatter_k, config.noise_k, step, typed];
            parts.iter().map(|k| k * k).sum::<f64>().sqrt()
        };
        let which = usize::from(!logged);
        StartSpread {
            slab_k: sensor(&plant.sensors.slab),
            beside_k: BESIDE_K[which],
            store_k: sensor(&plant.sensors.store),
            floor_k: match present.store {
                StoreReading::Air(_) => FLOOR_K[which],
                // The water tells of the floor itself, through two sensors of which the pair's error counts twice and more.
                StoreReading::Floor(_) => 2.0 * sensor(&plant.sensors.supply),
            },
        }
    }
}

/// Standard normal numbers of one member's start.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct StartDraw {
    pub(super) slab: f64,
    pub(super) beside: f64,
    pub(super) store: f64,
    pub(super) floor: f64,
    pub(super) drawn: f64,
}

/// The house as it stands now, best guess.
#[derive(Clone, Debug)]
pub(super) struct Start {
    /// Plant and controller, the latter with the settings as given but for the boiler, of which it knows nothing.
    pub(super) house: House,
    /// The plain rule in the same state.
    pub(super) rule: Rule,
    /// What is not known of it.
    pub(super) spread: StartSpread,
    /// How far the store stands from undisturbed ground, K.
    below_undisturbed_k: f64,
}

impl Start {
    /// Settles a house. `plant` should have no person feeding its boiler; see [`by_hand`].
    pub(super) fn settle(
        plant: &PlantConfig,
        settings: &Settings,
        outlook: &Outlook,
        present: &Present,
        history: Option<&History>,
        seed: u64,
    ) -> Start {
        let now_s = outlook.axis.now_s;
        let begin_s = history.map_or(now_s - HISTORY_S, |history| {
            history.start_s.max(now_s - LOGGED_HISTORY_S)
        });
        let weather = MemberWeather::forecast(outlook);
        let at = |second: u64| weather.at(second);
        let (_, quiet) = Variant::WithoutBoiler.apply(plant, settings);

        let mut config = plant.clone();
        config.start.ground_day = at(begin_s).ground_day;
        config.start.slab_c = history
            .and_then(|history| history.slab_c.at(begin_s))
            .unwrap_or(present.slab_c);
        let mut cold = Plant::new(&config, seed);
        cold.prepare_copies();
        let store_then = history
            .and_then(|history| history.store_c.at(begin_s))
            .map_or(present.store, StoreReading::Air);
        let below_undisturbed_k = lead_store(&mut cold, store_then, 1.0);

        // A free run first: where would the slab be, and how did it come there?
        let mut rule = Rule::new(settings, plant);
        let mut free_c = Vec::new();
        let mut free = cold.clone();
        rule.run(&mut free, begin_s, now_s, &at, |_, plant| {
            free_c.push(plant.truth().slab_c);
        });
        let missed_k = present.slab_c - free.truth().slab_c;
        let wanted_c = |second: u64| match history {
            Some(history) => history.slab_c.at(second),
            None => {
                let left = (now_s - second) as f64 / LED_S;
                let index = ((second - begin_s) / SAMPLE_S) as usize;
                let free_c = free_c.get(index.saturating_sub(1))?;
                (left < 1.0).then_some(free_c + missed_k * (1.0 - left))
            }
        };

        let mut house = House::new(cold, &quiet, begin_s);
        let mut second = begin_s;
        while second < now_s {
            second = (second - second % SAMPLE_S + SAMPLE_S).min(now_s);
            house.run(second, &at, None, &mut Course::default());
            if let Some(wanted_c) = wanted_c(second) {
                let off = wanted_c - house.plant().truth().slab_c;
                lead_slab(house.plant_mut(), off * SLAB_LEAD);
            }
            let store = history
                .and_then(|history| history.store_c.at(second))
                .map(StoreReading::Air);
            if let Some(store) = store {
                lead_store(house.plant_mut(), store, STORE_LEAD);
            }
        }
        let off = present.slab_c - house.plant().truth().slab_c;
        lead_slab(house.plant_mut(), off);
        lead_store(house.plant_mut(), present.store, 1.0);
        Start {
            rule: rule.running(house.relays().circulator),
            house,
            spread: StartSpread::new(present, history.is_some(), plant),
            below_undisturbed_k,
        }
    }

    /// The shifts that make a member's start of the best guess.
    pub(super) fn apply(&self, plant: &mut Plant, draw: &StartDraw) {
        let spread = &self.spread;
        let slab_k = draw.slab * spread.slab_k;
        let store_k = draw.store * spread.store_k;
        let nominal_s = DRAWN_DAYS * 86_400.0;
        plant.shift(&Shift {
            slab_core_k: slab_k,
            slab_beside_k: slab_k + draw.beside * spread.beside_k,
            store_floor_k: store_k + draw.floor * spread.floor_k - self.below_undisturbed_k,
            store_air_k: store_k,
            drawn_s: nominal_s,
            ..Shift::default()
        });
        // The same change at the floor, but deeper or shallower in the earth.
        plant.shift(&Shift {
            store_floor_k: self.below_undisturbed_k,
            drawn_s: nominal_s * libm::exp(DRAWN_SPREAD * draw.drawn),
            ..Shift::default()
        });
    }
}

/// The same plant with a boiler nobody feeds unless told.
pub(super) fn by_hand(plant: &PlantConfig) -> PlantConfig {
    let mut plant = plant.clone();
    if let Some(boiler) = &mut plant.boiler
        && let BoilerKind::HandFired(fire) = &mut boiler.kind
    {
        fire.tending = Tending::ByHand;
    }
    plant
}

fn lead_slab(plant: &mut Plant, kelvin: f64) {
    plant.shift(&Shift {
        slab_core_k: kelvin,
        slab_beside_k: kelvin,
        ..Shift::default()
    });
}

/// Moves the store a share of the way to a reading; returns by how much, K.
fn lead_store(plant: &mut Plant, store: StoreReading, share: f64) -> f64 {
    let TrueState {
        store_air_c,
        store_floor_c,
        ..
    } = plant.true_state();
    let off = match store {
        StoreReading::Air(air_c) => air_c - store_air_c,
        StoreReading::Floor(floor_c) => floor_c - store_floor_c,
    } * share;
    plant.shift(&Shift {
        store_floor_k: off,
        store_air_k: off,
        drawn_s: DRAWN_DAYS * 86_400.0,
        ..Shift::default()
    });
    off
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_track_is_read_between_its_values_and_not_across_a_gap() {
        let track = Track {
            start_s: 1_200,
            values: vec![Some(2.0), Some(3.0), None, Some(5.0)],
        };
        assert_eq!(track.at(600), None);
        assert_eq!(track.at(1_200), Some(2.0));
        assert_eq!(track.at(1_500), Some(2.5));
        assert_eq!(track.at(1_800), Some(3.0));
        assert_eq!(track.at(2_100), None);
        assert_eq!(track.at(3_000), Some(5.0));
        assert_eq!(track.at(3_001), None);
    }
}
