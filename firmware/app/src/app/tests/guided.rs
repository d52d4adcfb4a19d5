//! Work done together with a person: warming a chip, trimming the pair, testing a relay.

use super::*;

#[test]
fn warming_a_chip_by_hand_shows_which_it_is() {
    let mut bench = Bench::named();
    bench.run(12);
    assert_eq!(bench.ask("identify"), ["ok 4 chips; warm one by hand"]);
    bench.run(12);
    bench.wire.chip(2, |chip| chip.sixteenths += 48);
    let lines = bench.run(12);
    let rom = bench.wire.chip(2, |chip| chip.rom);
    let expected = format!("rises {} slab by 3.000 K", hex(&rom));
    assert!(lines.contains(&expected), "{lines:?}");
    let lines = bench.run(300);
    assert!(lines.contains(&"ok identify is over".to_string()));
}

#[test]
fn the_pair_is_trimmed_to_its_mean_in_one_bath() {
    let mut bench = Bench::named();
    bench.wire.chip(0, |chip| chip.sixteenths = 6);
    bench.wire.chip(1, |chip| chip.sixteenths = -2);
    bench.run(12);
    bench.ask("trim pair");
    let lines = bench.run(130);
    assert!(lines.contains(&"ok trim is in the draft; check and apply adopt it".to_string()));
    bench.ask("apply");
    bench.run(12);
    // Half of 8/16 K to each side.
    assert_eq!(bench.app.settings().supply_trim.to_bits(), -16_384);
    assert_eq!(bench.app.settings().return_trim.to_bits(), 16_384);
    // A bath that drifts, and a pair that differs too much, are refused.
    bench.ask("trim pair");
    bench.wire.chip(0, |chip| chip.sixteenths = 12);
    bench.run(40);
    bench.wire.chip(0, |chip| chip.sixteenths = 40);
    let lines = bench.run(130);
    assert!(
        lines
            .iter()
            .any(|line| line.starts_with("no trim: the bath has not settled")),
        "{lines:?}"
    );
    bench.ask("trim pair");
    let lines = bench.run(130);
    assert!(
        lines
            .iter()
            .any(|line| line.starts_with("no trim: the pair differs")),
        "{lines:?}"
    );
    assert!(bench.app.draft.is_none());
}

#[test]
fn a_relay_test_waits_for_protection_asks_and_ends() {
    let mut bench = Bench::named();
    // No frost outdoors, in which the circulator looks how cold the water is a minute after the boot.
    bench.wire.chip(3, |chip| chip.sixteenths = 48);
    bench.run(12);
    assert_eq!(bench.ask("test circulator"), ["ok waiting for the relay"]);
    let lines = bench.run(60);
    assert!(
        lines
            .iter()
            .any(|line| line.starts_with("test circulator waits: boot ")),
        "{lines:?}"
    );
    assert!(bench.level(CIRCULATOR), "shortest times are not bypassed");
    let asked = |line: &String| line.starts_with("test circulator is on");
    let waited = (0..60)
        .take_while(|_| !bench.run(12).iter().any(asked))
        .count();
    assert!(
        (40..60).contains(&waited),
        "ten minutes' boot delay: {waited} times 12 s"
    );
    assert!(!bench.level(CIRCULATOR), "it runs");
    // Nobody answers: it ends by itself.
    let lines = bench.run(120);
    assert!(
        lines.contains(&"test circulator not answered".to_string()),
        "{lines:?}"
    );
    assert_eq!(bench.ask("yes"), ["no nothing_asked: nothing was asked"]);
    bench.run(30);
    assert!(bench.app.wanted.is_empty());
    // The alarm is switched directly and can be answered.
    bench.app.outputs.alarm = false;
    assert!(bench.ask("test alarm")[0].starts_with("ok alarm rings"));
    assert_eq!(bench.ask("yes"), ["test alarm passed"]);
}
