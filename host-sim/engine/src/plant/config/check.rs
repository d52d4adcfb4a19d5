//! What cannot be built, named by field.

use super::{BoilerConfig, BoilerKind, FloorConfig, HouseConfig, PlantConfig, RunConfig};
use crate::plant::exchanger::ZONES;
use crate::plant::fluid::Fluid;
use core::f64::consts::PI;

/// A value no plant can have.
#[derive(Clone, Debug, PartialEq)]
pub struct ConfigError {
    /// The field, as written in [`PlantConfig`].
    pub field: String,
    /// Its value.
    pub found: f64,
    /// What it must be.
    pub expected: &'static str,
}

impl core::fmt::Display for ConfigError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(
            f,
            "{} is {}, but must be {}",
            self.field, self.found, self.expected
        )
    }
}

impl core::error::Error for ConfigError {}

/// Field, value, smallest and largest allowed, the rule in words.
type Rule = (&'static str, f64, f64, f64, &'static str);

/// Smallest positive value worth telling from zero.
const SOME: f64 = 1e-9;
const ANY: f64 = f64::MAX;

fn positive(field: &'static str, value: f64) -> Rule {
    (field, value, SOME, ANY, "greater than 0")
}

fn not_negative(field: &'static str, value: f64) -> Rule {
    (field, value, 0.0, ANY, "0 or more")
}

fn share(field: &'static str, value: f64) -> Rule {
    (field, value, 0.0, 1.0, "from 0 to 1")
}

fn hold(section: &str, rules: &[Rule]) -> Result<(), ConfigError> {
    // A value that is not a number lies in no range.
    match rules
        .iter()
        .find(|(_, value, low, high, _)| !(low..=high).contains(&value))
    {
        None => Ok(()),
        Some(&(field, found, _, _, expected)) => Err(ConfigError {
            field: format!("{section}.{field}"),
            found,
            expected,
        }),
    }
}

fn house(house: &HouseConfig) -> Result<(), ConfigError> {
    hold(
        "house",
        &[
            positive("width_m", house.width_m),
            positive("length_m", house.length_m),
            positive("eaves_m", house.eaves_m),
            (
                "ridge_m",
                house.ridge_m,
                house.eaves_m,
                ANY,
                "at least the height of the eaves",
            ),
            // With the standard film of 25 W/m²K outside nothing can conduct better than that.
            (
                "glazing_u_w_m2k",
                house.glazing_u_w_m2k,
                SOME,
                20.0,
                "greater than 0, at most 20 W/m²K",
            ),
            not_negative("air_changes_per_h", house.air_changes_per_h),
            positive("air_heat_capacity_j_m3k", house.air_heat_capacity_j_m3k),
            not_negative("edge_loss_w_mk", house.edge_loss_w_mk),
            share("transmittance", house.transmittance),
            share("sun_to_floor", house.sun_to_floor),
            share("sun_to_air", house.sun_to_air),
            share(
                "sun_to_floor + sun_to_air",
                house.sun_to_floor + house.sun_to_air,
            ),
            share("sky_view", house.sky_view),
            share("emissivity", house.emissivity),
        ],
    )?;
    if let Some(curtain) = &house.curtain {
        hold(
            "house.curtain",
            &[
                (
                    "u_w_m2k",
                    curtain.u_w_m2k,
                    SOME,
                    20.0,
                    "greater than 0, at most 20 W/m²K",
                ),
                not_negative("air_changes_per_h", curtain.air_changes_per_h),
            ],
        )?;
    }
    if let Some(mass) = &house.mass {
        hold(
            "house.mass",
            &[
                positive("heat_capacity_j_k", mass.heat_capacity_j_k),
                positive("exchange_w_k", mass.exchange_w_k),
            ],
        )?;
    }
    Ok(())
}

fn floor(section: &str, floor: &FloorConfig) -> Result<(), ConfigError> {
    let radius_m = floor.tube.outside_m / 2.0;
    let deepest_m = floor.thickness_m - radius_m;
    hold(
        section,
        &[
            positive("thickness_m", floor.thickness_m),
            positive("conductivity_w_mk", floor.conductivity_w_mk),
            positive("heat_capacity_j_m3k", floor.heat_capacity_j_m3k),
            positive("tube.inside_m", floor.tube.inside_m),
            (
                "tube.outside_m",
                floor.tube.outside_m,
                floor.tube.inside_m + SOME,
                ANY,
                "greater than the bore",
            ),
            positive("tube_conductivity_w_mk", floor.tube_conductivity_w_mk),
            not_negative("tube_roughness_m", floor.tube_roughness_m),
            positive("circuit_length_m", floor.circuit_length_m),
            ("circuits", f64::from(floor.circuits), 1.0, ANY, "1 or more"),
            (
                "spacing_m",
                floor.spacing_m,
                PI * floor.tube.outside_m,
                ANY,
                "more than π × the tube's diameter",
            ),
            (
                "tube_depth_m",
                floor.tube_depth_m,
                radius_m,
                deepest_m,
                "inside the slab with the whole tube",
            ),
            not_negative("fittings_k", floor.fittings_k),
            not_negative("surface_above_w_m2k", floor.surface_above_w_m2k),
            not_negative("surface_below_w_m2k", floor.surface_below_w_m2k),
            not_negative("underside_w_m2k", floor.underside_w_m2k),
            positive("exchange", floor.exchange),
            positive("surface_exchange", floor.surface_exchange),
        ],
    )
}

fn run(section: &str, run: &RunConfig) -> Result<(), ConfigError> {
    hold(
        section,
        &[
            positive("length_m", run.length_m),
            positive("tube_conductivity_w_mk", run.tube_conductivity_w_mk),
            not_negative("insulation_m", run.insulation_m),
            positive("insulation_w_mk", run.insulation_w_mk),
            positive("surface_w_m2k", run.surface_w_m2k),
            not_negative("fittings_k", run.fittings_k),
        ],
    )
}

fn boiler(boiler: &BoilerConfig) -> Result<(), ConfigError> {
    match &boiler.kind {
        BoilerKind::Injection { capacity_w } => {
            hold("boiler", &[positive("capacity_w", *capacity_w)])
        }
        BoilerKind::HandFired(fire) => hold(
            "boiler",
            &[
                positive("rated_w", fire.rated_w),
                not_negative("smoulder_w", fire.smoulder_w),
                positive("lag_s", fire.lag_s),
                (
                    "efficiency",
                    fire.efficiency,
                    SOME,
                    1.0,
                    "greater than 0, at most 1",
                ),
                (
                    "smoulder_efficiency",
                    fire.smoulder_efficiency,
                    SOME,
                    1.0,
                    "greater than 0, at most 1",
                ),
                positive("wood_j_kg", fire.wood_j_kg),
                positive("charge_kg", fire.charge_kg),
                positive("jacket_kg", fire.jacket_kg),
                not_negative("standby_w_k", fire.standby_w_k),
            ],
        ),
    }
}

impl PlantConfig {
    /// Refuses what cannot be simulated; says which field and why.
    pub fn check(&self) -> Result<(), ConfigError> {
        house(&self.house)?;
        floor("floor", &self.floor)?;
        floor("store.floor", &self.store.floor)?;
        hold(
            "store",
            &[
                positive("floor_area_m2", self.store.floor_area_m2.unwrap_or(1.0)),
                positive("depth_m", self.store.depth_m),
                positive("wall_height_m", self.store.wall_height_m),
                positive("wall_area_m2", self.store.wall_area_m2),
                positive("wall_thickness_m", self.store.wall_thickness_m),
                positive("wall_conductivity_w_mk", self.store.wall_conductivity_w_mk),
                positive(
                    "wall_heat_capacity_j_m3k",
                    self.store.wall_heat_capacity_j_m3k,
                ),
                positive("air_volume_m3", self.store.air_volume_m3),
                not_negative("contents_j_k", self.store.contents_j_k),
            ],
        )?;
        hold(
            "ground",
            &[
                positive("conductivity_w_mk", self.ground.conductivity_w_mk),
                positive("heat_capacity_j_m3k", self.ground.heat_capacity_j_m3k),
                (
                    "mean_c",
                    self.ground.mean_c,
                    -30.0,
                    50.0,
                    "from −30 to 50 °C",
                ),
                (
                    "amplitude_k",
                    self.ground.amplitude_k,
                    0.0,
                    40.0,
                    "from 0 to 40 K",
                ),
                (
                    "coldest_day",
                    self.ground.coldest_day,
                    0.0,
                    366.0,
                    "a day of the year",
                ),
                (
                    "column_depth_m",
                    self.ground.column_depth_m,
                    1.0,
                    100.0,
                    "from 1 to 100 m",
                ),
            ],
        )?;
        hold(
            "circulator",
            &[
                positive("shutoff_head_m", self.circulator.shutoff_head_m),
                positive("runout_m3_h", self.circulator.runout_m3_h),
                not_negative("electrical_w", self.circulator.electrical_w),
                share("heat_to_water", self.circulator.heat_to_water),
                positive(
                    "measured_flow_l_s",
                    self.circulator.measured_flow_l_s.unwrap_or(1.0),
                ),
            ],
        )?;
        match self.fluid {
            Fluid::Water => Ok(()),
            Fluid::Propylene(x) => hold(
                "fluid",
                &[(
                    "propylene",
                    x,
                    0.15,
                    0.50,
                    "a mass fraction from 0.15 to 0.50",
                )],
            ),
            Fluid::Ethylene(x) => hold(
                "fluid",
                &[(
                    "ethylene",
                    x,
                    0.20,
                    0.40,
                    "a mass fraction from 0.20 to 0.40",
                )],
            ),
        }?;
        run("supply_run", &self.supply_run)?;
        run("return_run", &self.return_run)?;
        self.boiler.as_ref().map_or(Ok(()), boiler)?;
        hold(
            "sensors",
            &[
                (
                    "slab_zone",
                    self.sensors.slab_zone as f64,
                    0.0,
                    (ZONES - 1) as f64,
                    "from 0 to 3",
                ),
                positive("spot_cooling_s", self.sensors.spot_cooling_s),
            ],
        )?;
        hold(
            "start",
            &[
                (
                    "ground_day",
                    self.start.ground_day,
                    0.0,
                    1000.0,
                    "a day of the year",
                ),
                (
                    "slab_c",
                    self.start.slab_c,
                    -30.0,
                    50.0,
                    "from −30 to 50 °C",
                ),
            ],
        )
    }
}
