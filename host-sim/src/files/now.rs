//! The time of day and the zone of this place: this computer's, or where there is no clock to ask, as in a browser's
//! WebAssembly, what was told last.

use jiff::{Timestamp, tz::TimeZone};

/// The clock of this computer.
#[cfg(not(target_family = "wasm"))]
#[must_use]
pub fn now() -> (Timestamp, TimeZone) {
    (Timestamp::now(), TimeZone::system())
}

#[cfg(target_family = "wasm")]
thread_local! {
    static TOLD: std::cell::RefCell<(Timestamp, TimeZone)> =
        const { std::cell::RefCell::new((Timestamp::UNIX_EPOCH, TimeZone::UTC)) };
}

/// What was told last.
#[cfg(target_family = "wasm")]
#[must_use]
pub fn now() -> (Timestamp, TimeZone) {
    TOLD.with_borrow(Clone::clone)
}

/// Tells the time, s since 1970, and the zone by its name in the time zone database; an unknown name is universal time.
#[cfg(target_family = "wasm")]
pub fn tell(seconds: i64, zone: &str) {
    let time = Timestamp::from_second(seconds).unwrap_or(Timestamp::UNIX_EPOCH);
    let zone = TimeZone::get(zone).unwrap_or(TimeZone::UTC);
    TOLD.replace((time, zone));
}
