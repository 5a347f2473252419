//! Means of converter counts.

/// Mean of counts, exact.
///
/// ```
/// use seep_board::Mean;
/// let mut mean = Mean::default();
/// for count in [511, 512] {
///     mean.add(count);
/// }
/// // 511.5 of 1,023 counts of 5 V.
/// assert_eq!(mean.value_100uv(50_000, 1023), 25_000);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Mean {
    sum: u32,
    samples: u32,
}

impl Mean {
    /// Adds one sample, counts.
    pub fn add(&mut self, count: u32) {
        self.sum += count;
        self.samples += 1;
    }

    /// Adds the samples of another mean.
    pub fn merge(&mut self, other: Mean) {
        self.sum += other.sum;
        self.samples += other.samples;
    }

    /// Voltage at the pin, 0.1 mV: `reference · mean / highest_count`, rounded
    /// half up; 0 without samples.
    #[must_use]
    pub fn value_100uv(&self, reference_100uv: u32, highest_count: u32) -> u32 {
        let by = u64::from(self.samples) * u64::from(highest_count);
        if by == 0 {
            return 0;
        }
        let scaled = u64::from(self.sum) * u64::from(reference_100uv);
        ((scaled + by / 2) / by) as u32
    }
}
