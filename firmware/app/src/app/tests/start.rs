//! From the first instruction to the first decision, and what a boot knows of the ones before.

use super::*;

const EVERY_CAUSE: [RestartCause; 4] = [
    RestartCause::PowerOn,
    RestartCause::BrownOut,
    RestartCause::Watchdog,
    RestartCause::Requested,
];

impl Bench {
    /// Polls until the first row; the coils must be at rest and the watchdog unfed until it is there.
    fn start(&mut self) -> String {
        loop {
            assert_eq!(self.pins.levels()[..3], [false; 3]);
            assert_eq!(self.fed.get(), 0, "fed before anything was decided");
            self.poll();
            if self.app.stepped {
                let lines = self.lines();
                let row = lines.iter().find(|line| line.starts_with("row "));
                return row.expect("the first row").clone();
            }
        }
    }
}

#[test]
fn coils_rest_and_the_watchdog_is_unfed_until_the_first_decision_whatever_the_cause() {
    for cause in EVERY_CAUSE {
        let mut bench = Bench::named();
        bench.run(12);
        let mut bench = bench.reboot(cause);
        let row = bench.start();
        assert!(row.contains(&format!("boot {}", cause.name())), "{row}");
        assert!(bench.uptime <= 2_000, "{} ms", bench.uptime);
        let history = bench.pins.history();
        let until = history.iter().position(|levels| levels[..3] != [false; 3]);
        assert!(until.is_some(), "then they are driven");
        assert!(bench.fed.get() > 0);
        // Nothing is ever called on the way: pin high is a call.
        assert!(history.iter().all(|levels| !levels[CALL]));
    }
}

#[test]
fn a_decision_that_never_comes_is_never_fed_and_leaves_every_coil_at_rest() {
    let mut bench = Bench::named().reboot(RestartCause::PowerOn);
    bench.app.converting = Some(Instant::from_millis(u64::MAX / 2));
    for _ in 0..40 {
        bench.poll();
    }
    assert_eq!(bench.fed.get(), 0);
    assert!(bench.pins.history().iter().all(|l| l[..3] == [false; 3]));
}

#[test]
fn a_unit_that_dies_while_it_starts_is_held_though_its_flash_takes_nothing() {
    let mut bench = Bench::named();
    bench.run(12);
    for turn in 0..6 {
        let (wire, scratch) = (bench.wire.clone(), bench.scratch.clone());
        let mut flash = bench.app.into_flash();
        flash.refuses = true;
        bench = Bench::boot_with(flash, wire, RestartCause::Watchdog, scratch);
        assert_eq!(bench.app.held(), turn >= 2, "reset {turn}");
        assert_eq!(bench.pins.levels()[..3], [false; 3]);
    }
    let lines = bench.run(12);
    assert!(lines.iter().any(|line| line.starts_with("held ")));
    assert_eq!(bench.pins.levels()[..3], [false; 3]);
    bench.ask("acknowledge");
    bench.run(12);
    assert!(bench.level(CIRCULATOR), "it decides again");
}

#[test]
fn nothing_is_written_to_the_flash_before_the_first_decision() {
    let mut bench = Bench::named().reboot(RestartCause::PowerOn);
    let before = bench.app.flash.bytes.clone();
    while !bench.app.stepped {
        assert_eq!(bench.app.flash.bytes, before);
        bench.poll();
    }
    assert_ne!(bench.app.flash.bytes, before, "then the boot is stored");
}

#[test]
fn a_units_defaults_are_told_at_every_boot_until_settings_are_stored() {
    let mut bench = Bench::unset();
    bench.ask("mode summer");
    bench.run(12);
    for _ in 0..4 {
        bench = bench.reboot(RestartCause::PowerOn);
        let lines = bench.run(12);
        let row = &rows(&lines)[0];
        assert!(
            row[column("event")].contains(" settings_lost=1 "),
            "{row:?}"
        );
        assert!(row[column("alarms")].contains("settings_lost"));
        assert!(!bench.level(ALARM), "it rings");
        assert_eq!(bench.app.settings().mode, Mode::Summer, "a mode is kept");
        assert_eq!(bench.app.settings().boiler, defaults::UNIT.boiler);
    }
    // A person may agree to the defaults as they are, but not by a draft that a boot took away.
    assert_eq!(bench.ask("apply"), ["no no_draft: no draft; use set first"]);
    assert_eq!(bench.ask("apply defaults"), ["ok stored; already in force"]);
    assert!(bench.ask("apply defaults")[0].starts_with("no not_unset: "));
    let lines = bench.reboot(RestartCause::PowerOn).run(12);
    let row = &rows(&lines)[0];
    assert!(
        row[column("event")].contains(" settings_lost=0 "),
        "{row:?}"
    );
}

#[test]
fn settings_that_break_a_rule_are_told_at_every_boot_too() {
    let mut bench = Bench::named();
    bench.app.chosen = true;
    let mut broken = *bench.app.settings().raw();
    broken.frost_off = broken.frost_on;
    assert!(bench.app.save_as(broken, bench.app.bindings));
    for _ in 0..3 {
        bench = bench.reboot(RestartCause::PowerOn);
        let lines = bench.run(12);
        let row = &rows(&lines)[0];
        assert!(
            row[column("event")].contains(" settings_lost=1 "),
            "{row:?}"
        );
        assert_eq!(*bench.app.settings().raw(), defaults::UNIT);
        assert!(bench.app.bindings.slab != Source::Unbound);
    }
}

#[test]
fn an_apply_that_cannot_be_stored_leaves_the_defaults_told() {
    let mut bench = Bench::unset();
    bench.ask("set target 1.6");
    bench.app.flash.refuses = true;
    assert!(bench.ask("apply")[0].starts_with("no not_stored"));
    bench.app.flash.refuses = false;
    bench.run(700);
    let lines = bench.reboot(RestartCause::PowerOn).run(12);
    assert!(rows(&lines)[0][column("event")].contains(" settings_lost=1 "));
}

#[test]
fn the_last_resets_are_read_out_over_the_line_newest_first() {
    let mut bench = Bench::named();
    assert_eq!(bench.ask("resets"), ["ok end"]);
    bench.run(90);
    let mut bench = bench.reboot(RestartCause::Watchdog);
    bench.run(12);
    bench.app.resets.doing(crate::resets::Activity::Storing);
    crate::resets::note_place(&mut bench.scratch.clone(), 0x1000_2345);
    let mut bench = bench.reboot(RestartCause::Watchdog);
    bench.run(12);
    // What is told comes from the flash and outlives a power cut.
    let mut bench = bench.reboot(RestartCause::PowerOn);
    let lines = bench.ask("resets");
    assert_eq!(lines.len(), 3, "{lines:?}");
    assert!(lines[0].starts_with("reset watchdog time_s="), "{lines:?}");
    assert!(
        lines[0].ends_with(" uptime_s=11 during=storing place=10002345"),
        "{lines:?}"
    );
    assert!(lines[1].contains(" during=waiting place=0"), "{lines:?}");
    assert!(lines[1].contains(" uptime_s=90 "), "{lines:?}");
    assert_eq!(lines[2], "ok end");
}

#[test]
fn the_greeting_and_the_status_name_version_board_and_build() {
    let mut bench = Bench::boot(blank(), Wire::new(chips()), RestartCause::PowerOn);
    bench.poll();
    let version = env!("CARGO_PKG_VERSION");
    let expected = format!("version={version} board=bench build=");
    let lines = bench.lines();
    assert!(lines[0].starts_with("hello; "), "{lines:?}");
    assert!(lines[0].contains(&expected), "{lines:?}");
    let status = bench.ask("status");
    assert!(status[0].contains(&expected), "{status:?}");
}

#[test]
fn a_thermistor_is_read_sixteen_times_and_one_failure_is_none() {
    let mut bench = Bench::named();
    let shares: Vec<u16> = (0..16).map(|n| 40_000 + n * 100).collect();
    bench.app.analog = Analog(shares.iter().copied().map(Ok).collect());
    assert_eq!(bench.app.mean_share(0), Some(40_750));
    assert!(bench.app.analog.0.is_empty(), "sixteen");
    let mut reads: VecDeque<_> = [Ok(40_000); 16].into();
    reads[15] = Err(());
    bench.app.analog = Analog(reads);
    assert_eq!(bench.app.mean_share(0), None);
}
