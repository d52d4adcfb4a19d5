//! Noise on the line and cuts of the power.

use super::*;

/// What nobody may change from outside without a checksum.
fn held_dear(bench: &Bench) -> (RawSettings, Bindings, bool) {
    (
        *bench.app.settings().raw(),
        bench.app.bindings,
        bench.app.held(),
    )
}

fn noise() -> impl Strategy<Value = Vec<u8>> {
    let words = "(mode|set|apply|bind|pump|boiler|test|status|log|settings|sensors|help|yes|stop|trim)( (summer|drained|target 4|slab 2801|on|off|pair|alarm))?(~[0-9a-f]{0,5})?[\r\n]{0,2}";
    prop_oneof![
        proptest::collection::vec(any::<u8>(), 0..200),
        words.prop_map(String::into_bytes),
        proptest::collection::vec(0x20..0x7F_u8, 90..300),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn garbage_half_lines_and_floods_change_nothing(parts in proptest::collection::vec(noise(), 1..40)) {
        let mut bench = Bench::named();
        bench.run(1);
        let before = held_dear(&bench);
        for part in parts {
            part.into_iter().for_each(|byte| bench.app.receive(byte));
            bench.poll();
        }
        bench.send("\n");
        bench.run(25);
        bench.ask("stop");
        prop_assert_eq!(before, held_dear(&bench));
        // It still answers and decides.
        prop_assert!(!rows(&bench.run(12)).is_empty());
        let status = bench.ask("status");
        prop_assert!(status.iter().any(|line| line.starts_with("status time_s=")), "{status:?}");
    }
}

#[test]
fn a_power_cut_at_any_save_keeps_names_and_settings() {
    // Every cut falls into one of the saves that a boot, a request and a night make.
    let mut flash = Bench::named().app.into_flash();
    let mut target = RawSettings::DEFAULT.target.to_bits();
    for n in 0..150_u64 {
        flash.revive(Some(1 + (n * 397) % 6_000));
        let mut bench = Bench::boot(flash, Wire::new(chips()), RestartCause::PowerOn);
        assert!(bench.app.bindings.slab != Source::Unbound, "cut {n}");
        let stored = bench.app.settings().target.to_bits();
        assert!(
            stored == target || stored == 98_304 + n as i32 - 1,
            "cut {n}"
        );
        target = stored;
        bench.ask(&format!("set target raw {}", 98_304 + n));
        if bench
            .ask("apply")
            .first()
            .is_some_and(|line| line.starts_with("ok stored"))
        {
            target = 98_304 + n as i32;
        }
        bench.run(12);
        flash = bench.app.into_flash();
    }
    assert!(flash.torn > 100, "{}", flash.torn);
}
