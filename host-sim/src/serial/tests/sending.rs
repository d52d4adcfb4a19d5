//! Settings sent over a line that loses, garbles and goes away.

use super::*;

/// Settings that differ in this many places, more than one row of the unit can tell.
fn wanted() -> RawSettings {
    let mut wanted = RawSettings::DEFAULT;
    wanted.target = Celsius::from_milli(1_600);
    wanted.supply_trim = Kelvin::from_milli(-120);
    wanted.settling_time = controller_core::time::Duration::from_secs(500);
    wanted
}

/// Reads, sends step by step, and gives what the unit has then.
fn sent(bench: &Bench, wanted: &RawSettings) -> Result<RawSettings, SendError> {
    let mut port = bench.clone();
    let mut conversation = Conversation::open(&mut port).map_err(SendError::Before)?;
    let mut now = read(&mut conversation).map_err(SendError::Before)?;
    for step in difference::steps(&now, wanted, serial_line::note::LONGEST).expect("a way") {
        send(&mut conversation, &now, &step)?;
        now = step;
    }
    drop(conversation);
    Ok(bench.settings())
}

#[test]
fn settings_are_sent_checked_and_read_back() {
    let bench = Bench::new(Unit::new());
    assert_eq!(sent(&bench, &wanted()).unwrap(), wanted());
    // They outlive a power cut.
    bench.0.borrow_mut().unit.reboot(RestartCause::PowerOn);
    assert_eq!(bench.settings(), wanted());
    assert_eq!(
        sent(&bench, &RawSettings::DEFAULT).unwrap(),
        RawSettings::DEFAULT
    );
}

#[test]
fn a_unit_that_has_the_files_settings_by_default_is_told_that_they_are_meant() {
    let bench = Bench::new(Unit::unset());
    assert_eq!(bench.settings(), firmware_app::defaults::UNIT);
    let lost = |bench: &Bench| {
        bench.0.borrow_mut().unit.reboot(RestartCause::PowerOn);
        bench.0.borrow_mut().unit.app().is_unset()
    };
    assert!(lost(&bench), "and stays so until somebody says so");
    for _ in 0..2 {
        let mut port = bench.clone();
        confirm(&mut Conversation::open(&mut port).unwrap()).unwrap();
    }
    assert!(!lost(&bench));
}

#[test]
fn more_than_a_row_can_tell_goes_in_steps() {
    let mut wanted = RawSettings::DEFAULT;
    for field in controller_core::settings::Field::all() {
        let mut trial = wanted;
        let bits = trial.bits(field.key);
        if trial.set_bits(field.key, bits + 1) && Settings::check(trial).is_ok() {
            wanted = trial;
        }
    }
    let steps = difference::steps(&RawSettings::DEFAULT, &wanted, serial_line::note::LONGEST);
    assert!(steps.unwrap().len() > 1);
    assert_eq!(sent(&Bench::new(Unit::new()), &wanted).unwrap(), wanted);
}

#[test]
fn a_line_that_breaks_before_apply_changes_nothing() {
    for part in 1..7 {
        let bench = Bench::new(Unit::new());
        let bench = bench.mangle_in(move |n, line| {
            if n < part || line.starts_with("discard") {
                line.into()
            } else {
                Vec::new()
            }
        });
        let result = sent(&bench, &wanted());
        // Hello, settings, discard, three values, check.
        assert!(
            matches!(result, Err(SendError::Before(LineError::Silent { .. }))),
            "{result:?}"
        );
        assert_eq!(
            bench.settings(),
            RawSettings::DEFAULT,
            "broken after {part} lines"
        );
    }
}

#[test]
fn a_unit_that_goes_away_or_boots_changes_nothing() {
    let bench = Bench::new(Unit::new()).mangle_in(|_, line| line.into());
    let unplugged = bench.clone();
    let bench = bench.mangle_out(move |_, line| {
        if line.starts_with("ok draft settling_time") {
            return b"ok dra".to_vec();
        }
        line.into()
    });
    let gone = unplugged.plot(|_, world| {
        if world.sent > 4 {
            world.plugged = false;
        }
    });
    let result = sent(&gone, &wanted());
    assert!(
        matches!(result, Err(SendError::Before(LineError::Gone { .. }))),
        "{result:?}"
    );
    assert_eq!(bench.settings(), RawSettings::DEFAULT);

    // Booted in the middle of the draft, with its first words heard and not heard.
    for heard in [true, false] {
        let mut once = true;
        let bench = Bench::new(Unit::new())
            .plot(move |_, world| {
                if world.sent == 5 && std::mem::take(&mut once) {
                    world.unit.reboot(RestartCause::Watchdog);
                }
            })
            .mangle_out(move |_, line| {
                let lost = !heard && line.starts_with("hello");
                if lost { Vec::new() } else { line.into() }
            });
        let result = sent(&bench, &wanted());
        assert_eq!(
            matches!(result, Err(SendError::Before(LineError::Booted { .. }))),
            heard
        );
        assert!(matches!(result, Err(SendError::Before(_))), "{result:?}");
        assert_eq!(bench.settings(), RawSettings::DEFAULT);
    }
}

#[test]
fn a_lost_answer_to_apply_is_settled_by_reading_back() {
    // The answer is lost: the settings are in force all the same.
    let bench = Bench::new(Unit::new()).mangle_out(|_, line| {
        if line.starts_with("ok stored") {
            Vec::new()
        } else {
            line.into()
        }
    });
    assert_eq!(sent(&bench, &wanted()).unwrap(), wanted());
    // The request is lost once: it is sent again.
    let mut lost = false;
    let bench = Bench::new(Unit::new()).mangle_in(move |_, line| {
        let mut bytes = line.as_bytes().to_vec();
        if line.starts_with("apply") && !std::mem::replace(&mut lost, true) {
            bytes[0] ^= 2;
        }
        bytes
    });
    assert_eq!(sent(&bench, &wanted()).unwrap(), wanted());
}

#[test]
fn what_the_unit_refuses_stays_as_it_was() {
    // Another program sets a value that does not go with ours while we talk.
    let bench = Bench::new(Unit::new()).mangle_in(|_, line| {
        let mut bytes = Vec::new();
        if line.starts_with("check") {
            bytes.extend(sealed("set frost_on 4.5").into_bytes());
        }
        bytes.extend(line.as_bytes());
        bytes
    });
    let result = sent(&bench, &wanted());
    let Err(SendError::Refused {
        asked, problems, ..
    }) = result
    else {
        panic!("{result:?}");
    };
    assert_eq!(asked, "check");
    assert!(
        problems.iter().any(|problem| problem.contains("frost_off")),
        "{problems:?}"
    );
    assert_eq!(bench.settings(), RawSettings::DEFAULT);
}

#[test]
fn another_firmware_is_told_apart_from_damage() {
    let bench = Bench::new(Unit::new()).mangle_out(|_, line| {
        let line = line.trim_end();
        let (body, _) = line.rsplit_once('~').unwrap();
        sealed(&body.replace("range 0.500 C to 4.500 C", "range 0.500 C to 5.500 C")).into_bytes()
    });
    let mut port = bench.clone();
    let mut conversation = Conversation::open(&mut port).unwrap();
    let message = read(&mut conversation).unwrap_err().to_string();
    assert!(
        message.contains("target 1.500 C range 0.500 C to 5.500 C"),
        "{message}"
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn over_a_bad_line_settings_arrive_whole_or_not_at_all(seed in 1_u64..u64::MAX, share in 2_u64..40) {
        let mut state = seed;
        let mut random = move || {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            state
        };
        let mut damage = move |line: &str| {
            let mut bytes = line.as_bytes().to_vec();
            if random().is_multiple_of(share) {
                let place = (random() % bytes.len() as u64) as usize;
                match random() % 3 {
                    0 => bytes[place] ^= 1 << (random() % 8),
                    1 => bytes.truncate(place),
                    _ => bytes.clear(),
                }
            }
            bytes
        };
        let mut other = damage;
        let bench = Bench::new(Unit::new())
            .mangle_in(move |_, line| damage(line))
            .mangle_out(move |_, line| other(line));
        let result = sent(&bench, &wanted());
        let stands = bench.settings();
        match result {
            Ok(after) => prop_assert_eq!(after, wanted()),
            Err(SendError::Before(_) | SendError::Refused { .. }) => {
                prop_assert_eq!(stands, RawSettings::DEFAULT);
            }
            Err(SendError::After(_) | SendError::Differs(_)) => {
                prop_assert!(stands == wanted() || stands == RawSettings::DEFAULT);
            }
        }
    }
}
