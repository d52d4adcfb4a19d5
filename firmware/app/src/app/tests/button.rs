//! A person at the board: the bell is silenced, comes back, and the lamp answers.

use super::*;

impl Bench {
    /// Holds the button so long, then lets go.
    fn press(&mut self, ms: u64) {
        self.pins.pin(BUTTON).set_low().unwrap();
        let end = self.uptime + ms;
        while self.uptime < end {
            self.poll();
        }
        self.pins.pin(BUTTON).set_high().unwrap();
        self.poll();
    }

    fn rings(&self) -> bool {
        !self.level(ALARM)
    }

    /// Blinks of one round of the lamp's answer.
    fn blinks(&mut self) -> u32 {
        self.press(3_500);
        let (mut count, mut was_lit, mut dark_for) = (0, false, 0);
        for _ in 0..60 {
            self.poll();
            let lit = self.level(LAMP);
            count += u32::from(lit && !was_lit);
            dark_for = if lit { 0 } else { dark_for + 1 };
            if count > 0 && dark_for > 4 {
                break;
            }
            was_lit = lit;
        }
        // Until the normal patterns are back.
        self.run(30);
        count
    }
}

#[test]
fn a_press_silences_and_the_bell_comes_back_if_the_cause_stays() {
    let mut bench = Bench::named();
    bench.wire.chip(0, |chip| chip.present = false);
    bench.run(60);
    assert!(bench.rings(), "a sensor is lost");
    bench.press(500);
    assert!(!bench.rings());
    let lines = bench.run(30);
    assert!(
        lines
            .iter()
            .any(|line| line.contains("command acknowledge")),
        "{lines:?}"
    );
    assert_eq!(
        rows(&lines).last().unwrap()[column("alarm")],
        "1",
        "the decision is not silenced"
    );
    assert!(bench.ask("status")[0].contains(" alarm=1 "));
    bench.run(3_500);
    assert!(!bench.rings());
    bench.run(120);
    assert!(bench.rings(), "an hour later the sensor is still lost");
    // Another alarm rings through.
    bench.press(500);
    assert!(!bench.rings());
    bench.wire.chip(1, |chip| chip.present = false);
    bench.run(60);
    assert!(bench.rings(), "the return is new");
    // The line's word for the same.
    bench.ask("acknowledge");
    bench.run(1);
    assert!(!bench.rings());
    // A boot forgets it.
    let mut bench = bench.reboot(RestartCause::PowerOn);
    bench.run(60);
    assert!(bench.rings());
}

#[test]
fn a_button_that_sticks_or_twitches_silences_nothing() {
    let mut bench = Bench::named();
    bench.wire.chip(0, |chip| chip.present = false);
    bench.run(60);
    for _ in 0..50 {
        bench.pins.pin(BUTTON).set_low().unwrap();
        bench.poll();
        bench.pins.pin(BUTTON).set_high().unwrap();
        bench.poll();
        assert!(bench.rings());
    }
    bench.pins.pin(BUTTON).set_low().unwrap();
    for _ in 0..2_000 {
        bench.poll();
        assert!(bench.rings());
    }
}

#[test]
fn a_press_ends_held_outputs() {
    let mut bench = Bench::named();
    for _ in 0..3 {
        bench.run(12);
        bench = bench.reboot(RestartCause::Watchdog);
    }
    bench.run(12);
    assert!(bench.app.held());
    bench.press(500);
    bench.run(12);
    assert!(!bench.app.held() && bench.level(CIRCULATOR));
}

#[test]
fn a_long_press_is_answered_by_blinks() {
    let mut bench = Bench::named();
    bench.run(30);
    assert_eq!(bench.blinks(), 1, "well");
    bench.wire.chip(3, |chip| chip.present = false);
    bench.run(60);
    assert_eq!(bench.blinks(), 3, "a sensor is lost");
    for _ in 0..3 {
        bench = bench.reboot(RestartCause::Watchdog);
        bench.run(5);
    }
    assert_eq!(bench.blinks(), 6, "held");
    let mut bench = Bench::unset();
    bench.run(30);
    assert_eq!(bench.blinks(), 5, "never set");
}
