//! What whoever feeds a fire by hand is told: so much wood within so long, or no more.
//!
//! The slab counts as one body: it goes on falling as it has fallen lately without boiler heat, and each kilogram of wood lifts it
//! by the same. So the wood that ends the need is
//!
//! ```text
//! N = (end of the call − slab + fall × time until the wood has burnt) / rise by a kilogram
//! ```
//!
//! in kg, K, K/h and h: the heat balance of a lumped capacity (any text book on heat transfer), and the time until the call is
//! due is (slab − call) / fall. It says nothing of the relay: the boiler is called as ever.

use super::View;
use super::boiler::{self, CALL_WIDTH};
use super::fall::Fall;
use crate::reason::words;
use crate::settings::BoilerKind;
use crate::time::Duration;
use crate::units::{Celsius, Kelvin, KelvinPerHour};

words! {
    /// What is said about wood.
    WoodRequest {
        /// Nothing: no fire is fed by hand, the slab is in doubt, or a limit stands against a call.
        Nothing = "",
        /// Have so much in the fire within so long; wood that still burns counts.
        Light = "light",
        /// No more wood: the slab is warm enough, or does not fall.
        NoMore = "no_more",
    }
}

/// The advice on wood.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct WoodAdvice {
    /// Which.
    pub request: WoodRequest,
    /// Wood that should lie in the fire, kg; zero but for [`WoodRequest::Light`].
    pub kg: u8,
    /// Minutes until heat is wanted; zero for now.
    pub within_min: u8,
}

/// A call that is further off than this is not told: until then the store may end the fall. Status: judgement.
const AHEAD: Duration = Duration::from_mins(90);
/// Time until a load has burnt, over which the slab goes on losing. Status: judgement; 5 kg at 12 kW.
const BURNS_FOR: Duration = Duration::from_hours(1);
/// Boiler heat is through the slab this long after a call.
const SETTLED: Duration = Duration::from_mins(30);
/// The word is worked out anew so often, and at every step while wood is asked for.
const EVERY: Duration = Duration::from_mins(1);

/// What the advice follows from.
#[derive(Clone, Copy, Debug)]
struct Need {
    /// The slab as it counts.
    slab: Celsius,
    /// Its fall without boiler heat, zero or more.
    fall: KelvinPerHour,
    /// Slab at which the boiler is called.
    call_at: Celsius,
    /// Heat is wanted now.
    called: bool,
    /// Rise by a kilogram of wood, more than zero.
    rise: Kelvin,
    /// Most wood that fits, kg.
    most_kg: u8,
}

fn advise(need: &Need) -> WoodAdvice {
    let over = need.slab - need.call_at;
    let no_more = WoodAdvice {
        request: WoodRequest::NoMore,
        ..WoodAdvice::default()
    };
    if !need.called && need.fall.during(AHEAD) < over {
        return no_more;
    }
    let within_min = if need.called {
        0
    } else {
        let minutes = quotient(over, need.fall.to_bits(), 60);
        u8::try_from(minutes).unwrap_or(u8::MAX)
    };
    let missing = CALL_WIDTH - over + need.fall.during(BURNS_FOR);
    let kg = quotient(
        missing + (need.rise - Kelvin::from_bits(1)),
        need.rise.to_bits(),
        1,
    );
    let kg = u8::try_from(kg).unwrap_or(u8::MAX);
    WoodAdvice {
        request: WoodRequest::Light,
        kg: kg.max(1).min(need.most_kg),
        within_min,
    }
}

/// `times` · `of` / `by`, whole, rounded down; zero if it would be negative or nothing divides.
pub(super) fn quotient(of: Kelvin, by: i32, times: i64) -> u32 {
    let whole = i64::from(of.to_bits())
        .wrapping_mul(times) // 32 bits by a minute's 60 fit into 64
        .checked_div(i64::from(by));
    let whole = whole.unwrap_or(0).max(0);
    u32::try_from(whole).unwrap_or(u32::MAX)
}

/// Memory: how the slab falls, and the advice as it was last worked out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Fire {
    fall: Fall,
    said_for: Duration,
    said: WoodAdvice,
}

impl Fire {
    pub(super) const NEW: Self = Self {
        fall: Fall::UNKNOWN,
        said_for: EVERY,
        said: WoodAdvice {
            request: WoodRequest::Nothing,
            kg: 0,
            within_min: 0,
        },
    };

    /// One step; `stopped`: no call is allowed whatever is wanted.
    pub(super) fn update(
        &mut self,
        view: &View<'_>,
        boiler: &boiler::Report,
        stopped: bool,
    ) -> WoodAdvice {
        self.said_for = self.said_for + view.step;
        if self.said_for < EVERY && self.said.request != WoodRequest::Light {
            return self.said;
        }
        let barred = boiler.barred || stopped;
        let unheated = !view.guard.boiler && view.guard.boiler_off_for >= SETTLED;
        let slab = view.estimate.slab.filter(|_| unheated);
        self.fall.update(slab, self.said_for);
        self.said_for = Duration::ZERO;
        self.said = self.say(view, boiler, barred);
        self.said
    }

    fn say(&self, view: &View<'_>, boiler: &boiler::Report, barred: bool) -> WoodAdvice {
        let settings = view.settings;
        let by_hand = settings.boiler == BoilerKind::Firing && settings.wood_most > 0;
        // A slab in doubt says too little: then a person who hears nothing answers the call with as much as usual.
        let sure = view.spare() == Kelvin::ZERO && !boiler.by_water;
        let (Some(slab), true) = (view.estimate.slab, by_hand && sure) else {
            return WoodAdvice::default();
        };
        let call_at = settings.backup_slab;
        let fall = self.fall.per_hour();
        // Near the call nobody is sent to bed before the fall has been measured.
        if fall.is_none() && !boiler.wanted && slab < call_at + CALL_WIDTH {
            return WoodAdvice::default();
        }
        let said = advise(&Need {
            slab,
            fall: fall.unwrap_or(KelvinPerHour::ZERO),
            call_at,
            called: boiler.wanted,
            rise: settings.wood_rise,
            most_kg: settings.wood_most,
        });
        if barred && said.request == WoodRequest::Light {
            return WoodAdvice::default();
        }
        said
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEMO: Need = Need {
        slab: Celsius::from_milli(2_500),
        fall: KelvinPerHour::from_milli(400),
        call_at: Celsius::from_milli(2_500),
        called: true,
        rise: Kelvin::from_milli(1_000),
        most_kg: 25,
    };

    fn light(kg: u8, within_min: u8) -> WoodAdvice {
        WoodAdvice {
            request: WoodRequest::Light,
            kg,
            within_min,
        }
    }

    #[test]
    fn wood_follows_from_what_the_slab_lacks_and_goes_on_losing() {
        // By hand: (3.5 − 2.5 + 0.4 · 1) / 1 = 1.4, so two.
        assert_eq!(advise(&DEMO), light(2, 0));
        // (3.5 − 0.5 + 1.2) / 1 = 4.2, so five; at half the rise 8.4, so nine; what fits is the end of it.
        let colder = Need {
            slab: Celsius::from_milli(500),
            fall: KelvinPerHour::from_milli(1_200),
            ..DEMO
        };
        assert_eq!(advise(&colder), light(5, 0));
        let larger = Need {
            rise: Kelvin::from_milli(500),
            ..colder
        };
        assert_eq!(advise(&larger), light(9, 0));
        assert_eq!(
            advise(&Need {
                most_kg: 6,
                ..larger
            }),
            light(6, 0)
        );
        // Exactly so much takes no more.
        let exact = Need {
            fall: KelvinPerHour::ZERO,
            ..DEMO
        };
        assert_eq!(advise(&exact), light(1, 0));
    }

    #[test]
    fn a_call_that_comes_is_told_ahead_and_a_far_one_is_not() {
        // 0.4 K above the call at 0.4 K/h: an hour; lacks 0.6 + 0.4 K.
        let before = Need {
            slab: Celsius::from_milli(2_900),
            called: false,
            ..DEMO
        };
        let said = advise(&before);
        assert_eq!(said.request, WoodRequest::Light);
        assert!((59..=60).contains(&said.within_min), "{said:?}");
        let far = Need {
            slab: Celsius::from_milli(3_200),
            ..before
        };
        assert_eq!(advise(&far).request, WoodRequest::NoMore);
        let warmer = Need {
            slab: Celsius::from_milli(2_600),
            fall: KelvinPerHour::ZERO,
            ..before
        };
        assert_eq!(advise(&warmer).request, WoodRequest::NoMore);
    }

    #[test]
    fn whatever_is_given_the_wood_fits_and_is_not_nothing() {
        let ends = [i32::MIN, -65_536, 0, 1, 65_536, i32::MAX];
        for slab in ends.map(Celsius::from_bits) {
            for call_at in ends.map(Celsius::from_bits) {
                for fall in [0, 1, 131_072, i32::MAX].map(KelvinPerHour::from_bits) {
                    for rise in [0, 1, 65_536, i32::MAX].map(Kelvin::from_bits) {
                        for (called, most_kg) in [(true, 1), (false, 1), (true, 255), (false, 255)]
                        {
                            let said = advise(&Need {
                                slab,
                                fall,
                                call_at,
                                called,
                                rise,
                                most_kg,
                            });
                            match said.request {
                                WoodRequest::Light => assert!((1..=most_kg).contains(&said.kg)),
                                WoodRequest::NoMore => assert!(!called && said.kg == 0),
                                WoodRequest::Nothing => panic!("{said:?}"),
                            }
                            assert!(said.within_min <= 90, "{said:?}");
                        }
                    }
                }
            }
        }
    }
}
