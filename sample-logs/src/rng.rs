//! Seeded noise, the same bits on every machine.
//!
//! xoshiro256++ for uniform numbers; Box–Muller with the pure-Rust functions of
//! `libm`, never those of the system's C library, for normal ones.

use rand_core::{Rng as _, SeedableRng as _};
use rand_xoshiro::Xoshiro256PlusPlus;

/// A stream of random numbers.
#[derive(Debug, Clone)]
pub struct Noise {
    bits: Xoshiro256PlusPlus,
    spare: Option<f64>,
}

impl Noise {
    /// The stream of a seed and a purpose; streams of different purposes are
    /// independent, so one more draw in one of them moves nothing elsewhere.
    ///
    /// ```
    /// use seep_sample_logs::rng::Noise;
    /// assert_eq!(Noise::new(7, "road").uniform(), Noise::new(7, "road").uniform());
    /// assert_ne!(Noise::new(7, "road").uniform(), Noise::new(7, "weather").uniform());
    /// ```
    #[must_use]
    pub fn new(seed: u64, purpose: &str) -> Self {
        // FNV-1a over the purpose, mixed into the seed.
        let hash = purpose.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |h, b| {
            (h ^ u64::from(b)).wrapping_mul(0x0000_0100_0000_01b3)
        });
        Noise {
            bits: Xoshiro256PlusPlus::seed_from_u64(seed ^ hash),
            spare: None,
        }
    }

    /// Uniform in `[0, 1)`, 53 bits.
    pub fn uniform(&mut self) -> f64 {
        (self.bits.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform in `[low, high)`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// True with this probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    /// Standard normal.
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let radius = (-2.0 * libm::log(1.0 - self.uniform())).sqrt();
        let angle = std::f64::consts::TAU * self.uniform();
        self.spare = Some(radius * libm::sin(angle));
        radius * libm::cos(angle)
    }
}

/// Noise that wanders about zero and forgets with a time constant
/// (Ornstein–Uhlenbeck), stepped exactly over any interval.
#[derive(Debug, Clone)]
pub struct Wander {
    noise: Noise,
    /// Standard deviation in the long run.
    pub spread: f64,
    /// Time constant, s.
    pub memory_s: f64,
    /// Value now.
    pub value: f64,
}

impl Wander {
    /// Start somewhere in the long-run distribution.
    #[must_use]
    pub fn new(mut noise: Noise, spread: f64, memory_s: f64) -> Self {
        let value = spread * noise.normal();
        Wander {
            noise,
            spread,
            memory_s,
            value,
        }
    }

    /// Let `dt_s` pass.
    pub fn step(&mut self, dt_s: f64) -> f64 {
        let keep = libm::exp(-dt_s / self.memory_s);
        let fresh = self.spread * (1.0 - keep * keep).sqrt();
        self.value = keep * self.value + fresh * self.noise.normal();
        self.value
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First outputs of xoshiro256++ seeded by SplitMix64 of 0, as published
    /// with the reference code of D. Blackman and S. Vigna, are checked by the
    /// crate rand_xoshiro itself; here the moments of what we make of them.
    #[test]
    fn normal_has_mean_zero_and_variance_one() {
        let mut noise = Noise::new(1, "test");
        let draws: Vec<f64> = (0..100_000).map(|_| noise.normal()).collect();
        let mean = draws.iter().sum::<f64>() / 1e5;
        let variance = draws.iter().map(|x| x * x).sum::<f64>() / 1e5 - mean * mean;
        let fourth = draws.iter().map(|x| x * x * x * x).sum::<f64>() / 1e5;
        assert!(mean.abs() < 0.012, "{mean}");
        assert!((variance - 1.0).abs() < 0.02, "{variance}");
        assert!((fourth - 3.0).abs() < 0.15, "{fourth}");
    }

    #[test]
    fn wander_keeps_its_spread_whatever_the_step() {
        for step_s in [0.1, 1.0, 30.0] {
            let mut wander = Wander::new(Noise::new(3, "w"), 2.0, 5.0);
            let n = 60_000;
            let sum: f64 = (0..n).map(|_| wander.step(step_s)).map(|x| x * x).sum();
            let spread = (sum / f64::from(n)).sqrt();
            assert!((spread - 2.0).abs() < 0.25, "{step_s} s: {spread}");
        }
    }
}
