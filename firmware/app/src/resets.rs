//! Resets by the watchdog, counted before anything else is started and without the flash.
//!
//! Four words of memory outlive a reset by the watchdog: how often and when it happened, for how long the
//! program had run, and what it was doing. A board calls [`Resets::begin`] first of all; a program that
//! dies at any later line is therefore counted. What a chip calls a watchdog reset without these words is
//! none of this program's: the Pico's boot ROM uses the watchdog to start new firmware.

use controller_core::restart::RestartCause;

/// Resets by the watchdog within [`WINDOW_S`] after which the coils stay at rest.
const MOST: usize = 3;
/// The time in which they count, s.
const WINDOW_S: u32 = 3_600;
/// Marks words that this program wrote.
const MARK: u32 = 0x5A6B_0000;
const MARK_BITS: u32 = 0xFFFF_0000;
/// The coils stay at rest until the power is cut or a person comes.
const HELD: u32 = 0x100;
/// No such reset.
const NEVER: u16 = u16::MAX;

/// Words that outlive a reset by the watchdog, and are lost with the power: scratch registers, or memory
/// that the start-up code leaves alone.
pub trait Retained {
    /// All four.
    fn load(&mut self) -> [u32; 4];
    /// Changes one of them; what is beyond the fourth is ignored.
    fn store(&mut self, place: usize, word: u32);
}

/// What the program is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Activity {
    /// Nothing yet: clocks and parts are being started.
    Starting,
    /// Reading the flash.
    Loading,
    /// Reading the sensors.
    Sensing,
    /// Deciding.
    Deciding,
    /// Writing relays and lamp.
    Writing,
    /// Writing to the flash.
    Storing,
    /// Answering on the serial line.
    Talking,
    /// Waiting for the next turn.
    Waiting,
}

impl Activity {
    const ALL: [(Self, &'static str); 8] = [
        (Self::Starting, "starting"),
        (Self::Loading, "loading"),
        (Self::Sensing, "sensing"),
        (Self::Deciding, "deciding"),
        (Self::Writing, "writing"),
        (Self::Storing, "storing"),
        (Self::Talking, "talking"),
        (Self::Waiting, "waiting"),
    ];

    /// From its stored number; one that is none is a program that was just starting.
    #[must_use]
    pub fn from_number(number: u8) -> Self {
        let place = Self::ALL.get(usize::from(number));
        place.map_or(Self::Starting, |(activity, _)| *activity)
    }

    /// The word on the serial line.
    #[must_use]
    pub fn name(self) -> &'static str {
        Self::ALL
            .get(self as usize)
            .map_or("starting", |(_, name)| name)
    }
}

/// How the program ended before this boot, as far as it left word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ended {
    /// Why it was reset.
    pub cause: RestartCause,
    /// Seconds since the boot before.
    pub uptime_s: u32,
    /// What it was doing.
    pub activity: Activity,
    /// Where it was: line of a panic, address of a fault, or 0.
    pub place: u32,
}

/// The four words, read and brought up to date.
#[derive(Debug)]
pub struct Resets<R> {
    retained: R,
    /// Why this boot came.
    cause: RestartCause,
    ended: Option<Ended>,
    held: bool,
    next_would_hold: bool,
    activity: Activity,
}

impl<R: Retained> Resets<R> {
    /// To be called first of all, with what the chip says of this boot.
    pub fn begin(mut retained: R, chip: RestartCause) -> Self {
        let [tag, uptime_s, ages, place] = retained.load();
        let ours = tag & MARK_BITS == MARK;
        let cause = match chip {
            RestartCause::Watchdog if !ours => RestartCause::PowerOn,
            RestartCause::PowerOn
            | RestartCause::BrownOut
            | RestartCause::Watchdog
            | RestartCause::Requested => chip,
        };
        let kept = ours && cause != RestartCause::PowerOn;
        let mut resets = [NEVER; MOST];
        let [newest, older, _] = &mut resets;
        if kept {
            *newest = aged(ages as u16, uptime_s);
            *older = aged((ages >> 16) as u16, uptime_s);
        }
        if cause == RestartCause::Watchdog {
            resets.rotate_right(1);
            let [newest, ..] = &mut resets;
            *newest = 0;
        }
        let counted = resets.iter().filter(|age| **age != NEVER).count();
        let next_would_hold = counted.saturating_add(1) >= MOST;
        let many = resets.iter().all(|age| *age != NEVER);
        let held = many || kept && tag & HELD != 0;
        let mut begun = Self {
            retained,
            cause,
            ended: kept.then(|| Ended {
                cause,
                uptime_s,
                activity: Activity::from_number(tag as u8),
                place,
            }),
            held,
            next_would_hold: held || next_would_hold,
            activity: Activity::Starting,
        };
        let [newest, older, _] = resets;
        begun
            .retained
            .store(2, u32::from(older) << 16 | u32::from(newest));
        begun.retained.store(1, 0);
        begun.retained.store(3, 0);
        begun.mark();
        begun
    }

    /// Why this boot came.
    #[must_use]
    pub const fn cause(&self) -> RestartCause {
        self.cause
    }

    /// How the program ended before, unless the power was away.
    #[must_use]
    pub const fn ended(&self) -> Option<Ended> {
        self.ended
    }

    /// Are the coils to stay at rest?
    #[must_use]
    pub const fn held(&self) -> bool {
        self.held
    }

    /// Would one more reset by the watchdog within the hour hold the coils, if they are not held already? Then a
    /// board leaves out what it can do without.
    #[must_use]
    pub const fn next_would_hold(&self) -> bool {
        self.next_would_hold
    }

    /// Notes what comes next.
    pub fn doing(&mut self, activity: Activity) {
        self.activity = activity;
        self.mark();
    }

    /// Notes the time.
    pub fn alive(&mut self, uptime_ms: u64) {
        let seconds = u32::try_from(uptime_ms / 1_000).unwrap_or(u32::MAX);
        self.retained.store(1, seconds);
    }

    /// Forgets the resets: a person has looked.
    pub fn forgive(&mut self) {
        self.held = false;
        self.retained
            .store(2, u32::from(NEVER) << 16 | u32::from(NEVER));
        self.mark();
    }

    fn mark(&mut self) {
        let held = if self.held { HELD } else { 0 };
        self.retained.store(0, MARK | held | self.activity as u32);
    }
}

/// Notes where a panic or fault happened, for a handler that then stands still.
pub fn note_place(retained: &mut impl Retained, place: u32) {
    retained.store(3, place);
}

/// An age, s, after so much more time; one that no longer counts is none.
fn aged(age_s: u16, more_s: u32) -> u16 {
    match u32::from(age_s).saturating_add(more_s) {
        sum if sum < WINDOW_S => u16::try_from(sum).unwrap_or(NEVER),
        _ => NEVER,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fakes::Scratch;

    use RestartCause::{PowerOn, Requested, Watchdog};

    /// A boot for this cause whose program then runs for so many seconds; is it held?
    fn boot(scratch: &Scratch, cause: RestartCause, then_runs_s: u64) -> bool {
        let mut resets = Resets::begin(scratch.clone(), cause);
        resets.alive(then_runs_s * 1_000);
        resets.held()
    }

    #[test]
    fn three_watchdog_resets_in_an_hour_hold_the_coils_until_power_or_a_person() {
        let scratch = Scratch::default();
        assert!(!boot(&scratch, PowerOn, 100));
        assert!(!boot(&scratch, Watchdog, 1_900));
        assert!(!boot(&scratch, Watchdog, 1_600));
        assert!(boot(&scratch, Watchdog, 10), "3 500 s after the first");
        assert!(
            boot(&scratch, Requested, 100_000),
            "no person, no power cut"
        );
        assert!(boot(&scratch, Watchdog, 5));
        assert!(!boot(&scratch, PowerOn, 5));
        for _ in 0..20 {
            assert!(
                !boot(&scratch, Watchdog, 1_801),
                "spread over more than an hour"
            );
        }
        for _ in 0..2 {
            boot(&scratch, Watchdog, 1);
        }
        let mut resets = Resets::begin(scratch.clone(), Watchdog);
        assert!(resets.held());
        resets.forgive();
        assert!(!boot(&scratch, Watchdog, 1));
        assert!(!boot(&scratch, Watchdog, 1));
        assert!(boot(&scratch, Watchdog, 1), "the count starts anew");
    }

    #[test]
    fn a_program_that_never_gets_further_than_its_start_is_counted() {
        let scratch = Scratch::default();
        Resets::begin(scratch.clone(), PowerOn);
        let held: std::vec::Vec<bool> = (0..5)
            .map(|_| Resets::begin(scratch.clone(), Watchdog).held())
            .collect();
        assert_eq!(held, [false, false, true, true, true]);
    }

    #[test]
    fn the_boot_before_the_hold_is_known_as_such() {
        let scratch = Scratch::default();
        let begin = |cause| Resets::begin(scratch.clone(), cause).next_would_hold();
        assert!(!begin(PowerOn));
        assert!(!begin(Watchdog));
        assert!(begin(Watchdog), "the second within the hour");
        assert!(begin(Watchdog), "held");
        assert!(begin(Requested), "held");
        assert!(!begin(PowerOn));
    }

    #[test]
    fn a_watchdog_reset_without_this_programs_mark_is_new_firmware_and_none_of_its_own() {
        for words in [[0; 4], [u32::MAX; 4], [0x1234_5678, 1, 2, 3]] {
            let scratch = Scratch::with(words);
            let resets = Resets::begin(scratch, Watchdog);
            assert_eq!(resets.cause(), PowerOn);
            assert_eq!((resets.ended(), resets.held()), (None, false));
        }
    }

    #[test]
    fn what_was_being_done_and_for_how_long_is_known_at_the_next_boot() {
        let scratch = Scratch::default();
        let mut resets = Resets::begin(scratch.clone(), PowerOn);
        assert_eq!(resets.ended(), None);
        resets.doing(Activity::Storing);
        resets.alive(7_261_999);
        note_place(&mut scratch.clone(), 0x1000_1234);
        let ended = Resets::begin(scratch.clone(), Watchdog).ended();
        let expected = Ended {
            cause: Watchdog,
            uptime_s: 7_261,
            activity: Activity::Storing,
            place: 0x1000_1234,
        };
        assert_eq!(ended, Some(expected));
        let ended = Resets::begin(scratch, Watchdog).ended().unwrap();
        let expected = Ended {
            uptime_s: 0,
            activity: Activity::Starting,
            place: 0,
            ..expected
        };
        assert_eq!(ended, expected);
    }

    #[test]
    fn every_activity_has_its_number_and_word() {
        for (number, (activity, name)) in (0..).zip(Activity::ALL) {
            assert_eq!(activity as u8, number);
            assert_eq!(Activity::from_number(number), activity);
            assert_eq!(activity.name(), name);
        }
        assert_eq!(Activity::from_number(200), Activity::Starting);
    }
}
