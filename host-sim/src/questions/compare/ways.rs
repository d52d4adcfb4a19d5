//! Ways a fire is tended, to be laid side by side: the same house and controller, another person.

use controller_core::settings::{Key, RawSettings, Settings};

use crate::sim::plant::PlantConfig;
use crate::sim::plant::config::{BoilerKind, HandFiredConfig, Tending};

/// A fire fed by habit: hours of the day, and the outdoor temperature below which, °C (common practice, no source).
const HABIT: Tending = Tending::Daily {
    hours: [7.0, 21.0],
    below_c: 0.0,
};
/// A fire lit in the evening when it freezes, and fed on call besides (common practice, no source).
const EVENING: Tending = Tending::Evening {
    hour: 21.0,
    below_c: 0.0,
};
/// Nobody counts how often they get up.
const AS_OFTEN_AS_CALLED: u32 = 99;

/// One way of tending.
pub struct Way {
    /// In words.
    pub name: &'static str,
    tending: Tending,
    sized: bool,
    wakings: u32,
}

const fn way(name: &'static str, tending: Tending, sized: bool, wakings: u32) -> Way {
    Way {
        name,
        tending,
        sized,
        wakings,
    }
}

/// What is compared, the one that rules are judged by first.
pub static WAYS: [Way; 10] = [
    way(
        "sized load, on call",
        Tending::OnCall,
        true,
        AS_OFTEN_AS_CALLED,
    ),
    way(
        "by the controller's advice",
        Tending::ByAdvice,
        true,
        AS_OFTEN_AS_CALLED,
    ),
    way(
        "by its advice, two wakings a night at most",
        Tending::ByAdvice,
        true,
        2,
    ),
    way(
        "sized, on call, two wakings a night at most",
        Tending::OnCall,
        true,
        2,
    ),
    way(
        "sized, on call, one waking a night at most",
        Tending::OnCall,
        true,
        1,
    ),
    way("sized, on call, nobody gets up", Tending::OnCall, true, 0),
    way(
        "sized load, evenings of frost, on call",
        EVENING,
        true,
        AS_OFTEN_AS_CALLED,
    ),
    way(
        "full charge, evenings of frost, nobody up",
        EVENING,
        false,
        0,
    ),
    way(
        "full charge, on call",
        Tending::OnCall,
        false,
        AS_OFTEN_AS_CALLED,
    ),
    way("full charge, morning and evening of frost", HABIT, false, 0),
];

impl Way {
    /// The house with its fire tended so; `None` without a fire that somebody lays.
    #[must_use]
    pub fn apply(&self, plant: &PlantConfig) -> Option<PlantConfig> {
        let mut plant = plant.clone();
        let fire = fire_mut(&mut plant)?;
        fire.tending = self.tending;
        fire.wakings = self.wakings;
        fire.load_kg = self.sized.then(|| fire.sized_kg());
        Some(plant)
    }

    /// The settings for such a fire: somebody has to come for one that is lit on call.
    #[must_use]
    pub fn settings(&self, settings: &Settings) -> Settings {
        let mut raw: RawSettings = *settings.raw();
        let bits = if self.tending == HABIT {
            RawSettings::DEFAULT.bits(Key::ProofTime)
        } else {
            Key::ProofTime.field().max
        };
        let _ = raw.set_bits(Key::ProofTime, bits);
        Settings::check(raw).unwrap_or_else(|_| settings.clone())
    }
}

/// Has a fire fed by habit taken as one that is fed on call with a sized load. `Some`: so much, kg.
pub fn tend_on_call(plant: &mut PlantConfig) -> Option<f64> {
    let fire = fire_mut(plant)?;
    if !matches!(fire.tending, Tending::Daily { .. }) {
        return None;
    }
    fire.tending = Tending::OnCall;
    let load_kg = fire.sized_kg();
    fire.load_kg = Some(load_kg);
    Some(load_kg)
}

fn fire_mut(plant: &mut PlantConfig) -> Option<&mut HandFiredConfig> {
    match &mut plant.boiler.as_mut()?.kind {
        BoilerKind::HandFired(fire) => Some(fire),
        BoilerKind::Injection { .. } => None,
    }
}
