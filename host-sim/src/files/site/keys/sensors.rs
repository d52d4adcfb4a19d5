//! The sensors and their errors.
//!
//! Ranges are common practice, no source.

use super::macros::quantity;
use super::{Key, Kind, Section};
use crate::sim::plant::exchanger::ZONES;

/// The zone at the return end.
const LAST_ZONE: u32 = ZONES as u32 - 1;

/// The section of one sensor.
macro_rules! sensor {
    ($constant:ident, $name:literal, $doc:literal, $($sensor:ident).+) => {
        pub(super) const $constant: Section = Section {
            name: $name,
            doc: $doc,
            fit: None,
            keys: &[
                quantity!("offset", TemperatureDifference, typical (-0.5, 0.5), possible (-20.0, 20.0), $($sensor).+.offset_k,
                    "What it shows too much."),
                quantity!("scatter", TemperatureDifference, typical (0.0, 0.5), possible (0.0, 20.0), $($sensor).+.scatter_k,
                    "Standard deviation of a further offset, drawn once from the run's seed."),
                quantity!("noise", TemperatureDifference, typical (0.0, 0.1), possible (0.0, 5.0), $($sensor).+.noise_k,
                    "Standard deviation from reading to reading."),
                quantity!("resolution", TemperatureDifference, typical (0.0, 0.5), possible (0.0, 5.0), $($sensor).+.resolution_k,
                    "Step of the readings; zero for none."),
                quantity!("lag", Duration, typical (0.0, 300.0), possible (0.0, 86_400.0), $($sensor).+.lag_s,
                    "Time constant."),
                quantity!("strap_on", Fraction, typical (0.0, 0.2), possible (0.0, 1.0), $($sensor).+.strap_on,
                    "Share of the surroundings in the reading of a sensor strapped to a pipe."),
            ],
        };
    };
}

sensor!(
    SUPPLY,
    "sensor_supply",
    "Sensor of the water that enters the slab.",
    plant.sensors.supply
);
sensor!(
    RETURN,
    "sensor_return",
    "Sensor of the water that leaves the slab.",
    plant.sensors.return_
);
sensor!(
    SLAB,
    "sensor_slab",
    "Sensor in the slab.",
    plant.sensors.slab
);
sensor!(
    OUTDOOR,
    "sensor_outdoor",
    "Sensor outdoors.",
    plant.sensors.outdoor
);
sensor!(
    AIR,
    "sensor_air",
    "Sensor of the air in the house (shown, not used for control).",
    plant.sensors.air
);
sensor!(
    STORE,
    "sensor_store",
    "Sensor of the air in the store (shown, not used for control).",
    plant.sensors.store
);

#[rustfmt::skip]
pub(super) const PLACING: Section = Section {
    name: "sensors",
    doc: "Where the sensors sit.",
    fit: None,
    keys: &[
        Key {
            name: "slab_zone",
            doc: "Zone of the slab with the sensor, from the supply end, which is 0.",
            is_listed: true,
            kind: Kind::Count {
                typical: (0, LAST_ZONE),
                allowed: (0, LAST_ZONE),
                read: |site| u32::try_from(site.plant.sensors.slab_zone).ok(),
                write: |site, zone| site.plant.sensors.slab_zone = zone as usize,
            },
        },
        quantity!("spot_cooling", Duration, typical (300.0, 7200.0), possible (60.0, 604_800.0),
            plant.sensors.spot_cooling_s,
            "Time constant with which still water at the pipe sensors goes over to the air around it."),
    ],
};
