//! What is built where: the plant as plain data.
//!
//! `Default` is the demo site: an invented 3.6 × 6.0 m twin-wall plant house over a stone-walled fruit store. Every field
//! names its unit; [`PlantConfig::check`] refuses what cannot be built.

mod check;
mod demo;

pub use check::ConfigError;

use super::exchanger::Layout;
use super::fluid::Fluid;
use super::tube::Tube;

/// The whole plant.
#[derive(Clone, Debug, PartialEq)]
pub struct PlantConfig {
    /// The glazed house.
    pub house: HouseConfig,
    /// Its floor slab with the tube that heats it.
    pub floor: FloorConfig,
    /// The store below.
    pub store: StoreConfig,
    /// The earth around the store.
    pub ground: GroundConfig,
    /// The circulator.
    pub circulator: CirculatorConfig,
    /// The liquid.
    pub fluid: Fluid,
    /// Pipe from the store to the supply sensor.
    pub supply_run: RunConfig,
    /// Pipe from the return sensor back to the store.
    pub return_run: RunConfig,
    /// The backup boiler, if there is one.
    pub boiler: Option<BoilerConfig>,
    /// The sensors.
    pub sensors: SensorsConfig,
    /// State at the first step.
    pub start: StartConfig,
}

/// Envelope and air of the house. The floor plan is `width_m` × `length_m` with a gable roof along the length.
#[derive(Clone, Debug, PartialEq)]
pub struct HouseConfig {
    /// Width, gable side, m.
    pub width_m: f64,
    /// Length, ridge direction, m.
    pub length_m: f64,
    /// Height of the eaves, m.
    pub eaves_m: f64,
    /// Height of the ridge, m.
    pub ridge_m: f64,
    /// Heat loss coefficient of the glazing with the standard outside film, W/(m² K).
    pub glazing_u_w_m2k: f64,
    /// Infiltration, air changes per hour.
    pub air_changes_per_h: f64,
    /// Volumetric heat capacity of the air, J/(m³ K): 1293.37 at 1.7 °C, 90 % (psychrometrics, ASHRAE).
    pub air_heat_capacity_j_m3k: f64,
    /// Edge loss factor of the slab, W per m of perimeter and K (ASHRAE 90.1-type table).
    pub edge_loss_w_mk: f64,
    /// Night curtain, drawn while there is no sun.
    pub curtain: Option<Curtain>,
    /// Share of the sun on the glazing that comes through.
    pub transmittance: f64,
    /// Share of the sun come through that the floor takes.
    pub sun_to_floor: f64,
    /// Share of the sun come through that air, benches and plants give to the air as heat; the rest evaporates water or
    /// leaves again.
    pub sun_to_air: f64,
    /// Mean share of the sky the glazing sees, 0..1.
    pub sky_view: f64,
    /// Longwave emissivity of the glazing.
    pub emissivity: f64,
    /// How the outside film is treated.
    pub outside_film: OutsideFilm,
    /// Vents, if they open by themselves.
    pub vent: Option<Vent>,
    /// Water barrels or beds standing in the air, if any.
    pub mass: Option<ThermalMass>,
}

/// A curtain drawn at night.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curtain {
    /// Heat loss coefficient of glazing and curtain, W/(m² K).
    pub u_w_m2k: f64,
    /// Infiltration with the curtain drawn, 1/h.
    pub air_changes_per_h: f64,
}

impl Curtain {
    /// A single curtain under twin-wall glazing (ASABE EP406, 1.7 to 2.3 W/m²K, from memory; leakage common practice, no source).
    pub const USUAL: Curtain = Curtain {
        u_w_m2k: 1.7,
        air_changes_per_h: 0.5,
    };
}

/// Outside film of the glazing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OutsideFilm {
    /// Always the standard 0.04 m² K/W that U-values are stated with (ISO 6946).
    Standard,
    /// 4 + 4v W/(m² K) convection and 4.6 ε radiation (ISO 6946 annex), v the wind in m/s.
    Wind,
}

/// Self-opening vents: extra air changes that rise linearly between two air temperatures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vent {
    /// Begins to open, °C.
    pub opens_c: f64,
    /// Fully open, °C.
    pub full_c: f64,
    /// Air changes per hour when fully open.
    pub air_changes_per_h: f64,
}

/// Heat storage in the air of the house.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThermalMass {
    /// Heat capacity, J/K.
    pub heat_capacity_j_k: f64,
    /// Exchange with the air, W/K.
    pub exchange_w_k: f64,
}

/// A concrete floor with a tube in it.
#[derive(Clone, Debug, PartialEq)]
pub struct FloorConfig {
    /// Thickness of the slab, m.
    pub thickness_m: f64,
    /// Conductivity of the concrete, W/(m K).
    pub conductivity_w_mk: f64,
    /// Volumetric heat capacity of the concrete, J/(m³ K).
    pub heat_capacity_j_m3k: f64,
    /// The tube.
    pub tube: Tube,
    /// Conductivity of the tube wall, W/(m K).
    pub tube_conductivity_w_mk: f64,
    /// Roughness of the tube, m.
    pub tube_roughness_m: f64,
    /// Length of one circuit, m.
    pub circuit_length_m: f64,
    /// Equal circuits in parallel.
    pub circuits: u32,
    /// Distance between neighbouring tubes, m.
    pub spacing_m: f64,
    /// Tube axis below the surface, m.
    pub tube_depth_m: f64,
    /// How the tube runs.
    pub layout: Layout,
    /// Loss coefficients of one circuit's bends and fittings, velocity heads.
    pub fittings_k: f64,
    /// Upper surface coefficient the tube-plane resistance is computed with, W/(m² K).
    pub surface_above_w_m2k: f64,
    /// Lower surface coefficient the tube-plane resistance is computed with, W/(m² K); 0 = insulated. Ground below instead
    /// makes the resistance a few per cent smaller: 0 is the careful side.
    pub surface_below_w_m2k: f64,
    /// Heat transfer from the underside to the store's air below, W/(m² K): the deck's insulation with its film. Not used for
    /// a floor on the ground.
    pub underside_w_m2k: f64,
    /// Conductance from water to tube plane against the computed one: 1 as computed, other where a log has shown it.
    pub exchange: f64,
    /// Conductance from surface to air against the curve used. No key: nobody measures it; a fit counts it among what it
    /// does not know.
    pub surface_exchange: f64,
}

/// The store under the house: a room with a tube floor, walls against earth.
#[derive(Clone, Debug, PartialEq)]
pub struct StoreConfig {
    /// Its floor.
    pub floor: FloorConfig,
    /// Area of that floor, m²; `None`: as the house's.
    pub floor_area_m2: Option<f64>,
    /// Floor below the ground surface, m.
    pub depth_m: f64,
    /// Height of the walls, m.
    pub wall_height_m: f64,
    /// Area of the walls, m².
    pub wall_area_m2: f64,
    /// Thickness of the walls, m.
    pub wall_thickness_m: f64,
    /// Conductivity of the walls, W/(m K).
    pub wall_conductivity_w_mk: f64,
    /// Volumetric heat capacity of the walls, J/(m³ K).
    pub wall_heat_capacity_j_m3k: f64,
    /// Air in the store, m³.
    pub air_volume_m3: f64,
    /// Heat capacity of what is kept there, J/K.
    pub contents_j_k: f64,
}

/// The earth: properties and undisturbed yearly wave (Kusuda & Achenbach 1965).
#[derive(Clone, Debug, PartialEq)]
pub struct GroundConfig {
    /// Conductivity, W/(m K).
    pub conductivity_w_mk: f64,
    /// Volumetric heat capacity, J/(m³ K).
    pub heat_capacity_j_m3k: f64,
    /// Yearly mean of the ground surface, °C.
    pub mean_c: f64,
    /// Amplitude of the ground surface, K. Ground sheltered by house and snow swings much less than open field.
    pub amplitude_k: f64,
    /// Day of year of the coldest surface.
    pub coldest_day: f64,
    /// Depth the column under the floor reaches, m.
    pub column_depth_m: f64,
    /// Whether the earth beside the floor's column helps (a floor is finite).
    pub lateral_gain: bool,
}

/// The circulator, H = H0 (1 − (Q/runout)²).
#[derive(Clone, Debug, PartialEq)]
pub struct CirculatorConfig {
    /// Head against a closed valve, m.
    pub shutoff_head_m: f64,
    /// Flow without any head, m³/h.
    pub runout_m3_h: f64,
    /// Electrical power while running, W.
    pub electrical_w: f64,
    /// Share of it that ends in the water; the rest warms the air of the house, where the manifold is.
    pub heat_to_water: f64,
    /// A flow measured on the site, L/s, to be used instead of the computed one.
    pub measured_flow_l_s: Option<f64>,
}

/// What surrounds a pipe.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Surroundings {
    /// Air of the house.
    HouseAir,
    /// Air of the store.
    StoreAir,
    /// Outdoor air: an exposed run.
    Outdoor,
}

/// A run of pipe between store and manifold.
#[derive(Clone, Debug, PartialEq)]
pub struct RunConfig {
    /// Length, m.
    pub length_m: f64,
    /// Tube.
    pub tube: Tube,
    /// Conductivity of the tube wall, W/(m K).
    pub tube_conductivity_w_mk: f64,
    /// Thickness of the insulation, m.
    pub insulation_m: f64,
    /// Conductivity of the insulation, W/(m K).
    pub insulation_w_mk: f64,
    /// Coefficient of the outer surface, W/(m² K): about 10 sheltered, 25 in wind.
    pub surface_w_m2k: f64,
    /// Loss coefficients of fittings, velocity heads.
    pub fittings_k: f64,
    /// What is around it.
    pub surroundings: Surroundings,
}

/// The backup boiler.
#[derive(Clone, Debug, PartialEq)]
pub struct BoilerConfig {
    /// What kind.
    pub kind: BoilerKind,
    /// How it is piped.
    pub piping: Piping,
    /// Mixing valve: highest supply temperature it lets through, °C; `None` = no valve, all water goes through the boiler.
    pub mixing_c: Option<f64>,
}

/// Kind of boiler.
#[derive(Clone, Debug, PartialEq)]
pub enum BoilerKind {
    /// A fire a person lays: the call opens the damper.
    HandFired(HandFiredConfig),
    /// A boiler kept hot by its own control: the call opens an injection pump, limited only by its power.
    Injection {
        /// Greatest heat, W.
        capacity_w: f64,
    },
}

/// Where the boiler's heat goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Piping {
    /// In the supply pipe: the water afterwards passes slab and store.
    Series,
    /// While called the loop leaves the store out: boiler heat does not pass the store.
    Bypass,
}

/// A hand-fired boiler.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HandFiredConfig {
    /// Heat to the water with the damper open, W.
    pub rated_w: f64,
    /// Heat to the water from a smouldering fire with the damper closed, W.
    pub smoulder_w: f64,
    /// Time constant of the fire following its damper, s.
    pub lag_s: f64,
    /// Heat to the water per heat of the wood (higher heating value, as fired) with the damper open, 0..1.
    pub efficiency: f64,
    /// The same with the damper shut: a smouldering fire wastes most of its wood (common practice, no source).
    pub smoulder_efficiency: f64,
    /// Higher heating value of the wood as fired, J/kg.
    pub wood_j_kg: f64,
    /// A full charge, kg.
    pub charge_kg: f64,
    /// Water in the jacket, kg.
    pub jacket_kg: f64,
    /// Standby loss of the jacket to the outdoor shed, W/K.
    pub standby_w_k: f64,
    /// Damper closes by the boiler's own thermostat, °C.
    pub damper_closes_c: f64,
    /// When the person feeds it.
    pub tending: Tending,
    /// Wood the person fills it up to, kg; `None`: a full charge.
    pub load_kg: Option<f64>,
    /// How long a call waits for its fire where it is tended on call, s.
    pub answer_s: f64,
    /// Hours of the day between which the person sleeps.
    pub sleep_hours: [f64; 2],
    /// Times a night the person gets up for a call at most.
    pub wakings: u32,
}

/// Share of a full charge that a sized load is. Status: judgement; in the demonstration house 4 kg, whose heat lifts the slab by
/// about as much as two calls ask for.
const SIZED_SHARE: f64 = 1.0 / 6.0;

impl HandFiredConfig {
    /// A load of the size that rules and ways of tending are judged by, kg.
    pub fn sized_kg(&self) -> f64 {
        self.charge_kg * SIZED_SHARE
    }

    /// Wood the person fills it up to, kg.
    pub fn load_kg(&self) -> f64 {
        self.load_kg
            .map_or(self.charge_kg, |load_kg| load_kg.min(self.charge_kg))
    }
}

/// The person's habit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tending {
    /// Only when told so by the program ([`super::Plant::load_fuel`], [`super::Plant::light_fire`]).
    ByHand,
    /// Morning and evening, when it is cold out: filled and lit if need be.
    Daily {
        /// Hours of the day.
        hours: [f64; 2],
        /// Only when the outdoor air is below this, °C.
        below_c: f64,
    },
    /// When the boiler is called and there is no fire, or hardly any wood left: filled and lit.
    OnCall,
    /// As the controller says: so much wood within so long, or no more; where it says nothing, on call.
    ByAdvice,
    /// In the evening, when it is cold out, and on call besides.
    Evening {
        /// Hour of the day.
        hour: f64,
        /// Only when the outdoor air is below this, °C.
        below_c: f64,
    },
}

/// One sensor's imperfections.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SensorConfig {
    /// Fixed error, K.
    pub offset_k: f64,
    /// Standard deviation of a further fixed error drawn from the seed, K.
    pub scatter_k: f64,
    /// Standard deviation of the noise of one reading, K.
    pub noise_k: f64,
    /// Step of the reading, K; 0 = none.
    pub resolution_k: f64,
    /// Time constant of sensor and pocket, s.
    pub lag_s: f64,
    /// Share of (pipe − air) a strapped-on sensor misses: 0.01 metal pipe with paste and insulation, 0.04 plastic insulated,
    /// 0.20 plastic bare (common practice, no source). 0 for a sensor that is not on a pipe.
    pub strap_on: f64,
}

/// All sensors.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorsConfig {
    /// On the pipe entering the slab.
    pub supply: SensorConfig,
    /// On the pipe leaving the slab.
    pub return_: SensorConfig,
    /// In the slab, mid-depth, midway between tubes.
    pub slab: SensorConfig,
    /// Outdoor air.
    pub outdoor: SensorConfig,
    /// House air.
    pub air: SensorConfig,
    /// Store air.
    pub store: SensorConfig,
    /// Zone the slab sensor is in, 0..4.
    pub slab_zone: usize,
    /// Time constant with which the pipe at the supply and return sensors takes house air temperature when still, s.
    pub spot_cooling_s: f64,
}

/// State at the first step.
#[derive(Clone, Debug, PartialEq)]
pub struct StartConfig {
    /// Day of year the ground starts from.
    pub ground_day: f64,
    /// Slab, water and house air, °C.
    pub slab_c: f64,
}

impl HouseConfig {
    /// Both roof slopes, m².
    pub fn roof_area_m2(&self) -> f64 {
        let (half, rise) = (self.width_m / 2.0, self.ridge_m - self.eaves_m);
        2.0 * (half * half + rise * rise).sqrt() * self.length_m
    }

    /// Both long walls, m².
    pub fn side_area_m2(&self) -> f64 {
        2.0 * self.length_m * self.eaves_m
    }

    /// Both gables, m².
    pub fn gable_area_m2(&self) -> f64 {
        2.0 * self.section_m2()
    }

    /// All glazing, m².
    pub fn glazing_area_m2(&self) -> f64 {
        self.roof_area_m2() + self.side_area_m2() + self.gable_area_m2()
    }

    /// Air volume, m³.
    pub fn volume_m3(&self) -> f64 {
        self.section_m2() * self.length_m
    }

    /// Perimeter of the floor, m.
    pub fn perimeter_m(&self) -> f64 {
        2.0 * (self.width_m + self.length_m)
    }

    /// Floor plan, m².
    pub fn floor_area_m2(&self) -> f64 {
        self.width_m * self.length_m
    }

    /// Infiltration conductance of `air_changes_per_h`, W/K.
    pub fn infiltration_w_k(&self, air_changes_per_h: f64) -> f64 {
        air_changes_per_h * self.volume_m3() * self.air_heat_capacity_j_m3k / 3600.0
    }

    /// Conductance of glazing and infiltration, W/K, standard film, curtain drawn or not.
    pub fn envelope_w_k(&self, curtain_drawn: bool) -> f64 {
        let (u, changes) = match (curtain_drawn, self.curtain) {
            (true, Some(curtain)) => (curtain.u_w_m2k, curtain.air_changes_per_h),
            _ => (self.glazing_u_w_m2k, self.air_changes_per_h),
        };
        u * self.glazing_area_m2() + self.infiltration_w_k(changes)
    }

    /// Slab edge to outdoors, W/K.
    pub fn edge_w_k(&self) -> f64 {
        self.edge_loss_w_mk * self.perimeter_m()
    }

    fn section_m2(&self) -> f64 {
        self.width_m * (self.eaves_m + self.ridge_m) / 2.0
    }
}

/// Less bare floor than this share of the whole is the rounding of a drawing and counts as covered.
const LEAST_BARE: f64 = 0.02;

impl PlantConfig {
    /// Floor of the house outside its tube field, m².
    pub fn bare_floor_m2(&self) -> f64 {
        self.floor.bare_area_m2(self.house.floor_area_m2())
    }

    /// Floor of the store, m²: as given, else the house's; never less than its tubes serve.
    pub fn store_floor_m2(&self) -> f64 {
        self.store
            .floor_area_m2
            .unwrap_or_else(|| self.house.floor_area_m2())
            .max(self.store.floor.heated_area_m2())
    }
}

impl FloorConfig {
    /// What of a floor of `area_m2` the tube field leaves bare, m².
    pub fn bare_area_m2(&self, area_m2: f64) -> f64 {
        let bare_m2 = area_m2 - self.heated_area_m2();
        if bare_m2 < LEAST_BARE * area_m2 {
            0.0
        } else {
            bare_m2
        }
    }

    /// Floor the tubes serve, circuits × length × spacing, m².
    pub fn heated_area_m2(&self) -> f64 {
        self.circuit_length_m * f64::from(self.circuits) * self.spacing_m
    }

    /// Water in the floor's tubes, L.
    pub fn water_l(&self) -> f64 {
        self.circuit_length_m * f64::from(self.circuits) * self.tube.litres_per_m()
    }
}

impl GroundConfig {
    /// Thermal diffusivity, m²/s.
    pub fn diffusivity_m2_s(&self) -> f64 {
        self.conductivity_w_mk / self.heat_capacity_j_m3k
    }
}

impl RunConfig {
    /// Water in the run, L.
    pub fn water_l(&self) -> f64 {
        self.length_m * self.tube.litres_per_m()
    }
}
