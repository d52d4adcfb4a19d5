//! The comparison itself, on few days.

use super::*;
use crate::files;
use crate::files::site::Site;

fn winter(days: u32) -> Winter {
    let year = files::weather::demo().expect("kept with the program");
    let period = year
        .period(jiff::civil::date(2025, 12, 20), days)
        .expect("a year");
    Winter {
        name: "demo".to_owned(),
        weather: Series::new(&year, period, &Site::demo().config.glazing()),
    }
}

fn comparison<R>(days: u32, look: impl FnOnce(&Comparison<'_>) -> R) -> R {
    let site = Site::demo();
    look(&Comparison {
        plant: &site.config.plant,
        settings: &Settings::default(),
        winters: &[winter(days)],
        seed: 1,
        bound: false,
    })
}

#[test]
fn a_plain_control_keeps_its_slab_in_the_band_by_its_boiler() {
    comparison(10, |comparison| {
        let limit = |milli| {
            comparison
                .plain(
                    "plain",
                    PumpRule::Differential,
                    Celsius::from_milli(milli),
                    &Cancel::new(),
                    &|| (),
                )
                .expect("not stopped")
                .total
        };
        let (low, high) = (limit(500), limit(6_000));
        assert!(
            high.boiler_heat_kwh > low.boiler_heat_kwh && high.calls > low.calls,
            "{low:?} {high:?}"
        );
        assert!(high.below_target_kh <= low.below_target_kh);
        // Called at 6 °C the slab was in no danger.
        assert!(high.useless_calls > 0 && high.useless_calls <= high.calls);
    });
}

#[test]
fn the_pair_made_equal_is_no_worse_than_asked() {
    comparison(8, |comparison| {
        let done = std::sync::atomic::AtomicU64::new(0);
        let count = || {
            done.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        };
        let equal = comparison
            .equal(0.05, &Cancel::new(), &count)
            .expect("not stopped")
            .expect("a limit");
        assert!(equal.line.total.below_target_kh <= 0.05 + AS_WELL_KH);
        assert_eq!(done.into_inner(), LIMITS.len() as u64);
    });
}

#[test]
fn a_stopped_comparison_says_so() {
    comparison(1, |comparison| {
        let cancel = Cancel::new();
        cancel.request();
        assert!(comparison.run(&cancel, &|| ()).is_err());
    });
}
