//! A toy house: one number for each mass. It only makes readings answer outputs; its figures are
//! round and stand for no real house.

use controller_core::sensor::{BySensor, Sample, Sensor};
use controller_core::time::Duration;

use super::c;

/// Temperatures °C, powers W, heat capacities J/K.
#[derive(Clone, Debug)]
pub struct Plant {
    pub supply: f64,
    pub ret: f64,
    pub slab: f64,
    pub outdoor: f64,
    /// Water that the store gives while it is drawn on lightly.
    pub store: f64,
    /// Air around the pipes.
    pub around: f64,
    /// Does water move when the circulator runs?
    pub flows: bool,
    /// Heat of the boiler while called, W; 0 for a fire that is out.
    pub boiler_w: f64,
    /// (supply − return) / (supply − slab).
    pub loop_effectiveness: f64,
    /// W/K carried by the water.
    pub conductance: f64,
    /// Slab to outdoors, W/K, and its capacity, J/K.
    pub loss: f64,
    pub capacity: f64,
    /// Sun on the slab, W.
    pub sun: f64,
    /// How far each sensor reads from the truth, K.
    pub offset: BySensor<f64>,
    /// What some sensors say instead of the truth.
    pub overridden: BySensor<Option<Sample>>,
}

impl Default for Plant {
    fn default() -> Self {
        Self {
            supply: 6.0,
            ret: 6.0,
            slab: 4.0,
            outdoor: -3.0,
            store: 9.0,
            around: 6.0,
            flows: true,
            boiler_w: 6_000.0,
            loop_effectiveness: 0.69,
            conductance: 252.0,
            loss: 60.0,
            capacity: 4.5e6,
            sun: 0.0,
            offset: BySensor::default(),
            overridden: BySensor::default(),
        }
    }
}

impl Plant {
    /// Lets time pass with the outputs as they were.
    pub fn pass(&mut self, time: Duration, pump: bool, boiler: bool) {
        let mut left = f64::from(time.as_millis()) / 1_000.0;
        while left > 0.0 {
            let dt = left.min(10.0);
            self.pass_seconds(dt, pump, boiler);
            left -= dt;
        }
    }

    fn pass_seconds(&mut self, dt: f64, pump: bool, boiler: bool) {
        let towards = |from: f64, to: f64, tau: f64| to + (from - to) * (-dt / tau).exp();
        let mut into_slab = self.sun - self.loss * (self.slab - self.outdoor);
        if pump && self.flows {
            let heat = if boiler { self.boiler_w } else { 0.0 };
            // The boiler warms what comes back from the store.
            let arriving = self.store + heat / self.conductance;
            self.supply = towards(self.supply, arriving, 120.0);
            let leaving = self.supply - self.loop_effectiveness * (self.supply - self.slab);
            self.ret = towards(self.ret, leaving, 120.0);
            into_slab += self.conductance * self.loop_effectiveness * (self.supply - self.slab);
        } else {
            self.supply = towards(self.supply, self.around, 3_600.0);
            self.ret = towards(self.ret, self.around, 3_600.0);
        }
        self.slab += into_slab * dt / self.capacity;
    }

    pub fn samples(&self) -> BySensor<Sample> {
        BySensor::from_fn(|sensor| {
            let truth = match sensor {
                Sensor::Supply => self.supply,
                Sensor::Return => self.ret,
                Sensor::Slab => self.slab,
                Sensor::Outdoor => self.outdoor,
            };
            self.overridden
                .get(sensor)
                .unwrap_or(Sample::Framed(c(truth + self.offset.get(sensor))))
        })
    }
}
