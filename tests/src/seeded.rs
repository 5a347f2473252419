//! Seeded numbers for tests: the same ones on every machine.

/// SplitMix64. **Source**: Steele, Lea, Flood 2014, "Fast splittable pseudorandom
/// number generators" (constants from memory).
#[derive(Debug, Clone)]
pub struct Seeded(u64);

impl Seeded {
    /// Numbers of a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Seeded(seed)
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number below `n`; 0 when `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        (self.bits() % n.max(1) as u64) as usize
    }

    /// So many random bytes.
    pub fn bytes(&mut self, n: usize) -> Vec<u8> {
        (0..n).map(|_| self.bits() as u8).collect()
    }
}
