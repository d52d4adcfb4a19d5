//! What the sensors show of the truth: fixed error, strap-on error, lag, noise, steps of the reading.
//!
//! Every sensor draws from its own ChaCha8 stream of one seed, so adding a sensor or reading one more often changes no
//! other's noise. Noise is a binomial of 48 fair coins with an even spread added, which is normal to within 2 % of its fourth
//! moment and needs no transcendental function.

use super::config::{SensorConfig, SensorsConfig};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// The six readings, °C.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Readings {
    /// Water entering the slab.
    pub supply_c: f64,
    /// Water leaving the slab.
    pub return_c: f64,
    /// Slab, mid-depth, midway between tubes.
    pub slab_c: f64,
    /// Outdoor air.
    pub outdoor_c: f64,
    /// House air.
    pub air_c: f64,
    /// Store air.
    pub store_c: f64,
}

impl Readings {
    /// Between `self` (share 0) and `other` (share 1).
    #[inline]
    pub fn towards(&self, other: &Readings, share: f64) -> Readings {
        let mix = |a: f64, b: f64| a + (b - a) * share;
        Readings {
            supply_c: mix(self.supply_c, other.supply_c),
            return_c: mix(self.return_c, other.return_c),
            slab_c: mix(self.slab_c, other.slab_c),
            outdoor_c: mix(self.outdoor_c, other.outdoor_c),
            air_c: mix(self.air_c, other.air_c),
            store_c: mix(self.store_c, other.store_c),
        }
    }
}

/// A standard normal number, nearly: mean 0, variance 1, |x| < 8.
pub(crate) fn normal(random: &mut ChaCha8Rng) -> f64 {
    // Variance of 48 coins is 12, of the even spread 1/12.
    const SCALE: f64 = 0.287_677_980_891_230_5; // 1/√(12 + 1/12)
    let bits = random.next_u64();
    let coins = f64::from((bits >> 16).count_ones());
    let spread = f64::from(bits as u16) / 65_536.0;
    (coins - 24.0 + spread - 0.5) * SCALE
}

/// Nearest whole number, halves away from zero; cheaper than a library call. |x| < 2^52.
#[inline]
fn nearest(x: f64) -> f64 {
    (x + 0.5_f64.copysign(x)) as i64 as f64
}

/// One sensor.
#[derive(Clone, Debug)]
pub struct Sensor {
    config: SensorConfig,
    fixed_k: f64,
    random: ChaCha8Rng,
    /// Temperature of the sensing element; NaN before the first reading.
    element_c: f64,
    lag_dt_s: f64,
    lag_share: f64,
}

impl Sensor {
    /// Sensor number `stream` of the plant with this seed.
    pub fn new(config: &SensorConfig, seed: u64, stream: u64) -> Sensor {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        random.set_stream(stream);
        let fixed_k = config.offset_k + config.scatter_k * normal(&mut random);
        Sensor {
            config: *config,
            fixed_k,
            random,
            element_c: f64::NAN,
            lag_dt_s: f64::NAN,
            lag_share: 1.0,
        }
    }

    /// A reading of `true_c` in air of `air_c`, `elapsed_s` after the reading before.
    pub fn read(&mut self, true_c: f64, air_c: f64, elapsed_s: f64) -> f64 {
        let target_c = true_c - self.config.strap_on * (true_c - air_c);
        if self.element_c.is_nan() || self.config.lag_s <= 0.0 {
            self.element_c = target_c;
        } else {
            if self.lag_dt_s != elapsed_s {
                self.lag_dt_s = elapsed_s;
                self.lag_share = -libm::expm1(-elapsed_s / self.config.lag_s);
            }
            self.element_c += (target_c - self.element_c) * self.lag_share;
        }
        let noise_k = if self.config.noise_k > 0.0 {
            self.config.noise_k * normal(&mut self.random)
        } else {
            0.0
        };
        let shown_c = self.element_c + self.fixed_k + noise_k;
        let step_k = self.config.resolution_k;
        if step_k > 0.0 {
            nearest(shown_c / step_k) * step_k
        } else {
            shown_c
        }
    }
}

/// The sensors of a plant.
#[derive(Clone, Debug)]
pub struct Sensors {
    supply: Sensor,
    return_: Sensor,
    slab: Sensor,
    outdoor: Sensor,
    air: Sensor,
    store: Sensor,
}

impl Sensors {
    /// All six from one seed.
    pub fn new(config: &SensorsConfig, seed: u64) -> Sensors {
        Sensors {
            supply: Sensor::new(&config.supply, seed, 1),
            return_: Sensor::new(&config.return_, seed, 2),
            slab: Sensor::new(&config.slab, seed, 3),
            outdoor: Sensor::new(&config.outdoor, seed, 4),
            air: Sensor::new(&config.air, seed, 5),
            store: Sensor::new(&config.store, seed, 6),
        }
    }

    /// Readings of the truth, `elapsed_s` after those before.
    pub fn read(&mut self, truth: &Readings, elapsed_s: f64) -> Readings {
        let air_c = truth.air_c;
        Readings {
            supply_c: self.supply.read(truth.supply_c, air_c, elapsed_s),
            return_c: self.return_.read(truth.return_c, air_c, elapsed_s),
            slab_c: self.slab.read(truth.slab_c, air_c, elapsed_s),
            outdoor_c: self
                .outdoor
                .read(truth.outdoor_c, truth.outdoor_c, elapsed_s),
            air_c: self.air.read(truth.air_c, air_c, elapsed_s),
            store_c: self.store.read(truth.store_c, truth.store_c, elapsed_s),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: SensorConfig = SensorConfig {
        offset_k: 0.0,
        scatter_k: 0.0,
        noise_k: 0.0,
        resolution_k: 0.0,
        lag_s: 0.0,
        strap_on: 0.0,
    };

    #[test]
    fn a_perfect_sensor_shows_the_truth() {
        let mut sensor = Sensor::new(&PLAIN, 1, 1);
        assert_eq!(sensor.read(7.123, -5.0, 10.0), 7.123);
    }

    #[test]
    fn strap_on_offset_steps_and_lag() {
        let strapped = SensorConfig {
            strap_on: 0.04,
            ..PLAIN
        };
        // 45 °C pipe in 0 °C air on insulated plastic tube: 1.8 K low.
        assert!((Sensor::new(&strapped, 1, 1).read(45.0, 0.0, 1.0) - 43.2).abs() < 1e-12);
        let stepped = SensorConfig {
            resolution_k: 1.0 / 16.0,
            offset_k: 0.5,
            ..PLAIN
        };
        assert_eq!(Sensor::new(&stepped, 1, 1).read(4.02, 4.0, 1.0), 4.5);
        let mut lagging = Sensor::new(
            &SensorConfig {
                lag_s: 60.0,
                ..PLAIN
            },
            1,
            1,
        );
        lagging.read(0.0, 0.0, 1.0);
        let mut shown = 0.0;
        for _ in 0..6 {
            shown = lagging.read(10.0, 0.0, 10.0);
        }
        assert!((shown - 10.0 * (1.0 - libm::exp(-1.0))).abs() < 1e-12);
    }

    #[test]
    fn noise_has_the_moments_of_a_normal_distribution() {
        let mut random = ChaCha8Rng::seed_from_u64(7);
        let n = 200_000;
        let (mut first, mut second, mut fourth) = (0.0, 0.0, 0.0);
        for _ in 0..n {
            let x = normal(&mut random);
            first += x;
            second += x * x;
            fourth += x * x * x * x;
        }
        let n = f64::from(n);
        assert!((first / n).abs() < 0.01);
        assert!((second / n - 1.0).abs() < 0.01);
        assert!((fourth / n - 3.0).abs() < 0.1);
    }

    #[test]
    fn streams_are_independent_and_reproducible() {
        let noisy = SensorConfig {
            noise_k: 0.1,
            scatter_k: 0.2,
            ..PLAIN
        };
        let run = |seed, stream| {
            let mut sensor = Sensor::new(&noisy, seed, stream);
            (0..5)
                .map(|_| sensor.read(5.0, 5.0, 10.0))
                .collect::<Vec<_>>()
        };
        assert_eq!(run(3, 1), run(3, 1));
        assert_ne!(run(3, 1), run(3, 2));
        assert_ne!(run(3, 1), run(4, 1));
    }
}
