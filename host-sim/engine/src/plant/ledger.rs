//! Energy bookkeeping: every flow across the plant's boundary and the chief flows inside it, J since the start.
//!
//! The plant is house air, mass, slab, water, boiler jacket, store and the earth columns. Gains are positive under `gains`,
//! losses positive under `losses`; either may be negative.

/// Cumulative heat, J.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct EnergyLedger {
    /// Gain: electricity of the circulator.
    pub pump_j: f64,
    /// Gain: sun on the floor.
    pub sun_floor_j: f64,
    /// Gain: sun given to the air.
    pub sun_air_j: f64,
    /// Gain: heat of the fire to the boiler's water.
    pub fire_j: f64,
    /// Gain: undisturbed ground to the sides of the store's floor.
    pub ground_lateral_j: f64,
    /// Gain: undisturbed ground behind the store's walls.
    pub ground_walls_j: f64,
    /// Loss: glazing by temperature difference.
    pub glazing_j: f64,
    /// Loss: glazing to the sky.
    pub sky_j: f64,
    /// Loss: infiltration.
    pub infiltration_j: f64,
    /// Loss: vents.
    pub vent_j: f64,
    /// Loss: slab edge.
    pub edge_j: f64,
    /// Loss: boiler to its shed, and steam.
    pub boiler_lost_j: f64,
    /// Loss: pipe runs outdoors.
    pub exposed_runs_j: f64,
    /// Inside: store floor to water.
    pub earth_j: f64,
    /// Inside: water to house slab.
    pub slab_j: f64,
    /// Inside: boiler to loop.
    pub boiler_j: f64,
    /// Inside: slab to house air, with tube and without.
    pub floor_to_air_j: f64,
    /// Of the slab edge's loss: from floor without tube.
    pub bare_edge_j: f64,
    /// Inside: slab to the store's air below.
    pub underside_j: f64,
    /// Sum of the sizes of all boundary flows, the measure closure is taken against.
    pub gross_j: f64,
}

impl EnergyLedger {
    /// Gains less losses across the boundary, J.
    pub fn net_j(&self) -> f64 {
        self.boundary().iter().sum()
    }

    /// Boundary flows, gains positive.
    fn boundary(&self) -> [f64; 13] {
        [
            self.pump_j,
            self.sun_floor_j,
            self.sun_air_j,
            self.fire_j,
            self.ground_lateral_j,
            self.ground_walls_j,
            -self.glazing_j,
            -self.sky_j,
            -self.infiltration_j,
            -self.vent_j,
            -self.edge_j,
            -self.boiler_lost_j,
            -self.exposed_runs_j,
        ]
    }

    /// Adds the flows of one step.
    #[inline]
    pub(super) fn add(&mut self, step: &EnergyLedger) {
        self.pump_j += step.pump_j;
        self.sun_floor_j += step.sun_floor_j;
        self.sun_air_j += step.sun_air_j;
        self.fire_j += step.fire_j;
        self.ground_lateral_j += step.ground_lateral_j;
        self.ground_walls_j += step.ground_walls_j;
        self.glazing_j += step.glazing_j;
        self.sky_j += step.sky_j;
        self.infiltration_j += step.infiltration_j;
        self.vent_j += step.vent_j;
        self.edge_j += step.edge_j;
        self.boiler_lost_j += step.boiler_lost_j;
        self.exposed_runs_j += step.exposed_runs_j;
        self.earth_j += step.earth_j;
        self.slab_j += step.slab_j;
        self.boiler_j += step.boiler_j;
        self.floor_to_air_j += step.floor_to_air_j;
        self.bare_edge_j += step.bare_edge_j;
        self.underside_j += step.underside_j;
        self.gross_j += step.boundary().iter().map(|j| j.abs()).sum::<f64>();
    }

    /// Relative residual of the heat balance when the stored heat has changed by `stored_change_j`.
    pub fn closure(&self, stored_change_j: f64) -> f64 {
        if self.gross_j > 0.0 {
            (self.net_j() - stored_change_j).abs() / self.gross_j
        } else {
            0.0
        }
    }
}
