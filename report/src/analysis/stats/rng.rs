//! A small seeded generator for simulated truth: the same data on every machine
//! and every day.

use rand_core::{Rng as _, SeedableRng as _};

/// SplitMix64.
///
/// **Source**: Steele, Lea and Flood 2014, OOPSLA. Good enough to
/// simulate noise, not for secrets.
#[derive(Debug, Clone)]
pub(crate) struct SplitMix64(rand_xoshiro::SplitMix64);

impl SplitMix64 {
    /// A generator with a seed.
    #[must_use]
    pub(crate) fn new(seed: u64) -> Self {
        SplitMix64(rand_xoshiro::SplitMix64::from_seed(seed.to_le_bytes()))
    }

    /// The next 64 bits.
    pub(crate) fn next_u64(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// A standard normal deviate, for simulated truth.
    pub(crate) fn normal(&mut self) -> f64 {
        let unit = ((self.next_u64() >> 11) as f64 + 0.5) / (1_u64 << 53) as f64;
        super::normal_quantile(unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_sequence() {
        // Rosetta Code, "Pseudo-random numbers/Splitmix64", seed 1234567 (from
        // memory).
        let mut rng = SplitMix64::new(1_234_567);
        let expected = [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
            4_593_380_528_125_082_431,
            16_408_922_859_458_223_821,
        ];
        assert_eq!(expected.map(|_| rng.next_u64()), expected);
    }

    #[test]
    fn deviates_are_standard_normal() {
        let mut rng = SplitMix64::new(2);
        let all: Vec<f64> = (0..20_000).map(|_| rng.normal()).collect();
        assert!(super::super::mean(&all).unwrap().abs() < 0.02);
        assert!((super::super::sd(&all).unwrap() - 1.0).abs() < 0.02);
    }
}
