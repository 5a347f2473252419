//! A small seeded generator for resampling: the same data give the same
//! interval on every machine and every day.

/// SplitMix64.
///
/// **Source**: Steele, Lea and Flood 2014, OOPSLA; the constants of the public
/// domain C version by Vigna. Good enough to draw blocks and shuffle labels,
/// not for secrets.
#[derive(Debug, Clone)]
pub struct SplitMix64(u64);

impl SplitMix64 {
    /// A generator with a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        SplitMix64(seed)
    }

    /// The next 64 bits.
    pub fn next_u64(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
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
}
