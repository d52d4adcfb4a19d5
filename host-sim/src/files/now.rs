//! The time of day and the zone of this place: this computer's, or where there is no clock to ask, as in a browser's
//! WebAssembly, what was told last.

use std::time::Duration;

use jiff::{Timestamp, Unit, ZonedDateTime, tz::TimeZone};

/// The clock of this computer.
#[cfg(not(target_family = "wasm"))]
#[must_use]
pub fn now() -> (Timestamp, TimeZone) {
    (Timestamp::now(), TimeZone::system())
}

#[cfg(target_family = "wasm")]
thread_local! {
    static TOLD: std::cell::RefCell<(Timestamp, TimeZone, Duration)> =
        const { std::cell::RefCell::new((Timestamp::UNIX_EPOCH, TimeZone::UTC, Duration::ZERO)) };
}

/// What was told last.
#[cfg(target_family = "wasm")]
#[must_use]
pub fn now() -> (Timestamp, TimeZone) {
    TOLD.with_borrow(|(time, zone, _)| (*time, zone.clone()))
}

/// Tells the time, s since 1970, the zone by its name in the time zone database, and the time since some start by a clock that
/// nobody sets; an unknown name is universal time.
#[cfg(target_family = "wasm")]
pub fn tell(seconds: i64, zone: &str, running: Duration) {
    let time = Timestamp::from_second(seconds).unwrap_or(Timestamp::UNIX_EPOCH);
    let zone = TimeZone::get(zone).unwrap_or(TimeZone::UTC);
    TOLD.replace((time, zone, running));
}

/// Date and time of this place, to the second: nobody reads more of it.
#[must_use]
pub fn here() -> ZonedDateTime {
    let (time, zone) = now();
    let time = ZonedDateTime::new(time, zone);
    time.round(Unit::Second).unwrap_or(time)
}

/// A moment on a clock that nobody sets.
#[derive(Clone, Copy, Debug)]
pub struct Moment(
    #[cfg(not(target_family = "wasm"))] std::time::Instant,
    #[cfg(target_family = "wasm")] Duration,
);

#[cfg(not(target_family = "wasm"))]
impl Moment {
    /// Now.
    #[must_use]
    pub fn now() -> Self {
        Self(std::time::Instant::now())
    }

    /// Time since then.
    #[must_use]
    pub fn elapsed(self) -> Duration {
        self.0.elapsed()
    }
}

#[cfg(target_family = "wasm")]
impl Moment {
    /// Now.
    #[must_use]
    pub fn now() -> Self {
        Self(TOLD.with_borrow(|(.., running)| *running))
    }

    /// Time since then.
    #[must_use]
    pub fn elapsed(self) -> Duration {
        Self::now().0.saturating_sub(self.0)
    }
}

#[cfg(test)]
impl Moment {
    /// One that was so long ago.
    pub fn ago(time: Duration) -> Self {
        Self(
            std::time::Instant::now()
                .checked_sub(time)
                .expect("this computer runs longer"),
        )
    }
}
