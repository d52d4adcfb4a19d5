//! Reference: conduction between tube plane and air by resistances in series, EN 1264-2 base curve.

use super::super::embedded::floor_coefficient_w_m2k;
use super::*;

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} within {tolerance}"
    );
}

#[test]
fn cells_fill_the_slab_with_the_tube_plane_at_a_centre() {
    for (thickness, depth) in [
        (0.10, 0.05),
        (0.10, 0.075),
        (0.15, 0.06),
        (0.10, 0.010),
        (0.08, 0.07),
    ] {
        let config = FloorConfig {
            thickness_m: thickness,
            tube_depth_m: depth,
            ..FloorConfig::default()
        };
        let (cells, core) = slab_cells(&config);
        close(cells.iter().map(|c| c.thickness_m).sum(), thickness, 1e-12);
        let above: f64 = cells[core + 1..].iter().map(|c| c.thickness_m).sum();
        close(above + cells[core].thickness_m / 2.0, depth, 1e-12);
        assert!(cells.len() >= 10, "{} cells", cells.len());
    }
}

/// Steps a floor under air of fixed temperature until nothing changes; returns heat to the air, W.
fn settle(floor: &mut Floor, tube_w: Zones, air_c: f64) -> f64 {
    let mut heat_w = 0.0;
    for _ in 0..20_000 {
        floor.columns.prepare(60.0);
        floor.heat_core(60.0, &tube_w);
        let coupling = floor.eliminate();
        heat_w = floor.substitute(&coupling, air_c);
    }
    heat_w
}

#[test]
fn steady_heat_passes_cover_and_film_in_series() {
    let config = FloorConfig::default();
    let mut floor = Floor::new(&config, &[], 5.0);
    let tube_w = [250.0; ZONES];
    let heat_w = settle(&mut floor, tube_w, -2.0);
    close(heat_w, 1000.0, 1e-6);
    let flux = 1000.0 / config.heated_area_m2();
    let excess = floor.surface_mean_c(-2.0) + 2.0;
    let film = floor_coefficient_w_m2k(excess);
    close(excess * film, flux, 1e-6 * flux);
    close(
        floor.core_mean_c(),
        -2.0 + flux * (1.0 / film + 0.05 / 1.8),
        1e-6,
    );
    // Below the tube plane of an insulated floor there is no flux, so no gradient.
    close(floor.columns.temperature_c(0)[0], floor.core_c()[0], 1e-6);
    // A sensor midway between the tubes reads low by the series' amount.
    close(
        floor.core_c()[2] - floor.mid_spacing_c(2),
        flux * tube_plane(&config).mid_spacing_m2k_w(),
        1e-6,
    );
}

#[test]
fn a_floor_colder_than_the_air_has_the_small_coefficient() {
    let config = FloorConfig::default();
    let mut floor = Floor::new(&config, &[], 5.0);
    let heat_w = settle(&mut floor, [-100.0; ZONES], 8.0);
    close(heat_w, -400.0, 1e-6);
    close(
        (8.0 - floor.surface_mean_c(8.0)) * 5.1 * config.heated_area_m2(),
        400.0,
        1e-6,
    );
}

#[test]
fn the_coefficient_follows_the_curve_within_minutes_after_a_jump() {
    let mut floor = Floor::new(&FloorConfig::default(), &[], 20.0);
    for step in 0..30 {
        floor.columns.prepare(60.0);
        let coupling = floor.eliminate();
        floor.substitute(&coupling, -15.0);
        if step > 12 {
            let excess = floor.surface_excess_k[1];
            close(
                CURVE_W_M2K * floor.root[1] / floor_coefficient_w_m2k(excess),
                1.0,
                5e-3,
            );
        }
    }
}

#[test]
fn edge_shares_sum_to_the_whole_edge() {
    let house = HouseConfig::default();
    for layout in [Layout::Serpentine, Layout::CounterFlow] {
        close(edge_shares(&house, layout).iter().sum(), 1.0, 1e-12);
    }
    let strips = edge_shares(&house, Layout::Serpentine);
    close(strips[0] * 19.2, 2.0 * 1.5 + 3.6, 1e-12);
    close(strips[1] * 19.2, 2.0 * 1.5, 1e-12);
}
