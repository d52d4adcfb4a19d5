//! The demonstration house: every default is its value.

use super::*;

impl Default for PlantConfig {
    fn default() -> Self {
        PlantConfig {
            house: HouseConfig::default(),
            // 55 mm of foam below the deck, 1.57 m² K/W, and the film of a ceiling, 0.10 m² K/W (ISO 6946).
            floor: FloorConfig {
                underside_w_m2k: 0.6,
                ..FloorConfig::default()
            },
            store: StoreConfig::default(),
            ground: GroundConfig::default(),
            circulator: CirculatorConfig::default(),
            fluid: Fluid::Water,
            supply_run: RunConfig::default(),
            return_run: RunConfig::default(),
            boiler: Some(BoilerConfig::default()),
            sensors: SensorsConfig::default(),
            start: StartConfig::default(),
        }
    }
}

impl Default for HouseConfig {
    fn default() -> Self {
        HouseConfig {
            width_m: 3.6,
            length_m: 6.0,
            eaves_m: 1.9,
            ridge_m: 2.7,
            glazing_u_w_m2k: 3.4,
            air_changes_per_h: 0.75,
            air_heat_capacity_j_m3k: 1293.37,
            edge_loss_w_mk: 0.9346,
            curtain: None,
            transmittance: 0.80,
            sun_to_floor: 0.15,
            sun_to_air: 0.40,
            sky_view: 0.65,
            emissivity: 0.90,
            outside_film: OutsideFilm::Standard,
            vent: Some(Vent {
                opens_c: 16.0,
                full_c: 24.0,
                air_changes_per_h: 30.0,
            }),
            mass: None,
        }
    }
}

impl Default for FloorConfig {
    fn default() -> Self {
        FloorConfig {
            thickness_m: 0.10,
            conductivity_w_mk: 1.8,
            heat_capacity_j_m3k: 2.1e6,
            tube: Tube::METRIC_16X2,
            tube_conductivity_w_mk: 0.38,
            tube_roughness_m: 1.5e-6,
            circuit_length_m: 86.0,
            circuits: 1,
            spacing_m: 0.25,
            tube_depth_m: 0.05,
            layout: Layout::Serpentine,
            fittings_k: 20.0,
            surface_above_w_m2k: 9.0,
            surface_below_w_m2k: 0.0,
            underside_w_m2k: 0.0,
            exchange: 1.0,
            surface_exchange: 1.0,
        }
    }
}

impl Default for StoreConfig {
    fn default() -> Self {
        StoreConfig {
            floor: FloorConfig::default(),
            floor_area_m2: None,
            depth_m: 2.2,
            wall_height_m: 2.1,
            wall_area_m2: 40.3,
            wall_thickness_m: 0.40,
            wall_conductivity_w_mk: 2.0,
            wall_heat_capacity_j_m3k: 2.0e6,
            air_volume_m3: 45.0,
            contents_j_k: 1.0e6,
        }
    }
}

impl Default for GroundConfig {
    fn default() -> Self {
        // Ground sheltered by the buildings (estimate): 9 °C at the store floor in mid October, 6.5 °C at the end of March.
        GroundConfig {
            conductivity_w_mk: 1.5,
            heat_capacity_j_m3k: 2.2e6,
            mean_c: 7.8,
            amplitude_k: 3.0,
            coldest_day: 35.0,
            column_depth_m: 12.0,
            lateral_gain: true,
        }
    }
}

impl Default for CirculatorConfig {
    fn default() -> Self {
        // A small high-head circulator, its shut-off head chosen so that both floors and the runs in series get 0.060 L/s of
        // 7 °C water: they need 9.04 m at that flow.
        CirculatorConfig {
            shutoff_head_m: 9.118,
            runout_m3_h: 2.4,
            electrical_w: 45.0,
            heat_to_water: 0.78,
            measured_flow_l_s: None,
        }
    }
}

impl Default for RunConfig {
    fn default() -> Self {
        RunConfig {
            length_m: 3.0,
            tube: Tube::METRIC_16X2,
            tube_conductivity_w_mk: 0.38,
            insulation_m: 0.013,
            insulation_w_mk: 0.04,
            surface_w_m2k: 10.0,
            fittings_k: 3.0,
            surroundings: Surroundings::StoreAir,
        }
    }
}

impl Default for BoilerConfig {
    fn default() -> Self {
        BoilerConfig {
            kind: BoilerKind::HandFired(HandFiredConfig::default()),
            piping: Piping::Bypass,
            mixing_c: Some(35.0),
        }
    }
}

impl Default for HandFiredConfig {
    fn default() -> Self {
        HandFiredConfig {
            rated_w: 12_000.0,
            smoulder_w: 400.0,
            lag_s: 900.0,
            efficiency: 0.55,
            smoulder_efficiency: 0.15,
            wood_j_kg: 16.0e6,
            charge_kg: 25.0,
            jacket_kg: 90.0,
            standby_w_k: 5.0,
            damper_closes_c: 82.0,
            tending: Tending::Daily {
                hours: [7.0, 21.0],
                below_c: 0.0,
            },
            load_kg: None,
            answer_s: 900.0,
            sleep_hours: [22.5, 6.5],
            wakings: 99,
        }
    }
}

impl Default for SensorConfig {
    fn default() -> Self {
        SensorConfig {
            offset_k: 0.0,
            scatter_k: 0.05,
            noise_k: 0.03,
            resolution_k: 1.0 / 16.0,
            lag_s: 0.0,
            strap_on: 0.0,
        }
    }
}

impl Default for SensorsConfig {
    fn default() -> Self {
        let pipe = SensorConfig {
            lag_s: 60.0,
            strap_on: 0.01,
            ..SensorConfig::default()
        };
        let air = SensorConfig {
            lag_s: 180.0,
            ..SensorConfig::default()
        };
        SensorsConfig {
            supply: pipe,
            return_: pipe,
            slab: SensorConfig {
                lag_s: 300.0,
                ..SensorConfig::default()
            },
            outdoor: air,
            air,
            store: air,
            slab_zone: 2,
            spot_cooling_s: 1800.0,
        }
    }
}

impl Default for StartConfig {
    fn default() -> Self {
        StartConfig {
            ground_day: 274.0,
            slab_c: 10.0,
        }
    }
}
