//! A small seeded generator for resampling: the same data give the same
//! interval on every machine and every day.

use rand_core::{Rng as _, SeedableRng as _};

/// SplitMix64, with draws for resampling.
///
/// **Source**: Steele, Lea and Flood 2014, OOPSLA. Good enough to draw blocks
/// and shuffle labels, not for secrets.
#[derive(Debug, Clone)]
pub struct SplitMix64(rand_xoshiro::SplitMix64);

impl SplitMix64 {
    /// A generator with a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        SplitMix64(rand_xoshiro::SplitMix64::from_seed(seed.to_le_bytes()))
    }

    /// The next 64 bits.
    pub fn next_u64(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// A whole number from 0 to `below - 1`; 0 when `below` is 0.
    pub fn below(&mut self, below: usize) -> usize {
        // High bits of a 128-bit product; the bias is below 2^-40 for any
        // slice that fits in memory here.
        ((u128::from(self.next_u64()) * below as u128) >> 64) as usize
    }

    /// Shuffle a slice (Fisher–Yates).
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            let j = self.below(i + 1);
            items.swap(i, j);
        }
    }

    /// A standard normal deviate, for simulated truth.
    #[cfg(test)]
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
    fn every_order_comes_equally_often() {
        let mut rng = SplitMix64::new(1);
        let mut counts = [0.0_f64; 6];
        for _ in 0..60_000 {
            let mut order = [0, 1, 2];
            rng.shuffle(&mut order);
            counts[order[0] * 2 + usize::from(order[1] > order[2])] += 1.0;
        }
        let chi2: f64 = counts.iter().map(|c| (c - 1e4).powi(2) / 1e4).sum();
        // Chi-squared with 5 degrees of freedom, 99.9 % (usual tables).
        assert!(chi2 < 20.515, "{chi2}");
    }

    #[test]
    fn deviates_are_standard_normal() {
        let mut rng = SplitMix64::new(2);
        let all: Vec<f64> = (0..20_000).map(|_| rng.normal()).collect();
        assert!(super::super::mean(&all).unwrap().abs() < 0.02);
        assert!((super::super::sd(&all).unwrap() - 1.0).abs() < 0.02);
    }
}
