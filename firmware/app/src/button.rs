//! The button: a press acknowledges and silences, a long one asks for the state by blinks.
//!
//! A contact to ground, looked at four times a second. One look is no press: what a switching motor
//! puts on the wire is shorter. A button that sticks asks once and silences nothing.

use controller_core::alarm::AlarmSet;
use controller_core::time::{Duration, Instant};

/// Shortest press.
const PRESS: Duration = Duration::from_millis(200);
/// Shortest long press.
const LONG: Duration = Duration::from_secs(3);
/// The bell stays silent for so long; then what still stands rings again. Status: judgement, time to get
/// dressed and look, too short to sleep on.
const SILENCE: Duration = Duration::from_hours(1);

/// What a person asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Press {
    /// Seen: silence, please.
    Short,
    /// How is it?
    Long,
}

/// The button's past.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Button {
    /// First and last look at which it was down.
    down: Option<(Instant, Instant)>,
}

impl Button {
    /// A look at it.
    pub fn look(&mut self, is_down: bool, now: Instant) -> Option<Press> {
        let before = self.down;
        if is_down {
            let first = before.map_or(now, |(first, _)| first);
            self.down = Some((first, now));
            let was_short = before.is_none_or(|(first, last)| last.since(first) < LONG);
            return (was_short && now.since(first) >= LONG).then_some(Press::Long);
        }
        self.down = None;
        let (first, last) = before?;
        let held = last.since(first);
        (held >= PRESS && held < LONG).then_some(Press::Short)
    }
}

/// What a person has heard and silenced.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Silence {
    /// Alarms that stood then and have stood since, as bits.
    heard: u32,
    until: Instant,
}

impl Silence {
    /// From a press on.
    pub fn begin(&mut self, alarms: AlarmSet, now: Instant) {
        self.heard = alarms.bits();
        self.until = now + SILENCE;
    }

    /// Are all that ring silenced? What goes and comes back rings anew, as does what stays too long, and what
    /// rings without an alarm of a name.
    pub fn covers(&mut self, alarms: AlarmSet, now: Instant) -> bool {
        self.heard = if now < self.until {
            self.heard & alarms.bits()
        } else {
            0
        };
        let heard = |alarm| AlarmSet::NONE.with(alarm, true).bits() & self.heard != 0;
        let all = alarms.iter().all(|alarm| alarm.is_advice() || heard(alarm));
        all && self.heard != 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use controller_core::alarm::Alarm;

    /// Presses told while the button is looked at every 250 ms.
    fn looks(downs: &[bool]) -> std::vec::Vec<Press> {
        let mut button = Button::default();
        let times = (0..).map(|n| Instant::from_millis(1_000 + 250 * n));
        let looks = downs.iter().zip(times);
        looks
            .filter_map(|(down, now)| button.look(*down, now))
            .collect()
    }

    #[test]
    fn presses_are_told_by_their_length_and_one_look_is_none() {
        assert_eq!(looks(&[false, true, false, false]), []);
        assert_eq!(looks(&[false, true, true, false]), [Press::Short]);
        assert_eq!(looks(&[&[true; 11][..], &[false]].concat()), [Press::Short]);
        assert_eq!(looks(&[&[true; 14][..], &[false]].concat()), [Press::Long]);
        assert_eq!(looks(&[true; 5_000]), [Press::Long], "stuck");
        let twice = [true, true, false, false, true, true, true, false];
        assert_eq!(looks(&twice), [Press::Short; 2]);
    }

    #[test]
    fn silence_covers_what_was_heard_for_an_hour_and_nothing_new() {
        let at = |minutes: u32| Instant::from_millis(7) + Duration::from_mins(minutes);
        let one = AlarmSet::NONE.with(Alarm::SlabCold, true);
        let two = one.with(Alarm::NoFlow, true);
        let mut silence = Silence::default();
        assert!(!silence.covers(one, at(0)));
        silence.begin(one, at(1));
        assert!(silence.covers(one, at(2)));
        assert!(
            silence.covers(one.with(Alarm::Noisy, true), at(3)),
            "advice"
        );
        assert!(!silence.covers(two, at(4)), "another one");
        silence.begin(two, at(5));
        assert!(silence.covers(two, at(64)));
        assert!(!silence.covers(two, at(65)), "it stayed");
        silence.begin(two, at(70));
        assert!(silence.covers(one, at(71)));
        assert!(!silence.covers(two, at(72)), "it came back");
        assert!(
            !silence.covers(AlarmSet::NONE, at(73)),
            "nothing was heard of it"
        );
    }
}
