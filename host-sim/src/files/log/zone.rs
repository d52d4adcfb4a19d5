//! Local times of a place, with the hours that come twice or never.

use jiff::{
    Timestamp,
    tz::{AmbiguousOffset, Offset, TimeZone},
};

use super::time::{HOUR_MS, SECOND_MS};

/// Local times of a place to UTC. An hour that comes twice is told apart by the time before: times do not go back.
#[derive(Clone, Debug)]
pub(super) struct Zone {
    zone: TimeZone,
    previous_ms: i64,
    /// The hour of local time last looked up, and its one offset.
    hour: i64,
    offset_ms: Option<i64>,
}

impl Zone {
    pub(super) fn new(zone: TimeZone) -> Zone {
        Zone {
            zone,
            previous_ms: i64::MIN,
            hour: i64::MIN,
            offset_ms: None,
        }
    }

    #[inline]
    pub(super) fn utc_ms(&mut self, local_ms: i64) -> i64 {
        let hour = local_ms.div_euclid(HOUR_MS);
        let time_ms = match self.offset_ms {
            Some(offset_ms) if hour == self.hour => local_ms - offset_ms,
            _ => self.look_up(local_ms, hour),
        };
        self.previous_ms = time_ms;
        time_ms
    }

    #[cold]
    fn look_up(&mut self, local_ms: i64, hour: i64) -> i64 {
        let ms = |offset: Offset| i64::from(offset.seconds()) * SECOND_MS;
        let at = |ms| {
            let at = Timestamp::from_millisecond(ms).unwrap_or(Timestamp::MAX);
            let local = Offset::UTC.to_datetime(at);
            self.zone.to_ambiguous_timestamp(local).offset()
        };
        let one = |ambiguous| match ambiguous {
            AmbiguousOffset::Unambiguous { offset } => Some(ms(offset)),
            AmbiguousOffset::Gap { .. } | AmbiguousOffset::Fold { .. } => None,
        };
        // Kept for the hour if the same offset holds from its beginning to its end.
        let ends = [hour * HOUR_MS, hour * HOUR_MS + HOUR_MS - 1].map(|ms| one(at(ms)));
        (self.hour, self.offset_ms) = (hour, ends[0].filter(|_| ends[0] == ends[1]));
        match at(local_ms) {
            AmbiguousOffset::Unambiguous { offset } => local_ms - ms(offset),
            // A clock that was not set forward.
            AmbiguousOffset::Gap { before, .. } => local_ms - ms(before),
            AmbiguousOffset::Fold { before, after } => {
                let first_ms = local_ms - ms(before);
                if first_ms > self.previous_ms {
                    first_ms
                } else {
                    local_ms - ms(after)
                }
            }
        }
    }

    pub(super) fn offset_at(&self, at: Timestamp) -> Offset {
        self.zone.to_offset(at)
    }
}
