//! How little would do: the same house and weather, steered by somebody who knows the weather to come.
//!
//! Neither line is a proof. Both run a simple rule with perfect foresight in the house's own model, so no control without foresight
//! should be expected to do better by much; what lies between a control and these lines is what better rules could still gain.

use super::count::Count;
use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::closed_loop::{ClosedLoop, Pace, Stretch};
use crate::sim::plant::adjust::Shift;
use crate::sim::plant::config::{BoilerKind, HandFiredConfig, Tending};
use crate::sim::plant::{Plant, PlantConfig, Relays};
use crate::sim::tally::Tally;
use crate::sim::weather::Series;

/// What is known of a foresight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Foresight {
    /// Heat exactly as much as keeps the slab at its target, straight into it; the circulator runs only when the slab alone would fall
    /// below its target within six hours.
    IdealHeat,
    /// The fire of the house, lit half an hour before it is needed with just the wood that holds the slab for nine hours, and
    /// burnt out.
    SizedFire,
}

impl Foresight {
    /// Both.
    pub const ALL: [Self; 2] = [Self::IdealHeat, Self::SizedFire];

    /// In words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::IdealHeat => "foresight: heat as much as needed",
            Self::SizedFire => "foresight: one sized fire at a time",
        }
    }
}

const STEP_S: u64 = 60;
const MINUTE: u64 = 60;
const HOUR: u64 = 3_600;
const DAY_S: u64 = 86_400;
const NOON_S: u64 = 43_200;
/// How often the circulator's and the fire's need is asked.
const PUMP_EVERY_S: u64 = 30 * MINUTE;
const FIRE_EVERY_S: u64 = 5 * MINUTE;
/// The circulator runs if the slab alone would fall below its target within this. Of 3 to 72 h those of 3 to 9 h needed least
/// electricity for within 3 % of the least heat.
const PUMP_AHEAD_S: u64 = 6 * HOUR;
/// Store above slab at which the circulator starts and below which it stops, K.
const PUMP_ON_K: f64 = 1.0;
const PUMP_OFF_K: f64 = 0.6;
/// Just in time: so much above the target the store is drawn on whatever comes, K.
const JUST_IN_TIME_K: f64 = 0.15;
/// A fire is lit so long before the slab would fall below its target, and has to hold it so long. Of 2 to 16 h the wood
/// differed by a tenth.
const LEAD_S: u64 = 30 * MINUTE;
const HOLD_S: u64 = 9 * HOUR;
/// Slab above its target from which on no fire can be needed within the lead, K.
const FAR_K: f64 = 3.0;
/// Heat of a fire without wood at which it counts as burnt out, W.
const BURNT_W: f64 = 500.0;
/// Halvings of the charge in the search for the least that holds.
const HALVINGS: u32 = 9;

/// Runs one winter.
///
/// # Errors
/// Ctrl-C.
pub fn count(
    foresight: Foresight,
    plant: &PlantConfig,
    weather: &Series,
    target_c: f64,
    cancel: &Cancel,
) -> Result<Option<Count>, Cancelled> {
    let mut config = plant.clone();
    config.start.ground_day = weather.conditions(0).day_of_year;
    let fire = fire_of(&mut config);
    if foresight == Foresight::SizedFire && fire.is_none() {
        return Ok(None);
    }
    if foresight == Foresight::IdealHeat {
        config.boiler = None;
    }
    Oracle {
        weather,
        target_c,
        fire: fire.filter(|_| foresight == Foresight::SizedFire),
    }
    .run(&config, fire, cancel)
    .map(Some)
}

/// Takes the fire from whoever tends it.
fn fire_of(config: &mut PlantConfig) -> Option<HandFiredConfig> {
    match &mut config.boiler.as_mut()?.kind {
        BoilerKind::HandFired(fire) => {
            fire.tending = Tending::ByHand;
            Some(*fire)
        }
        BoilerKind::Injection { .. } => None,
    }
}

struct Oracle<'a> {
    weather: &'a Series,
    target_c: f64,
    /// The fire, if there is one to be laid.
    fire: Option<HandFiredConfig>,
}

/// The house and whether its fire is to give heat.
#[derive(Clone)]
struct House {
    house: ClosedLoop,
    calling: bool,
}

impl House {
    fn slab_c(&self) -> f64 {
        self.house.plant.truth().slab_c
    }

    fn light(&mut self, load_kg: f64) {
        self.house.plant.load_fuel(load_kg);
        self.house.plant.light_fire();
        self.calling = true;
    }
}

impl Oracle<'_> {
    fn run(
        &self,
        config: &PlantConfig,
        wood: Option<HandFiredConfig>,
        cancel: &Cancel,
    ) -> Result<Count, Cancelled> {
        let mut house = House {
            house: ClosedLoop::new(Plant::new(config, 1), 0, Pace::HEATED),
            calling: false,
        };
        let mut tally = Tally::new(&house.house.plant, self.target_c);
        let slab_kwh_k = config.house.floor_area_m2()
            * config.floor.thickness_m
            * config.floor.heat_capacity_j_m3k
            / 3.6e6;
        let (mut feeds, mut ideal_kwh) = (0, 0.0);
        let (mut ideal_nights, mut ideal_tonight) = (0, false);
        let mut needs_pump = false;
        while house.house.now_s() < self.weather.duration_s() {
            let now_s = house.house.now_s();
            if now_s.is_multiple_of(PUMP_EVERY_S) {
                cancel.check()?;
                needs_pump = self.falls_at_rest(&house);
            }
            if now_s.is_multiple_of(FIRE_EVERY_S)
                && !house.calling
                && let Some(load_kg) = self.load_kg(&house)
            {
                house.light(load_kg);
                feeds += 1;
            }
            self.step(&mut house, needs_pump, &mut |stretch, plant| {
                tally.add(stretch, plant);
            });
            let lacks_k = self.target_c - house.slab_c();
            if self.fire.is_none() && lacks_k > 0.0 {
                house.house.plant.shift(&Shift {
                    slab_core_k: lacks_k,
                    slab_beside_k: lacks_k,
                    ..Shift::default()
                });
                ideal_kwh += lacks_k * slab_kwh_k;
                ideal_tonight = true;
            }
            if (house.house.now_s() + NOON_S).is_multiple_of(DAY_S) {
                ideal_nights += u32::from(std::mem::take(&mut ideal_tonight));
            }
        }
        let season = tally.finish(&house.house.plant);
        let mut count = Count {
            feeds,
            fed_nights: season.nights_with_fire,
            ..Count::of(&season)
        };
        if self.fire.is_none() {
            let kwh_kg = wood.map(|fire| fire.efficiency * fire.wood_j_kg / 3.6e6);
            count.wood_kg = kwh_kg.map_or(0.0, |kwh_kg| ideal_kwh / kwh_kg);
            count.boiler_heat_kwh = ideal_kwh;
            (count.nights_with_fire, count.fed_nights) = (ideal_nights, ideal_nights);
        }
        Ok(count)
    }

    /// One minute: the circulator where the store has something to give, or a fire burns out.
    fn step(&self, house: &mut House, needs_pump: bool, seen: &mut impl FnMut(&Stretch, &Plant)) {
        let truth = house.house.plant.true_state();
        if house.calling && !truth.fire_alight && truth.fire_w < BURNT_W {
            house.calling = false;
        }
        let difference_k = truth.store_floor_c - truth.slab_core_c;
        let least_k = if house.house.relays.circulator {
            PUMP_OFF_K
        } else {
            PUMP_ON_K
        };
        let late = house.slab_c() < self.target_c + JUST_IN_TIME_K;
        house.house.relays = Relays {
            circulator: (needs_pump || late) && difference_k > least_k || house.calling,
            boiler_call: house.calling,
        };
        let end_s = house.house.now_s() + STEP_S;
        while house.house.now_s() < end_s {
            let stretch =
                house
                    .house
                    .go_on_with(house.house.relays, house.calling, end_s, |at_s| {
                        self.weather.conditions(at_s).into()
                    });
            seen(&stretch, &house.house.plant);
        }
    }

    /// Would the slab alone fall below its target before long?
    fn falls_at_rest(&self, house: &House) -> bool {
        let mut alone = house.clone();
        alone.house.relays = Relays::default();
        let end_s = (alone.house.now_s() + PUMP_AHEAD_S).min(self.weather.duration_s());
        while alone.house.now_s() < end_s {
            alone
                .house
                .go_on(end_s, |at_s| self.weather.conditions(at_s).into());
            if alone.slab_c() < self.target_c {
                return true;
            }
        }
        false
    }

    /// Does the slab hold for so long from now on, judged after the first `after_s`?
    fn holds(&self, mut house: House, for_s: u64, after_s: u64) -> bool {
        let from_s = house.house.now_s() + after_s;
        let end_s = (house.house.now_s() + for_s).min(self.weather.duration_s());
        while house.house.now_s() < end_s {
            self.step(&mut house, true, &mut |_, _| {});
            if house.house.now_s() > from_s && house.slab_c() < self.target_c {
                return false;
            }
        }
        true
    }

    /// The least wood, kg, that holds the slab, if a fire has to be lit now.
    fn load_kg(&self, house: &House) -> Option<f64> {
        let fire = self.fire?;
        let near = house.slab_c() < self.target_c + FAR_K;
        if !near || self.holds(house.clone(), LEAD_S, 0) {
            return None;
        }
        let holds = |load_kg: f64| {
            let mut lit = house.clone();
            lit.light(load_kg);
            self.holds(lit, HOLD_S, LEAD_S)
        };
        if !holds(fire.charge_kg) {
            return Some(fire.charge_kg);
        }
        let (mut less, mut enough) = (0.0, fire.charge_kg);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (less + enough);
            if holds(middle) {
                enough = middle;
            } else {
                less = middle;
            }
        }
        Some(enough)
    }
}
