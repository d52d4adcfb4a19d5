//! Whoever tends the fire: when they come, and how much wood they put on.
//!
//! A person has habits and sleeps. A call is answered after a while, in the hours of sleep only as often a night as they get up;
//! a call that is not answered at night is answered in the morning, if it still stands.

use super::boiler::Surround;
use super::config::{HandFiredConfig, Tending};
use super::state::Told;

/// Nights are counted from noon to noon.
const NOON_H: f64 = 12.0;
/// A fire is fed when its wood has come down to this share of what it is filled up to. Status: judgement.
const FED_AT_SHARE: f64 = 0.1;

/// What tending the fire has come to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tended {
    /// Times wood was put on.
    pub feeds: u32,
    /// Of these, in the hours of sleep.
    pub wakings: u32,
    /// Nights, noon to noon, in which wood was put on.
    pub nights: u32,
}

/// The person.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Tender {
    /// Hour of day at the step before.
    last_hour: f64,
    /// How long the present call has waited for its fire, s.
    unanswered_s: f64,
    woken_tonight: u32,
    fed_tonight: bool,
    tended: Tended,
}

impl Tender {
    pub(super) const NEW: Self = Self {
        last_hour: f64::NAN,
        unanswered_s: 0.0,
        woken_tonight: 0,
        fed_tonight: false,
        tended: Tended {
            feeds: 0,
            wakings: 0,
            nights: 0,
        },
    };

    pub(super) const fn tended(&self) -> Tended {
        self.tended
    }

    /// One step of `dt_s`. `left_kg`: wood that still burns. `Some`: wood is put on until there is so much, kg, and lit if need be.
    pub(super) fn pass(
        &mut self,
        fire: &HandFiredConfig,
        dt_s: f64,
        call: bool,
        left_kg: f64,
        around: &Surround,
    ) -> Option<f64> {
        let struck = |hour: f64| self.last_hour < hour && around.hour >= hour;
        if struck(NOON_H) {
            (self.woken_tonight, self.fed_tonight) = (0, false);
        }
        let by_the_clock = match fire.tending {
            Tending::Daily { hours, below_c } => {
                hours.into_iter().any(struck) && around.air_c < below_c
            }
            Tending::Evening { hour, below_c } => struck(hour) && around.air_c < below_c,
            Tending::OnCall | Tending::ByAdvice | Tending::ByHand => false,
        };
        let (asked, up_to_kg) = match (fire.tending, around.told) {
            (Tending::ByHand | Tending::Daily { .. }, _) => (false, fire.load_kg()),
            (Tending::ByAdvice, Told::NoMoreWood) => (false, fire.load_kg()),
            (Tending::ByAdvice, Told::Light { kg, within_s }) => (within_s <= fire.answer_s, kg),
            (Tending::ByAdvice | Tending::OnCall | Tending::Evening { .. }, _) => {
                (call, fire.load_kg())
            }
        };
        let asleep = is_between(around.hour, fire.sleep_hours);
        let gets_up = !asleep || self.woken_tonight < fire.wakings;
        let needs_wood = left_kg < FED_AT_SHARE * up_to_kg;
        self.unanswered_s = if asked && needs_wood && gets_up {
            self.unanswered_s + dt_s
        } else {
            0.0
        };
        self.last_hour = around.hour;
        let called = self.unanswered_s > fire.answer_s;
        if !called && !by_the_clock || around.no_fuel {
            return None;
        }
        self.unanswered_s = 0.0;
        self.tended.feeds += 1;
        let woken = u32::from(asleep && called);
        self.woken_tonight += woken;
        self.tended.wakings += woken;
        self.tended.nights += u32::from(!self.fed_tonight);
        self.fed_tonight = true;
        Some(up_to_kg)
    }
}

/// Whether an hour of the day lies from the first on and before the second, over midnight if need be.
fn is_between(hour: f64, [from, until]: [f64; 2]) -> bool {
    if from <= until {
        (from..until).contains(&hour)
    } else {
        hour >= from || hour < until
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn around(hour: f64) -> Surround {
        Surround {
            air_c: -1.0,
            hour,
            fire_out: false,
            no_fuel: false,
            told: Told::Nothing,
        }
    }

    /// Steps of a minute from one noon to the next; `called` by the hour, and the wood is gone at once.
    fn night(fire: &HandFiredConfig, called: impl Fn(f64) -> bool) -> Vec<f64> {
        let mut tender = Tender::NEW;
        let mut came = Vec::new();
        for minute in 0..24 * 60 {
            let hour = (NOON_H + f64::from(minute) / 60.0) % 24.0;
            if tender
                .pass(fire, 60.0, called(hour), 0.0, &around(hour))
                .is_some()
            {
                came.push(hour);
            }
        }
        let wakings = came.iter().filter(|h| is_between(**h, fire.sleep_hours));
        assert_eq!(tender.tended().wakings as usize, wakings.count());
        assert_eq!(tender.tended().feeds as usize, came.len());
        assert_eq!(tender.tended().nights, u32::from(!came.is_empty()));
        came
    }

    fn on_call(wakings: u32) -> HandFiredConfig {
        HandFiredConfig {
            tending: Tending::OnCall,
            answer_s: 1_800.0,
            wakings,
            ..HandFiredConfig::default()
        }
    }

    #[test]
    fn a_person_gets_up_so_often_and_comes_in_the_morning() {
        let always = |_: f64| true;
        assert!(night(&on_call(99), always).len() > 40);
        let none = night(&on_call(0), always);
        let [from, until] = HandFiredConfig::default().sleep_hours;
        assert!(none.iter().all(|hour| !is_between(*hour, [from, until])));
        let first = none.iter().find(|hour| **hour < NOON_H).expect("comes");
        assert!((until + 0.5..until + 0.6).contains(first), "{first}");
        let twice = night(&on_call(2), always);
        assert_eq!(twice.len(), none.len() + 2);
    }

    #[test]
    fn an_evening_fire_is_lit_once_and_fed_when_it_calls() {
        let fire = HandFiredConfig {
            tending: Tending::Evening {
                hour: 20.0,
                below_c: 0.0,
            },
            ..HandFiredConfig::default()
        };
        assert_eq!(night(&fire, |_| false), [20.0]);
        assert_eq!(night(&fire, |hour| (2.0..2.5).contains(&hour)).len(), 2);
        let milder = HandFiredConfig {
            tending: Tending::Evening {
                hour: 20.0,
                below_c: -5.0,
            },
            ..fire
        };
        assert_eq!(night(&milder, |_| false), [0.0; 0]);
    }

    #[test]
    fn advice_is_followed_in_time_and_no_more_wood_is_put_on_against_it() {
        let fire = HandFiredConfig {
            tending: Tending::ByAdvice,
            ..on_call(99)
        };
        let after = |told: Told, call: bool, minutes: u32| {
            let mut tender = Tender::NEW;
            let around = Surround {
                told,
                ..around(15.0)
            };
            (0..minutes).find_map(|_| tender.pass(&fire, 60.0, call, 0.0, &around))
        };
        let light = |within_s| Told::Light { kg: 3.0, within_s };
        assert_eq!(after(light(0.0), false, 30), None);
        assert_eq!(after(light(0.0), false, 31), Some(3.0));
        // There is time yet.
        assert_eq!(after(light(3_600.0), false, 600), None);
        assert_eq!(after(Told::NoMoreWood, true, 600), None);
        // Told nothing, a person answers the call.
        assert_eq!(after(Told::Nothing, true, 31), Some(fire.charge_kg));
    }
}
