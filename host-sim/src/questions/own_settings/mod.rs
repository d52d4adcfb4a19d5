//! The controller's settings for a site: what follows from its loop and its boiler, and what has to give way for it.

use controller_core::settings::{BoilerKind, Key, Kind, RawSettings};

use crate::files::site::Site;
mod cold_edge;

use crate::files::quantity::{Units, to_digits};
use crate::files::settings_file::{self, Scale, value_text};
use crate::files::settings_relations::made_consistent;
use crate::questions::size::{Asked, Check};
use crate::sim::plant::PlantConfig;
use crate::sim::plant::config::{BoilerKind as SiteBoiler, Piping, Tending};
use cold_edge::below_sensor_k;

/// Share by which a setting may differ from what its site says: nobody knows a flow or an effectiveness better. Status: judgement.
const NEAR_ENOUGH: f64 = 0.05;

/// A mixing valve set below this keeps the water to the slab from overheating, °C.
const LIMITED_C: f64 = 50.0;

/// Specific heat of the jacket's water, J/(kg K).
const WATER_J_KGK: f64 = 4190.0;
/// Rise of a cold jacket's water until it heats the loop as it should, K. Status: judgement.
const JACKET_RISE_K: f64 = 40.0;
/// Share of the heat of a sized load that reaches the slab at least. Status: judgement.
const LEAST_SHARE: f64 = 0.3;

/// Any cold night: none of the values depends on it.
const SOME_DESIGN_C: f64 = -10.0;

/// A coldest part of the slab so little below the place of its sensor is allowed for in the settings as they are, K.
/// Status: judgement; the demonstration house's is 0.1 K.
const USUAL_EDGE_K: f64 = 0.5;

/// Settings that speak of the slab at its sensor and mean its coldest part.
const BY_THE_SENSOR: [Key; 5] = [
    Key::SlabSet,
    Key::BackupSlab,
    Key::BackupEmergency,
    Key::FrostOn,
    Key::FrostOff,
];

/// A setting that follows from the site, as 32 bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measured {
    /// Which.
    pub key: Key,
    /// Its value.
    pub bits: i32,
}

/// The settings that follow from the loop and the boiler alone.
#[must_use]
pub fn measured(plant: &PlantConfig) -> Vec<Measured> {
    let asked = Asked {
        hold_c: Asked::HOLD_C,
        store_c: None,
        design_c: SOME_DESIGN_C,
    };
    let mut measured = of_loop(&Check::of(plant, &asked.question(plant)));
    measured.extend(of_boiler(plant));
    measured
}

/// What follows from the loop.
pub(crate) fn of_loop(check: &Check) -> Vec<Measured> {
    let exposed_s = check
        .freeze
        .iter()
        .filter(|run| run.is_exposed)
        .map(|run| run.time_constant_s)
        .reduce(f64::min)
        .unwrap_or(0.0);
    let numbers = [
        (Key::Flow, check.pump.flow_l_s),
        (Key::SpecificHeat, check.heat.specific_heat_j_kgk.round()),
        (Key::PumpPower, check.pump.electrical_w),
        (Key::Transit, check.heat.transit_s.round()),
        (Key::LoopEffectiveness, check.floors[0].effectiveness),
        (Key::ExposedTime, exposed_s.round()),
    ];
    numbers
        .into_iter()
        .filter_map(|(key, number)| {
            let field = key.field();
            let bits = Scale::of(field.kind)?.bits(to_digits(number, 3))?;
            Some(Measured {
                key,
                bits: bits.clamp(field.min, field.max),
            })
        })
        .collect()
}

/// What follows from the boiler.
fn of_boiler(plant: &PlantConfig) -> Vec<Measured> {
    let boiler = plant.boiler.as_ref();
    let kind = match boiler.map(|boiler| &boiler.kind) {
        None => BoilerKind::None,
        Some(SiteBoiler::HandFired(_)) => BoilerKind::Firing,
        Some(SiteBoiler::Injection { .. }) => BoilerKind::Injection,
    };
    let mut measured = vec![Measured {
        key: Key::Boiler,
        bits: kind as i32,
    }];
    // Somebody has to get up for a fire that is lit on call.
    let on_call = matches!(boiler.map(|b| &b.kind), Some(SiteBoiler::HandFired(fire)) if matches!(fire.tending, Tending::OnCall | Tending::ByAdvice | Tending::Evening { .. }));
    if on_call {
        measured.push(Measured {
            key: Key::ProofTime,
            bits: Key::ProofTime.field().max,
        });
    }
    measured.extend(of_wood(plant));
    // Without a boiler nothing returns from one, and nothing has to be limited.
    measured.extend(boiler.map(|boiler| Measured {
        key: Key::ReturnToStore,
        bits: i32::from(boiler.piping == Piping::Series),
    }));
    measured.extend(boiler.map(|boiler| Measured {
        key: Key::SupplyLimited,
        bits: i32::from(boiler.mixing_c.is_some_and(|c| c < LIMITED_C)),
    }));
    measured
}

/// What a person who feeds the fire is told with: the rise of the slab by a kilogram, of a sized load burnt with its damper
/// open in a jacket that has stood cold, and what fits.
fn of_wood(plant: &PlantConfig) -> Vec<Measured> {
    let fire = match plant.boiler.as_ref().map(|boiler| &boiler.kind) {
        Some(SiteBoiler::HandFired(fire)) => fire,
        _ => return vec![whole(Key::WoodMost, 0.0)],
    };
    let slab_j_k =
        plant.house.floor_area_m2() * plant.floor.thickness_m * plant.floor.heat_capacity_j_m3k;
    let load_kg = fire.sized_kg();
    let burnt_j = load_kg * fire.wood_j_kg * fire.efficiency;
    let jacket_j = fire.jacket_kg * WATER_J_KGK * JACKET_RISE_K;
    let rise_k = (burnt_j - jacket_j).max(LEAST_SHARE * burnt_j) / slab_j_k / load_kg;
    let field = Key::WoodRise.field();
    let bits = Scale::of(field.kind).and_then(|scale| scale.bits(to_digits(rise_k, 3)));
    let rise = bits.map(|bits| Measured {
        key: Key::WoodRise,
        bits: bits.clamp(field.min, field.max),
    });
    rise.into_iter()
        .chain([whole(Key::WoodMost, fire.charge_kg)])
        .collect()
}

/// A setting that is a whole number.
fn whole(key: Key, number: f64) -> Measured {
    let field = key.field();
    Measured {
        key,
        bits: (number as i32).clamp(field.min, field.max),
    }
}

/// Settings for the controller of this site: its own flow, transit, power, settling time, loop effectiveness and boiler, the other settings as in
/// the demonstration site but where they have to give way. A value that differs from the demonstration site's by less than can
/// be measured stays as it is there.
#[must_use]
pub fn settings_for(site: &Site) -> RawSettings {
    settings_in(&site.config.plant, Units::Si)
}

/// The same, rounded as people write these units.
#[must_use]
pub(crate) fn settings_in(plant: &PlantConfig, units: Units) -> RawSettings {
    let measured = measured(plant);
    let mut raw = RawSettings::DEFAULT;
    for Measured { key, bits } in &measured {
        if !is_near(*key, raw.bits(*key), *bits) {
            let _ = raw.set_bits(*key, *bits);
        }
    }
    let mut keys: Vec<Key> = measured.iter().map(|one| one.key).collect();
    let colder_k = below_sensor_k(plant).unwrap_or(0.0);
    if colder_k > USUAL_EDGE_K {
        for key in BY_THE_SENSOR {
            let field = key.field();
            let bits = raw.bits(key)
                + Scale::of(field.kind)
                    .and_then(|scale| scale.bits(colder_k))
                    .unwrap_or(0);
            let _ = raw.set_bits(key, bits.clamp(field.min, field.max));
        }
        keys.extend(BY_THE_SENSOR);
    }
    settings_file::rounded(&made_consistent(raw, &keys, units), units)
}

/// Settings that say something else than their site, each in a sentence.
#[must_use]
pub fn mismatches(plant: &PlantConfig, raw: &RawSettings, units: Units) -> Vec<String> {
    measured(plant)
        .into_iter()
        .filter(|one| !is_near(one.key, raw.bits(one.key), one.bits))
        .map(|one| {
            let field = one.key.field();
            let text = |bits| value_text(field, bits, units);
            let (set, own) = (raw.bits(one.key), one.bits);
            let share = if own != 0 && Scale::of(field.kind).is_some() {
                let percent = (f64::from(set) / f64::from(own) - 1.0) * 100.0;
                format!(", {percent:+.0} %")
            } else {
                String::new()
            };
            format!(
                "The settings do not fit the site: {} is {} and the site's is {}{share}.",
                field.name,
                text(set),
                text(own)
            )
        })
        .collect()
}

/// Whether two values of a setting are the same but for what nobody can measure.
fn is_near(key: Key, one: i32, other: i32) -> bool {
    match key.field().kind {
        Kind::Switch | Kind::Choice(_) | Kind::Count => one == other,
        _ => {
            let (one, other) = (f64::from(one), f64::from(other));
            (one - other).abs() <= NEAR_ENOUGH * one.abs().max(other.abs())
        }
    }
}

#[cfg(test)]
mod tests;
