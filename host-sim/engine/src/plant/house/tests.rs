//! Reference: two-node response in closed form; ISO 6946 films; ASHRAE sol-air form.

use super::super::config::{Curtain, ThermalMass};
use super::*;

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} within {tolerance}"
    );
}

fn black_sky(air_c: f64) -> f64 {
    let kelvin = air_c + 273.15;
    STEFAN_BOLTZMANN * kelvin * kelvin * kelvin * kelvin
}

/// Weather without sun and with a sky as warm as the air.
fn dull(air_c: f64) -> OutdoorConditions {
    OutdoorConditions {
        air_c,
        infrared_w_m2: black_sky(air_c),
        ..OutdoorConditions::default()
    }
}

#[test]
fn two_nodes_follow_their_closed_form() {
    // C 7.56e6 and 1.2e5 J/K, 227.5 W/K between, 350.8 W/K out, 5 → −10 °C; hours, mass, air.
    let mut config = HouseConfig {
        mass: Some(ThermalMass {
            heat_capacity_j_k: 7.56e6,
            exchange_w_k: 227.5,
        }),
        vent: None,
        air_changes_per_h: 0.0,
        ..HouseConfig::default()
    };
    config.air_heat_capacity_j_m3k = 1.2e5 / config.volume_m3();
    config.glazing_u_w_m2k = 350.8 / config.glazing_area_m2();
    let mut house = House::new(&config, 5.0);
    let mut seconds: u32 = 0;
    for (hours, mass, air) in [
        (0.1, 4.94840, -2.50262),
        (1.0, 4.10138, -4.43156),
        (6.0, 0.16045, -5.98777),
        (12.0, -3.14362, -7.29251),
    ] {
        while f64::from(seconds) < hours * 3600.0 {
            let envelope = house.envelope(&dull(-10.0));
            house.solve(1.0, &envelope, &AirCoupling::NONE, 0.0);
            seconds += 1;
        }
        close(house.mass_c().unwrap(), mass, 5e-3);
        close(house.air_c(), air, 1e-2);
    }
}

#[test]
fn steady_air_is_where_gains_meet_losses() {
    let config = HouseConfig {
        vent: None,
        ..HouseConfig::default()
    };
    let mut house = House::new(&config, 0.0);
    for _ in 0..200 {
        let envelope = house.envelope(&dull(-10.0));
        house.solve(60.0, &envelope, &AirCoupling::NONE, 1000.0);
    }
    close(house.air_c(), -10.0 + 1000.0 / 227.5771, 1e-4);
}

#[test]
fn sky_takes_more_through_the_glazing_by_its_outside_resistance() {
    let house = House::new(&HouseConfig::default(), 0.0);
    let clear = OutdoorConditions {
        infrared_w_m2: black_sky(-10.0) - 80.0,
        ..dull(-10.0)
    };
    let flow = house.envelope(&clear).sky_w - house.envelope(&dull(-10.0)).sky_w;
    close(flow, 3.4 * 0.04 * 62.9973 * 0.65 * 0.9 * 80.0, 0.01);
}

#[test]
fn wind_film_meets_the_stated_u_value_near_four_metres_per_second() {
    let config = HouseConfig {
        outside_film: OutsideFilm::Wind,
        ..HouseConfig::default()
    };
    let house = House::new(&config, 0.0);
    let u = |wind_m_s: f64| {
        house
            .envelope(&OutdoorConditions {
                wind_m_s,
                ..dull(0.0)
            })
            .glazing_w_k
            / config.glazing_area_m2()
    };
    close(u(4.21), 3.4, 0.01);
    assert!(u(0.0) < 2.8 && u(12.0) > 3.6);
    // Single glass, 3 mm: 1/(.13 + .003 + .04) = 5.780 (ISO 6946 films).
    close(1.0 / (0.13 + 0.003 + 0.04), 5.780, 1e-3);
}

#[test]
fn curtain_is_drawn_in_the_dark_only() {
    let config = HouseConfig {
        curtain: Some(Curtain {
            u_w_m2k: 1.7,
            air_changes_per_h: 0.5,
        }),
        ..HouseConfig::default()
    };
    let house = House::new(&config, 0.0);
    let night = house.envelope(&dull(0.0));
    let day = house.envelope(&OutdoorConditions {
        solar_incident_w: 8000.0,
        ..dull(0.0)
    });
    close(night.glazing_w_k + night.infiltration_w_k, 116.0196, 1e-3);
    close(day.glazing_w_k + day.infiltration_w_k, 227.5771, 1e-3);
}

#[test]
fn vents_keep_a_sunny_house_from_overheating() {
    let sunny = OutdoorConditions {
        solar_incident_w: 30_000.0,
        ..dull(5.0)
    };
    let settle = |vent: Option<Vent>| {
        let mut house = House::new(
            &HouseConfig {
                vent,
                ..HouseConfig::default()
            },
            5.0,
        );
        let mut flows = HouseFlows::default();
        for _ in 0..600 {
            let envelope = house.envelope(&sunny);
            flows = house.solve(60.0, &envelope, &AirCoupling::NONE, 0.0);
        }
        (house.air_c(), flows)
    };
    let (shut, _) = settle(None);
    let (open, flows) = settle(HouseConfig::default().vent);
    assert!(shut > 40.0 && open < 24.0, "{shut} {open}");
    assert!(flows.vent_w > 0.0);
    close(flows.sun_air_w, 30_000.0 * 0.8 * 0.4, 1e-9);
    close(
        flows.glazing_w + flows.infiltration_w + flows.vent_w + flows.sky_w,
        flows.sun_air_w,
        100.0,
    );
}
