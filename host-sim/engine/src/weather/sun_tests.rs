//! Checks of the sun's place against pvlib 0.16.1 (NREL SPA) for O'Hare, 41.983 N 87.917 W, and of the radiation on
//! tilted planes against the same library, the sun taken at the middle of the hour in 1990.

use super::super::glazing::{DiffuseModel, Sunlight, Surface, tilted_irradiance};
use super::*;

#[track_caller]
fn near(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} ± {tolerance}"
    );
}

/// The sun over O'Hare in the middle of the hour that ends at `hour`, local standard time, 1990.
fn chicago_sun(month: u8, day: u8, hour: f64) -> SunPosition {
    let hour_ut = hour - 0.5 + 6.0;
    let sun = SunOfHour::at(days_since_j2000(1990, month, day, hour_ut));
    sun.seen_from(&Place::new(41.983, -87.917), hour_ut)
}

struct Case {
    date: (u8, u8, f64, f64),
    zenith_apparent: f64,
    zenith: f64,
    azimuth: f64,
    direct_diffuse_global: (f64, f64, f64),
    /// Tilt, azimuth, isotropic, Hay–Davies.
    planes: &'static [(f64, f64, f64, f64)],
}

/// Month, day, hour ending and day of the year; pvlib's answers.
const CASES: [Case; 4] = [
    Case {
        date: (1, 7, 13.0, 7.0),
        zenith_apparent: 64.7096,
        zenith: 64.7441,
        azimuth: 188.1759,
        direct_diffuse_global: (900.0, 57.0, 442.0),
        planes: &[
            (30.0, 180.0, 794.812, 830.385),
            (60.0, 180.0, 954.649, 1011.403),
            (90.0, 180.0, 878.168, 936.035),
            (90.0, 0.0, 72.700, 54.559),
        ],
    },
    Case {
        date: (2, 10, 13.0, 41.0),
        zenith_apparent: 56.4879,
        zenith: 56.5126,
        azimuth: 187.0008,
        direct_diffuse_global: (687.0, 156.0, 533.0),
        planes: &[(60.0, 180.0, 825.661, 905.678)],
    },
    Case {
        date: (12, 21, 13.0, 355.0),
        zenith_apparent: 66.0470,
        zenith: 66.0837,
        azimuth: 190.0850,
        direct_diffuse_global: (7.0, 170.0, 173.0),
        planes: &[(30.0, 180.0, 166.540, 167.417)],
    },
    Case {
        date: (4, 15, 10.0, 105.0),
        zenith_apparent: 44.6706,
        zenith: 44.6869,
        azimuth: 125.6882,
        direct_diffuse_global: (697.0, 199.0, 695.0),
        planes: &[(90.0, 90.0, 566.990, 597.956)],
    },
];

#[test]
fn angles_within_a_hundredth_of_a_degree() {
    for case in &CASES {
        let (month, day, hour, _) = case.date;
        let sun = chicago_sun(month, day, hour);
        near(90.0 - sun.elevation_deg, case.zenith, 0.01);
        near(
            90.0 - sun.apparent_elevation_deg,
            case.zenith_apparent,
            0.01,
        );
        near(sun.azimuth_deg(), case.azimuth, 0.015);
        near(
            libm::acos(sun.up).to_degrees(),
            90.0 - sun.apparent_elevation_deg,
            1e-9,
        );
        near(
            sun.east * sun.east + sun.north * sun.north + sun.up * sun.up,
            1.0,
            1e-12,
        );
    }
}

/// Given the same angles as the library, the isotropic sum is within 1 W/m² and Hay–Davies within 0.1 %.
#[test]
fn tilted_planes_given_the_same_angles() {
    for case in &CASES {
        let (_, _, _, day_of_year) = case.date;
        let (direct_normal, diffuse_horizontal, global_horizontal) = case.direct_diffuse_global;
        let zenith = case.zenith_apparent.to_radians();
        let azimuth = case.azimuth.to_radians();
        let sun = SunPosition {
            elevation_deg: 90.0 - case.zenith,
            apparent_elevation_deg: 90.0 - case.zenith_apparent,
            east: libm::sin(zenith) * libm::sin(azimuth),
            north: libm::sin(zenith) * libm::cos(azimuth),
            up: libm::cos(zenith),
        };
        let light = Sunlight {
            global_horizontal,
            direct_normal,
            diffuse_horizontal,
            extraterrestrial_normal: extraterrestrial_normal_w_m2(day_of_year),
        };
        for &(tilt_deg, azimuth_deg, isotropic, hay_davies) in case.planes {
            let plane = Surface {
                area_m2: 1.0,
                tilt_deg,
                azimuth_deg,
            };
            let on = |model| tilted_irradiance(&plane, &light, &sun, model, 0.2);
            near(on(DiffuseModel::Isotropic), isotropic, 0.01);
            near(on(DiffuseModel::HayDavies), hay_davies, 0.05);
        }
    }
}

#[test]
fn tilted_planes_end_to_end() {
    for case in &CASES {
        let (month, day, hour, day_of_year) = case.date;
        let (direct_normal, diffuse_horizontal, global_horizontal) = case.direct_diffuse_global;
        let sun = chicago_sun(month, day, hour);
        let light = Sunlight {
            global_horizontal,
            direct_normal,
            diffuse_horizontal,
            extraterrestrial_normal: extraterrestrial_normal_w_m2(day_of_year),
        };
        for &(tilt_deg, azimuth_deg, isotropic, hay_davies) in case.planes {
            let plane = Surface {
                area_m2: 1.0,
                tilt_deg,
                azimuth_deg,
            };
            let on = |model| tilted_irradiance(&plane, &light, &sun, model, 0.2);
            near(on(DiffuseModel::Isotropic), isotropic, 0.2);
            near(on(DiffuseModel::HayDavies), hay_davies, 0.3);
        }
    }
}

/// Meeus, *Astronomical Algorithms*, 2nd ed., example 25.a: 1992 October 13, 0 h dynamical time,
/// declination −7.78507°; example 28.a: equation of time +13.70 min at the same instant.
#[test]
fn meeus_worked_example() {
    let days = days_since_j2000(1992, 10, 13, 0.0);
    near(days, 2_448_908.5 - 2_451_545.0, 1e-9);
    let sun = SunOfHour::at(days);
    near(sun.declination_deg(), -7.785_07, 0.001);
    near(sun.equation_of_time_min(), 13.70, 0.05);
}

/// Meeus chapter 7, table of Julian days.
#[test]
fn julian_days_of_the_textbook() {
    near(days_since_j2000(2000, 1, 1, 12.0), 0.0, 1e-9);
    near(
        days_since_j2000(1999, 1, 1, 0.0),
        2_451_179.5 - 2_451_545.0,
        1e-9,
    );
    near(
        days_since_j2000(1987, 6, 19, 12.0),
        2_446_966.0 - 2_451_545.0,
        1e-9,
    );
    near(
        days_since_j2000(1900, 1, 1, 0.0),
        2_415_020.5 - 2_451_545.0,
        1e-9,
    );
}

/// Refraction at the horizon is 34′ by long convention (nautical almanacs; NOAA's form has 28.9′ at a true height of 0).
#[test]
fn refraction_is_small_high_up_and_half_a_degree_at_the_horizon() {
    near(refraction_deg(90.0), 0.0, 1e-9);
    near(refraction_deg(45.0) * 60.0, 0.97, 0.02);
    near(refraction_deg(0.0) * 60.0, 28.9, 0.1);
    // The apparent horizon: a true height of −34′ is seen at 0.
    near(refraction_deg(-0.5667) * 60.0, 34.0, 1.0);
    // No step where the ranges meet.
    for height in [5.0, -0.575] {
        near(
            refraction_deg(height - 1e-9),
            refraction_deg(height + 1e-9),
            2e-3,
        );
    }
}

/// Perihelion early in January, aphelion early in July: ±3.4 % about the solar constant.
#[test]
fn radiation_above_the_atmosphere_over_the_year() {
    near(extraterrestrial_normal_w_m2(3.0) / 1366.1, 1.035, 0.001);
    near(extraterrestrial_normal_w_m2(185.0) / 1366.1, 0.9666, 0.001);
}
