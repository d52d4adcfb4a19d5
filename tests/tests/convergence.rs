//! Does the answer depend on how finely the plant is computed? The season's coldest slab with the
//! plant's step halved, and with the slab cut twice as finely.

use controller_core::settings::Settings;
use host_sim::sim::cancel::{Cancel, Cancelled};
use host_sim::sim::closed_loop::{Pace, REST_S};
use host_sim::sim::plant::conduction::{Cell, Columns};
use host_sim::sim::plant::embedded::floor_coefficient_w_m2k;
use host_sim::sim::plant::exchanger::{ZONES, Zones};
use host_sim::sim::plant::operating::{LoopDesign, OperatingTable, path};
use host_sim::sim::plant::slab::{edge_shares, slab_cells};
use host_sim::sim::plant::{OutdoorConditions, Plant, PlantConfig, Relays, TrueState};
use host_sim::sim::season::{Run, Variant};
use system_tests::{Station, outdoor};

/// The winter.
const DAYS: u32 = 182;
/// What neither a finer step nor a finer slab may move the season's coldest slab by, K.
const TOLERANCE_K: f64 = 0.05;

/// Coldest tube plane of the season in closed loop, °C.
fn season_minimum_c(station: Station, variant: Variant, rest_s: u64) -> f64 {
    let (plant, settings) = variant.apply(&PlantConfig::default(), &Settings::default());
    let weather = station.weather(10, 15, DAYS);
    let run = Run {
        plant: &plant,
        settings: &settings,
        weather: &weather,
        seed: 1,
        pace: Pace::of_rest(rest_s),
    };
    let totals = run
        .go::<Cancelled>(&Cancel::new(), |_, _| Ok(()))
        .expect("nothing stops it");
    assert!(totals.energy_closure < 1e-9, "{}", totals.energy_closure);
    totals.slab_true_min_c
}

#[track_caller]
fn half_steps_agree(station: Station, variant: Variant) {
    let whole = season_minimum_c(station, variant, REST_S);
    let half = season_minimum_c(station, variant, REST_S / 2);
    println!(
        "{station:?}, {}: {whole:.4} °C with {REST_S} s, {half:.4} °C with half of it",
        variant.name()
    );
    assert!((whole - half).abs() < TOLERANCE_K, "{whole} and {half}");
}

#[test]
fn half_the_step_with_loop_and_boiler() {
    half_steps_agree(Station::Golden, Variant::Both);
}

#[test]
fn half_the_step_with_the_loop_alone() {
    half_steps_agree(Station::Chicago, Variant::WithoutBoiler);
}

/// The slab of the demo house in any number of cells, driven by what the plant did: supply water, flow, house air, sun.
///
/// The plant's own slab has a fixed number of cells, since more would cost time and change nothing; this is the evidence.
struct Slab {
    columns: Columns,
    core: usize,
    half_cell_m2k_w: f64,
    zone_m2: f64,
    edge_w_m2k: Zones,
    underside_w_m2k: f64,
    sun_share: f64,
    table: OperatingTable,
    piping: Option<host_sim::sim::plant::config::Piping>,
    film_w_m2k: Zones,
    coldest_c: f64,
}

impl Slab {
    /// `below` equal cells on either side of the tube plane's, or the plant's own when `None`.
    fn new(config: &PlantConfig, below: Option<usize>) -> Self {
        let floor = &config.floor;
        let (cells, core) = match below {
            None => slab_cells(floor),
            Some(below) => {
                let count = 2 * below + 1;
                let cell = Cell {
                    thickness_m: floor.thickness_m / count as f64,
                    conductivity_w_mk: floor.conductivity_w_mk,
                    heat_capacity_j_m3k: floor.heat_capacity_j_m3k,
                };
                (vec![cell; count], below)
            }
        };
        let zone_m2 = floor.heated_area_m2() / ZONES as f64;
        let edge_w_m2k = edge_shares(&config.house, floor.layout)
            .map(|share| share * config.house.edge_w_k() / zone_m2);
        let mut columns = Columns::new(&cells, config.start.slab_c);
        columns.attach_sink(core, edge_w_m2k);
        columns.attach_sink(0, [floor.underside_w_m2k; ZONES]);
        Self {
            half_cell_m2k_w: cells.last().expect("a slab has cells").half_m2k_w(),
            columns,
            core,
            zone_m2,
            edge_w_m2k,
            underside_w_m2k: floor.underside_w_m2k,
            sun_share: config.house.transmittance * config.house.sun_to_floor,
            table: OperatingTable::new(LoopDesign::new(config)),
            piping: config.boiler.as_ref().map(|boiler| boiler.piping),
            film_w_m2k: [floor_coefficient_w_m2k(1.0); ZONES],
            coldest_c: f64::INFINITY,
        }
    }

    fn core_mean_c(&self) -> f64 {
        self.columns.temperature_c(self.core).iter().sum::<f64>() / ZONES as f64
    }

    fn step(&mut self, dt_s: f64, plant: &TrueState, weather: &OutdoorConditions, relays: Relays) {
        self.columns.prepare(dt_s);
        if plant.flow_l_s > 0.0 {
            let way = path(self.piping, relays.boiler_call);
            let point = self.table.at(way, 0.5 * (plant.supply_c + plant.return_c));
            let (_, heat_w) = point
                .house
                .march(plant.supply_c, self.columns.temperature_c(self.core));
            self.columns
                .heat(self.core, heat_w.map(|w| w / self.zone_m2));
        }
        self.columns
            .heat(self.core, self.edge_w_m2k.map(|g| g * weather.air_c));
        self.columns
            .heat(0, [self.underside_w_m2k * plant.store_air_c; ZONES]);
        let sun_w_m2 = self.sun_share * weather.solar_incident_w / (self.zone_m2 * ZONES as f64);
        self.columns.heat(self.columns.len() - 1, [sun_w_m2; ZONES]);
        let near = self.columns.eliminate();
        let mut near_c = [0.0; ZONES];
        for (z, near_c) in near_c.iter_mut().enumerate() {
            let film = self.film_w_m2k[z];
            let conductance = film / (1.0 + film * self.half_cell_m2k_w);
            *near_c = (near.rhs[z] + conductance * plant.air_c) / (near.pivot[z] + conductance);
            let surface_k = (*near_c - plant.air_c) * conductance / film;
            self.film_w_m2k[z] = floor_coefficient_w_m2k(surface_k);
        }
        self.columns.substitute(near_c);
        self.coldest_c = self
            .columns
            .temperature_c(self.core)
            .iter()
            .copied()
            .fold(self.coldest_c, f64::min);
    }
}

#[test]
fn twice_the_cells() {
    let config = PlantConfig::default();
    let weather = Station::Golden.weather(10, 15, DAYS);
    let mut start = config.clone();
    start.start.ground_day = weather.conditions(0).day_of_year;
    let mut plant = Plant::new(&start, 1);
    // The plant's own cells, about twice and about four times as many.
    let mut slabs = [None, Some(11), Some(22)].map(|below| Slab::new(&config, below));
    let (mut coldest_c, mut furthest_k) = (f64::INFINITY, 0.0_f64);
    let mut relays = Relays::default();
    for minute in 0..u64::from(DAYS) * 1440 {
        let now = outdoor(&weather.conditions(minute * 60 + 30));
        plant.step(60.0, &now, relays);
        let state = plant.true_state();
        coldest_c = coldest_c.min(state.slab_min_c);
        for slab in &mut slabs {
            slab.step(60.0, &state, &now, relays);
        }
        furthest_k = furthest_k.max((slabs[0].core_mean_c() - state.slab_core_c).abs());
        // Two plain thermostats, so that store and boiler are both used.
        let below = |limit_c: f64, was: bool| state.slab_min_c < limit_c + f64::from(u8::from(was));
        relays = Relays {
            circulator: below(3.0, relays.circulator),
            boiler_call: below(1.0, relays.boiler_call),
        };
    }
    let [own, twice, four_times] = slabs.map(|slab| slab.coldest_c);
    println!(
        "plant {coldest_c:.4}; {own:.4}, {twice:.4}, {four_times:.4} °C; own cells follow the plant within {furthest_k:.3} K"
    );
    // The comparison is about the plant: with its cells this slab is the plant's.
    assert!(
        (own - coldest_c).abs() < 0.05 && furthest_k < 0.3,
        "{own} for {coldest_c}, {furthest_k} K"
    );
    assert!((own - twice).abs() < TOLERANCE_K, "{own} and {twice}");
    assert!(
        (own - four_times).abs() < TOLERANCE_K,
        "{own} and {four_times}"
    );
}
