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
pub fn normal(random: &mut ChaCha8Rng) -> f64 {
    normal_of(random.next_u64())
}

/// The number of 64 random bits: those set among the upper 48, and the lower 16 as an even spread.
#[inline]
fn normal_of(bits: u64) -> f64 {
    // Variance of 48 coins is 12, of the even spread 1/12.
    const SCALE: f64 = 0.287_677_980_891_230_5 / 65_536.0; // 1/√(12 + 1/12), in 65536ths
    // Mean of 48 coins and of the spread, in 65536ths.
    const MEAN: i32 = 24 * 65_536 + 32_768;
    let coins = (bits >> 16).count_ones() as i32;
    f64::from(coins * 65_536 + i32::from(bits as u16) - MEAN) * SCALE
}

/// Nearest whole number, halves away from zero; cheaper than a library call. |x| < 2^51.
#[inline]
pub fn nearest(x: f64) -> f64 {
    // Sums this large have no places after the point: adding rounds, halves to even.
    const LARGE: f64 = 6_755_399_441_055_744.0; // 1.5 × 2^52
    let even = (x + LARGE) - LARGE;
    let over = x - even;
    let half = 0.5_f64.copysign(x);
    if over == half {
        even + 2.0 * half
    } else {
        even
    }
}

/// Readings drawn ahead: a block of the random number generator.
const AHEAD: usize = 32;

/// Sensors that are read together, side by side so that one instruction does for two of them.
#[derive(Clone, Debug)]
struct Bank<const N: usize> {
    strap_on: [f64; N],
    fixed_k: [f64; N],
    noise_k: [f64; N],
    lag_s: [f64; N],
    /// Step of the reading, K; 0 = none.
    step_k: [f64; N],
    per_step: [f64; N],
    /// Temperature of the sensing elements.
    element_c: [f64; N],
    /// Time since the reading before, and how much of a change the elements follow in it: all at the first reading.
    lag_dt_s: f64,
    lag_share: [f64; N],
    random: [ChaCha8Rng; N],
    /// Standard normal numbers, and how many are used up.
    ahead: [[f64; N]; AHEAD],
    used: usize,
}

impl<const N: usize> Bank<N> {
    /// Sensors number 1 … `N` of the plant with this seed.
    fn new(configs: [&SensorConfig; N], seed: u64) -> Self {
        let mut stream = 0;
        let random = configs.map(|_| {
            stream += 1;
            let mut random = ChaCha8Rng::seed_from_u64(seed);
            random.set_stream(stream);
            random
        });
        let of = |value: fn(&SensorConfig) -> f64| configs.map(value);
        let mut bank = Bank {
            strap_on: of(|c| c.strap_on),
            fixed_k: of(|c| c.offset_k),
            noise_k: of(|c| c.noise_k),
            lag_s: of(|c| c.lag_s),
            step_k: of(|c| c.resolution_k),
            per_step: of(|c| 1.0 / c.resolution_k),
            element_c: [0.0; N],
            lag_dt_s: f64::NAN,
            lag_share: [1.0; N],
            random,
            ahead: [[0.0; N]; AHEAD],
            used: AHEAD,
        };
        let scatter = bank.normal();
        for (i, config) in configs.iter().enumerate() {
            bank.fixed_k[i] += config.scatter_k * scatter[i];
        }
        bank
    }

    /// The next number of every sensor's own stream.
    #[inline]
    fn normal(&mut self) -> [f64; N] {
        if self.used == AHEAD {
            self.draw();
        }
        self.used += 1;
        self.ahead[self.used - 1]
    }

    #[inline(never)]
    fn draw(&mut self) {
        for (i, random) in self.random.iter_mut().enumerate() {
            let mut block = [0; 8 * AHEAD];
            random.fill_bytes(&mut block);
            let mut normals = [0.0; AHEAD];
            for (normal, bits) in normals.iter_mut().zip(block.as_chunks::<8>().0) {
                *normal = normal_of(u64::from_le_bytes(*bits));
            }
            for (ahead, normal) in self.ahead.iter_mut().zip(normals) {
                ahead[i] = normal;
            }
        }
        self.used = 0;
    }

    /// Readings of `true_c` in air of `air_c`, `elapsed_s` after those before.
    #[inline]
    fn read(&mut self, true_c: &[f64; N], air_c: &[f64; N], elapsed_s: f64) -> [f64; N] {
        if self.lag_dt_s != elapsed_s {
            self.change_lag(elapsed_s);
        }
        let normal = self.normal();
        let mut shown = [0.0; N];
        for i in 0..N {
            let target_c = true_c[i] - self.strap_on[i] * (true_c[i] - air_c[i]);
            let element_c = self.element_c[i];
            let followed_c = element_c + (target_c - element_c) * self.lag_share[i];
            let element_c = if self.lag_share[i] < 1.0 {
                followed_c
            } else {
                target_c
            };
            self.element_c[i] = element_c;
            let shown_c = element_c + self.fixed_k[i] + self.noise_k[i] * normal[i];
            let stepped_c = nearest(shown_c * self.per_step[i]) * self.step_k[i];
            shown[i] = if self.step_k[i] > 0.0 {
                stepped_c
            } else {
                shown_c
            };
        }
        shown
    }

    #[cold]
    fn change_lag(&mut self, elapsed_s: f64) {
        let is_first = self.lag_dt_s.is_nan();
        self.lag_dt_s = if is_first { f64::INFINITY } else { elapsed_s };
        for (share, lag_s) in self.lag_share.iter_mut().zip(self.lag_s) {
            *share = if is_first || lag_s <= 0.0 {
                1.0
            } else {
                -libm::expm1(-elapsed_s / lag_s)
            };
        }
    }
}

/// The sensors of a plant.
#[derive(Clone, Debug)]
pub struct Sensors(Bank<6>);

impl Sensors {
    /// All six from one seed.
    pub fn new(config: &SensorsConfig, seed: u64) -> Sensors {
        let configs = [
            &config.supply,
            &config.return_,
            &config.slab,
            &config.outdoor,
            &config.air,
            &config.store,
        ];
        Sensors(Bank::new(configs, seed))
    }

    /// Readings of the truth, `elapsed_s` after those before.
    #[inline]
    pub fn read(&mut self, truth: &Readings, elapsed_s: f64) -> Readings {
        let Readings {
            supply_c,
            return_c,
            slab_c,
            outdoor_c,
            air_c,
            store_c,
        } = *truth;
        let [supply_c, return_c, slab_c, outdoor_c, air_c, store_c] = self.0.read(
            &[supply_c, return_c, slab_c, outdoor_c, air_c, store_c],
            &[air_c, air_c, air_c, outdoor_c, air_c, store_c],
            elapsed_s,
        );
        Readings {
            supply_c,
            return_c,
            slab_c,
            outdoor_c,
            air_c,
            store_c,
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

    /// What one sensor shows of `true_c` in air of `air_c`, ten seconds after the reading before.
    fn read(sensor: &mut Bank<1>, true_c: f64, air_c: f64) -> f64 {
        sensor.read(&[true_c], &[air_c], 10.0)[0]
    }

    #[test]
    fn a_perfect_sensor_shows_the_truth() {
        let mut sensor = Bank::new([&PLAIN], 1);
        assert_eq!(read(&mut sensor, 7.123, -5.0), 7.123);
        assert_eq!(read(&mut sensor, 8.123, -5.0), 8.123);
    }

    #[test]
    fn strap_on_offset_steps_and_lag() {
        let strapped = SensorConfig {
            strap_on: 0.04,
            ..PLAIN
        };
        // 45 °C pipe in 0 °C air on insulated plastic tube: 1.8 K low.
        assert!((read(&mut Bank::new([&strapped], 1), 45.0, 0.0) - 43.2).abs() < 1e-12);
        let stepped = SensorConfig {
            resolution_k: 1.0 / 16.0,
            offset_k: 0.5,
            ..PLAIN
        };
        assert_eq!(read(&mut Bank::new([&stepped], 1), 4.02, 4.0), 4.5);
        let lagging = SensorConfig {
            lag_s: 60.0,
            ..PLAIN
        };
        let mut lagging = Bank::new([&lagging], 1);
        assert_eq!(read(&mut lagging, 1.0, 0.0), 1.0, "the first is the truth");
        assert_eq!(read(&mut lagging, 1.0, 0.0), 1.0);
        let mut shown = 0.0;
        for _ in 0..6 {
            shown = read(&mut lagging, 11.0, 0.0);
        }
        assert!((shown - 11.0 + 10.0 * libm::exp(-1.0)).abs() < 1e-12);
    }

    #[test]
    fn nearest_rounds_halves_away_from_zero() {
        for n in -4_000..=4_000 {
            let x = f64::from(n) / 16.0;
            assert_eq!(nearest(x), x.round(), "{x}");
        }
        for x in [0.499_999_999_999_999_94, 1e15 + 0.5, -1e15 - 0.5] {
            assert_eq!(nearest(x), x.round(), "{x}");
        }
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
        let shown = |bank: &mut Bank<2>| bank.read(&[5.0; 2], &[5.0; 2], 10.0);
        let run = |seed| {
            let mut bank = Bank::new([&noisy; 2], seed);
            (0..2 * AHEAD).map(|_| shown(&mut bank)).collect::<Vec<_>>()
        };
        assert_eq!(run(3), run(3));
        assert_ne!(run(3), run(4));
        for [first, second] in run(3) {
            assert_ne!(first, second);
        }
        // Block after block, each sensor has its own stream and nothing else of it.
        let mut streams = [1, 2].map(|stream| {
            let mut random = ChaCha8Rng::seed_from_u64(3);
            random.set_stream(stream);
            random
        });
        let fixed = streams.each_mut().map(|random| 0.2 * normal(random));
        for shown in run(3) {
            let noise = streams.each_mut().map(|random| 0.1 * normal(random));
            assert_eq!(shown, [0, 1].map(|i| 5.0 + fixed[i] + noise[i]));
        }
    }
}
