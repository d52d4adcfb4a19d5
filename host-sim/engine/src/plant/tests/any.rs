//! Any house in any weather: the heat balance closes.

use super::*;

/// Anything an owner might build, with what surrounds it.
fn any_config() -> impl Strategy<Value = PlantConfig> {
    (
        (
            any::<bool>(),
            any::<bool>(),
            any::<bool>(),
            any::<bool>(),
            0..3_u8,
            0..4_u8,
        ),
        (
            1..3_u32,
            0.08..0.2_f64,
            0.02..0.06_f64,
            30.0..120.0_f64,
            0.0..0.5_f64,
        ),
        (
            0.5..3.0_f64,
            -5.0..25.0_f64,
            0.0..0.03_f64,
            1.0..20.0_f64,
            any::<bool>(),
        ),
    )
        .prop_map(|(kinds, floor, rest)| {
            let (spiral, curtain, mass, wind, boiler, around) = kinds;
            let (circuits, thickness, depth, length, underside) = floor;
            let (soil, start, insulation, run_m, lateral) = rest;
            let mut config = PlantConfig::default();
            config.floor.layout = if spiral {
                Layout::CounterFlow
            } else {
                Layout::Serpentine
            };
            config.store.floor.layout = config.floor.layout;
            config.floor.circuits = circuits;
            config.floor.thickness_m = thickness;
            config.floor.tube_depth_m = depth;
            config.floor.circuit_length_m = length;
            config.floor.underside_w_m2k = underside;
            config.house.curtain = curtain.then_some(Curtain {
                u_w_m2k: 1.7,
                air_changes_per_h: 0.5,
            });
            config.house.mass = mass.then_some(ThermalMass {
                heat_capacity_j_k: 2.0e6,
                exchange_w_k: 60.0,
            });
            config.house.outside_film = if wind {
                OutsideFilm::Wind
            } else {
                OutsideFilm::Standard
            };
            let kind = match boiler {
                0 => None,
                1 => Some(BoilerKind::HandFired(HandFiredConfig::default())),
                _ => Some(BoilerKind::Injection { capacity_w: 6000.0 }),
            };
            config.boiler = kind.map(|kind| BoilerConfig {
                kind,
                piping: if around % 2 == 0 {
                    Piping::Series
                } else {
                    Piping::Bypass
                },
                mixing_c: (around < 2).then_some(35.0),
            });
            config.supply_run.surroundings = Surroundings::Outdoor;
            config.supply_run.insulation_m = insulation;
            config.supply_run.length_m = run_m;
            config.return_run.surroundings = Surroundings::HouseAir;
            config.ground.conductivity_w_mk = soil;
            config.ground.lateral_gain = lateral;
            config.start.slab_c = start;
            config
        })
}

/// An hour's weather and relays: air, infrared deficit, wind, sun, step length, relays, faults.
type Spell = (f64, f64, f64, f64, f64, u8, u8);

fn any_spell() -> impl Strategy<Value = Spell> {
    (
        -30.0..30.0_f64,
        -20.0..110.0_f64,
        0.0..15.0_f64,
        0.0..40_000.0_f64,
        1.0..130.0_f64,
        0..4_u8,
        0..20_u8,
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn heat_balance_closes_on_any_run(config in any_config(), spells in prop::collection::vec(any_spell(), 1..40)) {
        prop_assert_eq!(config.check(), Ok(()));
        let mut plant = Plant::new(&config, 1);
        plant.load_fuel(25.0);
        plant.light_fire();
        let mut day = 300.0;
        for (air, deficit, wind, sun, dt, relays, fault) in spells {
            let mut outdoor = dull(air, day);
            outdoor.infrared_w_m2 -= deficit;
            outdoor.wind_m_s = wind;
            outdoor.solar_incident_w = sun;
            plant.faults = Faults {
                air_locked: fault == 1,
                circulator_welded_on: fault == 2,
                boiler_welded_on: fault == 3,
                fire_out: fault == 4,
                power_off: fault == 5,
                ..Faults::default()
            };
            let relays = Relays { circulator: relays & 1 == 1, boiler_call: relays & 2 == 2 };
            for _ in 0..60 {
                plant.step(dt, &outdoor, relays);
                outdoor.ground_day += dt / 86_400.0;
            }
            day = outdoor.ground_day;
            let state = plant.true_state();
            prop_assert!(plant.closure() < 1e-6, "closure {} in {state:?}", plant.closure());
            // Nothing is colder than the coldest surroundings less the sky's pull, or hotter than a boiler and the sun make it.
            for t in [state.slab_core_c, state.air_c, state.store_floor_c, state.store_air_c, state.supply_c, state.return_c] {
                prop_assert!((-45.0..=130.0).contains(&t), "{state:?}");
            }
        }
    }
}
