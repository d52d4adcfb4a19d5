//! Which chip or input each reading comes from. Only a person binds; nothing is assigned by itself.

use controller_core::sensor::{BySensor, Sensor};

use crate::one_wire::Rom;

/// Where a reading comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Source {
    /// From nowhere: the reading is lost.
    #[default]
    Unbound,
    /// From the thermometer chip of this identity.
    Chip(Rom),
    /// From a thermistor on this numbered input.
    Thermistor(u8),
}

/// One source for each reading.
pub type Bindings = BySensor<Source>;

/// Size of the stored form.
pub const STORED: usize = 4 * 9;

/// The reading already bound to `source`.
#[must_use]
pub fn holder(bindings: &Bindings, source: Source) -> Option<Sensor> {
    Sensor::ALL
        .into_iter()
        .find(|sensor| source != Source::Unbound && *bindings.get(*sensor) == source)
}

/// Writes the stored form.
#[must_use]
pub fn to_bytes(bindings: &Bindings) -> [u8; STORED] {
    let mut bytes = [0; STORED];
    let mut places = bytes.iter_mut();
    let mut put = |byte| {
        if let Some(place) = places.next() {
            *place = byte;
        }
    };
    for sensor in Sensor::ALL {
        let (kind, body) = match *bindings.get(sensor) {
            Source::Unbound => (0, [0; 8]),
            Source::Chip(rom) => (1, rom),
            Source::Thermistor(channel) => (2, [channel, 0, 0, 0, 0, 0, 0, 0]),
        };
        put(kind);
        body.into_iter().for_each(&mut put);
    }
    bytes
}

/// Reads the stored form; `None` if it is of another size or means nothing.
#[must_use]
pub fn from_bytes(bytes: &[u8]) -> Option<Bindings> {
    if bytes.len() != STORED {
        return None;
    }
    let mut bindings = Bindings::default();
    for (sensor, part) in Sensor::ALL.into_iter().zip(bytes.chunks_exact(9)) {
        let (kind, body) = part.split_first()?;
        let rom: Rom = body.try_into().ok()?;
        *bindings.get_mut(sensor) = match kind {
            0 => Source::Unbound,
            1 => Source::Chip(rom),
            2 => Source::Thermistor(*body.first()?),
            _ => return None,
        };
    }
    Some(bindings)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stored_form_comes_back() {
        let bindings = Bindings {
            supply: Source::Chip([0x28, 1, 2, 3, 4, 5, 6, 7]),
            ret: Source::Unbound,
            slab: Source::Thermistor(3),
            outdoor: Source::Chip([0x28, 0, 0, 0, 0, 0, 0, 9]),
        };
        let bytes = to_bytes(&bindings);
        assert_eq!(from_bytes(&bytes), Some(bindings));
        assert_eq!(from_bytes(&bytes[1..]), None);
        let mut other = bytes;
        other[0] = 7;
        assert_eq!(from_bytes(&other), None);
        assert_eq!(holder(&bindings, Source::Thermistor(3)), Some(Sensor::Slab));
        assert_eq!(holder(&bindings, Source::Unbound), None);
    }
}
