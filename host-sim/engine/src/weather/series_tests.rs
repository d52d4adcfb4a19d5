//! Checks of how an hour's sun is spread over its minutes.

use super::super::glazing::DiffuseModel;
use super::*;

const CHICAGO: &str = include_str!("../../../data/chicago-il-725300-tmy3.epw");

#[track_caller]
fn near(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} ± {tolerance}"
    );
}

/// Dates and sun of a real year (columns of the EPW data dictionary); the rest does not matter here.
fn hours() -> Vec<Hour> {
    let hour = |line: &str| {
        let cell: Vec<f64> = line
            .split(',')
            .map(|cell| cell.parse().unwrap_or(f64::NAN))
            .collect();
        Hour {
            year: cell[0] as i16,
            month: cell[1] as u8,
            day: cell[2] as u8,
            hour: cell[3] as u8,
            dry_bulb_c: 0.0,
            dew_point_c: 0.0,
            pressure_pa: 101_325.0,
            infrared_w_m2: 300.0,
            global_horizontal_wh_m2: cell[13],
            direct_normal_wh_m2: cell[14],
            diffuse_horizontal_wh_m2: cell[15],
            wind_m_s: 0.0,
            opaque_tenths: None,
            snow_depth_cm: None,
        }
    };
    let hours: Vec<Hour> = CHICAGO.lines().skip(8).map(hour).collect();
    assert_eq!(hours.len(), 8760);
    hours
}

/// The three components, each over each hour of a year: the mean of the parts is the file's sum.
#[test]
fn each_component_of_each_hour_is_conserved() {
    let glazing = Glazing {
        surfaces: Vec::new(),
        ground_albedo: 0.2,
        diffuse: DiffuseModel::Isotropic,
    };
    let sky = Sky {
        place: Place::new(41.98, -87.92),
        utc_offset_h: -6.0,
        planes: Vec::new(),
        glazing: &glazing,
    };
    let mut sunny_hours = 0;
    for hour in &hours() {
        let suns = sky.suns(hour);
        let (lights, sunless) = shares(hour, &suns);
        let mean = |component: fn(&Sunlight) -> f64| {
            lights.iter().map(component).sum::<f64>() / PARTS as f64
        };
        near(
            mean(|l| l.global_horizontal),
            hour.global_horizontal_wh_m2,
            1e-9,
        );
        near(
            mean(|l| l.diffuse_horizontal),
            hour.diffuse_horizontal_wh_m2,
            1e-9,
        );
        near(
            mean(|l| l.direct_normal) + sunless,
            hour.direct_normal_wh_m2,
            1e-9,
        );
        for (light, sun) in lights.iter().zip(&suns) {
            assert!(
                light.direct_normal == 0.0 || sun.up > 0.0,
                "direct sun below the horizon at {hour:?}"
            );
        }
        sunny_hours += usize::from(hour.global_horizontal_wh_m2 > 0.0);
    }
    assert!(sunny_hours > 4000);
}
