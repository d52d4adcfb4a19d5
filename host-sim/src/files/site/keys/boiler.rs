//! The backup boiler.
//!
//! Ranges are common practice, no source, unless a line names one.

use super::macros::{flag, quantity};
use super::{Fit, Key, Kind, Section};
use crate::files::site::SiteConfig;
use crate::sim::plant::config::{BoilerConfig, BoilerKind, HandFiredConfig, Piping, Tending};

/// Higher heating value of oven-dry wood, J/kg; as fired it is less by the share of water (20.0 MJ/kg is 8600 Btu/lb, the
/// figure of United States extension tables).
const DRY_WOOD_J_KG: f64 = 20.0e6;

/// Highest supply temperature a mixing valve gets before the file says its own, °C.
const USUAL_MIXED_C: f64 = 35.0;

/// When a fire is fed before the file says its own: hours of the day, and the outdoor temperature below which, °C.
const USUAL_TENDING: Tending = Tending::Daily {
    hours: [7.0, 18.0],
    below_c: 0.0,
};

/// The same for a fire lit in the evening.
const USUAL_EVENING: Tending = Tending::Evening {
    hour: 21.0,
    below_c: 0.0,
};

/// A physical value of a hand-fired boiler.
macro_rules! fire_quantity {
    ($name:literal, $dimension:ident, typical $typical:tt, possible $allowed:tt, $field:ident, $doc:literal) => {
        quantity!($name, $dimension, typical $typical, possible $allowed,
            |site| fire(site).map(|fire| fire.$field),
            |site, value| if let Some(fire) = fire_mut(site) { fire.$field = value; },
            $doc)
    };
}

/// When a fire is tended by the clock: the hour of the morning if there is one, of the evening, and the outdoor temperature
/// below which, °C.
struct Clock<'a> {
    morning_h: Option<&'a mut f64>,
    evening_h: &'a mut f64,
    below_c: &'a mut f64,
}

fn clock(tending: &mut Tending) -> Option<Clock<'_>> {
    match tending {
        Tending::Daily {
            hours: [morning_h, evening_h],
            below_c,
        } => Some(Clock {
            morning_h: Some(morning_h),
            evening_h,
            below_c,
        }),
        Tending::Evening { hour, below_c } => Some(Clock {
            morning_h: None,
            evening_h: hour,
            below_c,
        }),
        Tending::OnCall | Tending::ByAdvice | Tending::ByHand => None,
    }
}

/// A physical value of tending by the clock, by its place in [`Clock`] and how many of its units make one of the file's.
macro_rules! clock_quantity {
    ($name:literal, $dimension:ident, typical $typical:tt, possible $allowed:tt, $times:literal, |$clock:ident| $place:expr, $doc:literal) => {
        quantity!($name, $dimension, typical $typical, possible $allowed,
            |site| {
                let mut tending = fire(site)?.tending;
                let $clock = clock(&mut tending)?;
                let place: Option<&mut f64> = $place;
                Some(*place? * $times)
            },
            |site, value| {
                let Some($clock) = fire_mut(site).and_then(|fire| clock(&mut fire.tending)) else { return };
                let place: Option<&mut f64> = $place;
                if let Some(place) = place { *place = value / $times; }
            },
            $doc)
    };
}

/// An hour of sleep, by its place.
macro_rules! sleep_quantity {
    ($name:literal, typical $typical:tt, $place:literal, $doc:literal) => {
        quantity!($name, Duration, typical $typical, possible (0.0, 85_500.0),
            |site| fire(site).map(|fire| fire.sleep_hours[$place] * 3600.0),
            |site, seconds| if let Some(fire) = fire_mut(site) { fire.sleep_hours[$place] = seconds / 3600.0; },
            $doc)
    };
}

#[rustfmt::skip]
pub(super) const BOILER: Section = Section {
    name: "boiler",
    doc: "The backup boiler.",
    fit: Some(Fit {
        is_fitted: |site| site.plant.boiler.is_some(),
        set: set_boiler,
    }),
    keys: &[
        flag!("fitted", |site| site.plant.boiler.is_some(), set_boiler, "Whether there is one."),
        Key {
            name: "kind",
            doc: "A fire laid by hand whose damper follows the call, or a boiler kept hot whose heat is injected on call.",
            is_listed: true,
            kind: Kind::Choice {
                options: || vec!["hand-fired", "injection"],
                read: |site| {
                    site.plant.boiler.as_ref().map(|boiler| match boiler.kind {
                        BoilerKind::HandFired(_) => "hand-fired",
                        BoilerKind::Injection { .. } => "injection",
                    })
                },
                write: set_kind,
            },
        },
        quantity!("power", Power, typical (3e3, 40e3), possible (100.0, 1e6), power_w, set_power_w,
            "Heat to the water at full fire."),
        Key {
            name: "piping",
            doc: "Series: in the supply pipe, and on through slab and store. Bypass: the store is left out while called.",
            is_listed: true,
            kind: Kind::Choice {
                options: || vec!["series", "bypass"],
                read: |site| {
                    site.plant
                        .boiler
                        .as_ref()
                        .map(|boiler| match boiler.piping {
                            Piping::Series => "series",
                            Piping::Bypass => "bypass",
                        })
                },
                write: |site, text| {
                    let piping = match text {
                        "series" => Piping::Series,
                        "bypass" => Piping::Bypass,
                        _ => return false,
                    };
                    if let Some(boiler) = &mut site.plant.boiler {
                        boiler.piping = piping;
                    }
                    true
                },
            },
        },
        flag!("mixing_valve", |site| mixing_c(site).is_some(), set_mixing_valve,
            "Whether a mixing valve keeps hot water out of the slab."),
        quantity!("mixed_supply", Temperature, typical (25.0, 45.0), possible (5.0, 90.0), mixing_c, set_mixing_c,
            "Highest supply temperature the mixing valve lets through."),
        fire_quantity!("smoulder", Power, typical (0.0, 2e3), possible (0.0, 50e3), smoulder_w,
            "Heat to the water from a fire with its damper closed."),
        fire_quantity!("lag", Duration, typical (300.0, 3600.0), possible (60.0, 86_400.0), lag_s,
            "Time constant with which the fire follows its damper."),
        fire_quantity!("efficiency", Fraction, typical (0.28, 0.75), possible (0.05, 1.0), efficiency,
            "Heat to the water per heat of the wood as fired (higher value): old 0.28 to 0.55, new 0.6 to 0.75."),
        Key {
            name: "wood_moisture",
            doc: "Share of water in the wood by weight: 0.2 dried two years, 0.5 fresh.",
            is_listed: true,
            kind: Kind::Quantity {
                dimension: crate::files::quantity::Dimension::Fraction,
                typical: (0.12, 0.3),
                allowed: (0.0, 0.6),
                read: |site| fire(site).map(|fire| 1.0 - fire.wood_j_kg / DRY_WOOD_J_KG),
                write: |site, share| {
                    if let Some(fire) = fire_mut(site) {
                        fire.wood_j_kg = DRY_WOOD_J_KG * (1.0 - share);
                    }
                },
            },
        },
        fire_quantity!("charge", Mass, typical (5.0, 60.0), possible (0.5, 2000.0), charge_kg,
            "Wood of a full charge; stacked wood in cords or m3 is taken as well, a cord as 1450 kg."),
        fire_quantity!("jacket", Mass, typical (20.0, 1000.0), possible (1.0, 50_000.0), jacket_kg,
            "Water in the jacket; a volume in gallons or litres is taken as well."),
        fire_quantity!("standby_loss", HeatLoss, typical (1.0, 20.0), possible (0.0, 1000.0), standby_w_k,
            "Heat the jacket loses to outdoors."),
        fire_quantity!("damper_closes", Temperature, typical (75.0, 90.0), possible (30.0, 110.0), damper_closes_c,
            "Water temperature at which the boiler's own thermostat closes the damper."),
        Key {
            name: "tending",
            doc: "Daily: fed morning and evening when it is cold. On call: filled and lit when it is called. \
                By advice: as the controller says, so much wood or no more. \
                Evening: fed in the evening when it is cold, and on call besides. \
                By hand: only when the simulation is told so.",
            is_listed: true,
            kind: Kind::Choice {
                options: || vec!["daily", "on call", "by advice", "evening", "by hand"],
                read: |site| {
                    fire(site).map(|fire| match fire.tending {
                        Tending::Daily { .. } => "daily",
                        Tending::OnCall => "on call",
                        Tending::ByAdvice => "by advice",
                        Tending::Evening { .. } => "evening",
                        Tending::ByHand => "by hand",
                    })
                },
                write: |site, text| {
                    let tending = match text {
                        "daily" => USUAL_TENDING,
                        "on call" => Tending::OnCall,
                        "by advice" => Tending::ByAdvice,
                        "evening" => USUAL_EVENING,
                        "by hand" => Tending::ByHand,
                        _ => return false,
                    };
                    if let Some(fire) = fire_mut(site) {
                        fire.tending = tending;
                    }
                    true
                },
            },
        },
        clock_quantity!("morning_feed", Duration, typical (18_000.0, 36_000.0), possible (0.0, 85_500.0), 3600.0,
            |clock| clock.morning_h,
            "Time of day of the first feeding: after midnight, or by the clock, such as 7 am."),
        clock_quantity!("evening_feed", Duration, typical (57_600.0, 79_200.0), possible (0.0, 85_500.0), 3600.0,
            |clock| Some(clock.evening_h),
            "Time of day of the second feeding: after midnight, or by the clock, such as 9 pm."),
        clock_quantity!("fed_below", Temperature, typical (-10.0, 5.0), possible (-50.0, 40.0), 1.0,
            |clock| Some(clock.below_c),
            "Outdoor temperature below which the fire is fed."),
        Key {
            name: "load",
            doc: "Wood the fire is filled up to at a feeding; a full charge if left out.",
            is_listed: false,
            kind: Kind::Quantity {
                dimension: crate::files::quantity::Dimension::Mass,
                typical: (1.0, 60.0),
                allowed: (0.5, 2000.0),
                read: |site| fire(site).map(HandFiredConfig::load_kg),
                write: |site, kg| if let Some(fire) = fire_mut(site) { fire.load_kg = Some(kg); },
            },
        },
        fire_quantity!("answer", Duration, typical (300.0, 3600.0), possible (0.0, 43_200.0), answer_s,
            "Time a call waits for its fire to be lit or fed, where it is tended on call."),
        sleep_quantity!("sleeps_from", typical (72_000.0, 85_500.0), 0,
            "Time of day from which whoever tends the fire sleeps: after midnight, or by the clock."),
        sleep_quantity!("sleeps_until", typical (14_400.0, 32_400.0), 1,
            "Time of day until which they sleep."),
        Key {
            name: "wakings",
            doc: "Times a night they get up for a call at most; 0: no call is answered between the two times.",
            is_listed: true,
            kind: Kind::Count {
                typical: (0, 99),
                allowed: (0, 99),
                read: |site| fire(site).map(|fire| fire.wakings),
                write: |site, times| if let Some(fire) = fire_mut(site) { fire.wakings = times; },
            },
        },
    ],
};

fn set_boiler(site: &mut SiteConfig, is_fitted: bool) {
    let kept = site.plant.boiler.take();
    site.plant.boiler = is_fitted.then(|| kept.unwrap_or_default());
}

fn set_kind(site: &mut SiteConfig, text: &str) -> bool {
    let kind = match text {
        "hand-fired" => BoilerKind::HandFired(HandFiredConfig::default()),
        "injection" => BoilerKind::Injection {
            capacity_w: HandFiredConfig::default().rated_w,
        },
        _ => return false,
    };
    if let Some(boiler) = &mut site.plant.boiler {
        boiler.kind = kind;
    }
    true
}

fn power_w(site: &SiteConfig) -> Option<f64> {
    site.plant.boiler.as_ref().map(|boiler| match &boiler.kind {
        BoilerKind::HandFired(fire) => fire.rated_w,
        BoilerKind::Injection { capacity_w } => *capacity_w,
    })
}

fn set_power_w(site: &mut SiteConfig, watts: f64) {
    match site.plant.boiler.as_mut().map(|boiler| &mut boiler.kind) {
        Some(BoilerKind::HandFired(fire)) => fire.rated_w = watts,
        Some(BoilerKind::Injection { capacity_w }) => *capacity_w = watts,
        None => {}
    }
}

fn mixing_c(site: &SiteConfig) -> Option<f64> {
    site.plant
        .boiler
        .as_ref()
        .and_then(|boiler| boiler.mixing_c)
}

fn set_mixing_valve(site: &mut SiteConfig, is_there: bool) {
    if let Some(boiler) = &mut site.plant.boiler {
        boiler.mixing_c = is_there.then(|| boiler.mixing_c.unwrap_or(USUAL_MIXED_C));
    }
}

fn set_mixing_c(site: &mut SiteConfig, limit_c: f64) {
    if let Some(mixing_c) = site
        .plant
        .boiler
        .as_mut()
        .and_then(|boiler| boiler.mixing_c.as_mut())
    {
        *mixing_c = limit_c;
    }
}

fn fire(site: &SiteConfig) -> Option<&HandFiredConfig> {
    match site.plant.boiler.as_ref() {
        Some(BoilerConfig {
            kind: BoilerKind::HandFired(fire),
            ..
        }) => Some(fire),
        _ => None,
    }
}

fn fire_mut(site: &mut SiteConfig) -> Option<&mut HandFiredConfig> {
    match site.plant.boiler.as_mut() {
        Some(BoilerConfig {
            kind: BoilerKind::HandFired(fire),
            ..
        }) => Some(fire),
        _ => None,
    }
}
