//! Checks of cold snaps and offsets.

use crate::sim::weather::*;

fn golden() -> WeatherYear {
    super::demo().unwrap()
}

#[track_caller]
fn near(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} ± {tolerance}"
    );
}

#[test]
fn depth_is_full_inside_and_nothing_outside() {
    let year = golden();
    let snap = ColdSnap::new(8.0, 3.0, SnapStart::On { month: 1, day: 10 });
    let colder = year.with_cold_snap(&snap).unwrap();
    let first = year.row_of_day(1, 10).unwrap();
    let drop = |row: usize| year.hours[row].dry_bulb_c - colder.hours[row].dry_bulb_c;
    // The row that ends at 00:00 of the first day to the one that ends at 00:00 after the third.
    for row in first - 1..first + 72 {
        near(drop(row), 8.0, 1e-9);
        let dew = year.hours[row].dew_point_c - colder.hours[row].dew_point_c;
        near(dew, 8.0, 1e-9);
    }
    // Half way down and half way up.
    near(drop(first - 13), 4.0, 1e-9);
    near(drop(first + 71 + 12), 4.0, 1e-9);
    for row in (0..first - 25).chain(first + 71 + 24..8760) {
        assert_eq!(year.hours[row], colder.hours[row]);
    }
    // The fall never turns round and never jumps.
    for row in first - 26..first {
        let step = drop(row + 1) - drop(row);
        assert!((0.0..=8.0 * 0.066).contains(&step), "{step}");
    }
}

/// Infrared keeps the hour's cloud: under Walton's model the ratio to the clear sky is unchanged.
#[test]
fn infrared_follows_the_clear_sky() {
    let year = golden();
    let snap = ColdSnap::new(10.0, 1.0, SnapStart::On { month: 2, day: 1 });
    let colder = year.with_cold_snap(&snap).unwrap();
    let row = year.row_of_day(2, 1).unwrap() + 5;
    let cloud = |year: &WeatherYear| {
        let hour = &year.hours[row];
        let emissivity = sky::walton_emissivity(hour.dew_point_c, 0.0);
        hour.infrared_w_m2 / sky::horizontal_infrared_w_m2(emissivity, hour.dry_bulb_c)
    };
    near(cloud(&colder), cloud(&year), 1e-12);
    assert!(colder.hours[row].infrared_w_m2 < year.hours[row].infrared_w_m2 - 20.0);
}

#[test]
fn a_seed_decides_the_date() {
    let year = golden();
    let coldest_row = |seed| {
        let snap = ColdSnap::new(60.0, 2.0, SnapStart::Seeded(seed));
        let colder = year.with_cold_snap(&snap).unwrap();
        (0..8760)
            .find(|&row| year.hours[row].dry_bulb_c - colder.hours[row].dry_bulb_c > 59.99)
            .unwrap_or(0)
    };
    assert_eq!(coldest_row(1), coldest_row(1));
    let rows: Vec<usize> = (0..20).map(coldest_row).collect();
    assert!(rows.iter().any(|row| *row != rows[0]));
    // December to February only.
    assert!(
        rows.iter()
            .all(|row| *row < 59 * 24 + 49 || *row >= 334 * 24 - 1),
        "{rows:?}"
    );
    // ChaCha8 is a published cipher: the draw is the same on every machine and with every release.
    assert_eq!(&rows[..3], &EXPECTED_ROWS);
}

/// Recorded from the first run: guards against a change of the draw, not against an outside source.
const EXPECTED_ROWS: [usize; 3] = [467, 456, 540];

#[test]
fn a_snap_may_reach_over_new_year() {
    let year = golden();
    let snap = ColdSnap::new(5.0, 2.0, SnapStart::On { month: 12, day: 31 });
    let colder = year.with_cold_snap(&snap).unwrap();
    let drop = |row: usize| year.hours[row].dry_bulb_c - colder.hours[row].dry_bulb_c;
    near(drop(8759), 5.0, 1e-9);
    near(drop(23), 5.0, 1e-9);
    near(drop(23 + 24), 0.0, 1e-9);
}

#[test]
fn nonsense_is_refused() {
    let year = golden();
    let start = SnapStart::On { month: 1, day: 1 };
    for snap in [
        ColdSnap::new(-1.0, 1.0, start),
        ColdSnap::new(f64::NAN, 1.0, start),
        ColdSnap::new(61.0, 1.0, start),
        ColdSnap::new(5.0, 0.0, start),
        ColdSnap::new(5.0, f64::NAN, start),
        ColdSnap {
            ramp_h: -1.0,
            ..ColdSnap::new(5.0, 1.0, start)
        },
    ] {
        let error = year.with_cold_snap(&snap).unwrap_err();
        assert!(matches!(error, PeriodError::Shape(_)), "{snap:?}");
    }
    let no_day = ColdSnap::new(5.0, 1.0, SnapStart::On { month: 2, day: 30 });
    assert_eq!(
        year.with_cold_snap(&no_day),
        Err(PeriodError::NoSuchDay { month: 2, day: 30 })
    );
}

#[test]
fn an_offset_moves_the_whole_year() {
    let year = golden();
    let warmer = year.with_offset(2.0);
    for (before, after) in year.hours.iter().zip(&warmer.hours) {
        near(after.dry_bulb_c - before.dry_bulb_c, 2.0, 1e-9);
        near(after.dew_point_c - before.dew_point_c, 2.0, 1e-9);
        assert!(after.infrared_w_m2 > before.infrared_w_m2);
        near(
            after.global_horizontal_wh_m2,
            before.global_horizontal_wh_m2,
            0.0,
        );
    }
}
