//! Control charts: has a series stepped or drifted from where it should be?

use super::mean;

/// Mean moving range over standard deviation for pairs of a normal series.
/// **Source**: d2 for n = 2, control-chart tables (NIST/SEMATECH e-Handbook
/// 6.3.2.2 uses it).
const D2_PAIRS: f64 = 1.128;

/// Centre and limits of a chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Centre line.
    pub centre: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

fn mean_moving_range(values: &[f64]) -> Option<f64> {
    let ranges: Vec<f64> = values.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
    mean(&ranges)
}

/// Standard deviation from one value to the next: mean moving range / 1.128.
/// Slow drift does not inflate it. `None` below two values.
///
/// ```
/// use seep_report::analysis::stats::short_term_sd;
/// assert!((short_term_sd(&[1.0, 2.128, 1.0]).unwrap() - 1.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn short_term_sd(values: &[f64]) -> Option<f64> {
    mean_moving_range(values).map(|r| r / D2_PAIRS)
}

/// Limits for single values: mean ± 3 short-term standard deviations.
///
/// **Source**: NIST/SEMATECH e-Handbook 6.3.2.2. `None` below two values.
#[must_use]
pub fn individuals_limits(values: &[f64]) -> Option<Band> {
    let centre = mean(values)?;
    let reach = 3.0 * short_term_sd(values)?;
    Some(Band {
        centre,
        low: centre - reach,
        high: centre + reach,
    })
}

/// Two-sided tabular CUSUM.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cusum {
    /// Where the series should be.
    pub target: f64,
    /// Allowance: deviations below it count as noise (half the step looked for).
    pub allowance: f64,
    /// Sum at which it signals.
    pub decision: f64,
}

/// Sums after one value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CusumPoint {
    /// Upper sum.
    pub high: f64,
    /// Lower sum.
    pub low: f64,
    /// True when either sum is above the decision value.
    pub signal: bool,
}

impl Cusum {
    /// Sums after each value: `S⁺ = max(0, S⁺ + x - target - k)`,
    /// `S⁻ = max(0, S⁻ + target - k - x)`; no reset after a signal.
    ///
    /// **Source**: NIST/SEMATECH e-Handbook 6.3.2.3.
    ///
    /// ```
    /// use seep_report::analysis::stats::Cusum;
    /// let chart = Cusum { target: 10.0, allowance: 0.5, decision: 2.0 };
    /// let points = chart.run(&[10.0, 12.0, 12.0]);
    /// assert_eq!(points[2].high, 3.0);
    /// assert_eq!(points.iter().position(|p| p.signal), Some(2));
    /// ```
    #[must_use]
    pub fn run(&self, values: &[f64]) -> Vec<CusumPoint> {
        let (mut high, mut low) = (0.0_f64, 0.0_f64);
        values
            .iter()
            .map(|x| {
                high = (high + x - self.target - self.allowance).max(0.0);
                low = (low + self.target - self.allowance - x).max(0.0);
                CusumPoint {
                    high,
                    low,
                    signal: high > self.decision || low > self.decision,
                }
            })
            .collect()
    }
}

/// Exponentially weighted moving average with limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ewma {
    /// Where the series should be; also the start.
    pub target: f64,
    /// Standard deviation of one value.
    pub sd: f64,
    /// Weight of the newest value, above 0 up to 1.
    pub weight: f64,
    /// Width of the limits in standard deviations of the average.
    pub width: f64,
}

impl Ewma {
    /// Averages after each value: `z = λ·x + (1-λ)·z`.
    ///
    /// **Source**: NIST/SEMATECH e-Handbook 6.3.2.4.
    ///
    /// ```
    /// use seep_report::analysis::stats::Ewma;
    /// let chart = Ewma { target: 50.0, sd: 2.0539, weight: 0.3, width: 3.0 };
    /// assert!((chart.run(&[52.0])[0] - 50.6).abs() < 1e-12);
    /// assert!((chart.limits().high - 52.5884).abs() < 1e-4);
    /// ```
    #[must_use]
    pub fn run(&self, values: &[f64]) -> Vec<f64> {
        let mut z = self.target;
        values
            .iter()
            .map(|x| {
                z = self.weight * x + (1.0 - self.weight) * z;
                z
            })
            .collect()
    }

    /// Limits in the long run: `target ± width·sd·√(λ/(2-λ))`.
    #[must_use]
    pub fn limits(&self) -> Band {
        self.band(1.0)
    }

    /// Limits after n values, narrower at the start by `√(1 - (1-λ)^(2n))`.
    #[must_use]
    pub fn limits_after(&self, n: usize) -> Band {
        self.band((1.0 - (1.0 - self.weight).powf(2.0 * n as f64)).sqrt())
    }

    fn band(&self, share: f64) -> Band {
        let reach = self.width * self.sd * (self.weight / (2.0 - self.weight)).sqrt() * share;
        Band {
            centre: self.target,
            low: self.target - reach,
            high: self.target + reach,
        }
    }
}

/// Page–Hinkley test for a rise of the mean, without a target given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PageHinkley {
    /// Rise that is tolerated.
    pub tolerance: f64,
    /// Height at which it signals.
    pub threshold: f64,
}

impl PageHinkley {
    /// Test statistic after each value: `m - min m`, `m = Σ(x - x̄ - δ)` with
    /// the running mean including the new value. Negate the values to look for
    /// a fall.
    ///
    /// **Source**: Page 1954, Hinkley 1971; no published worked table is known.
    ///
    /// ```
    /// use seep_report::analysis::stats::PageHinkley;
    /// let test = PageHinkley { tolerance: 0.1, threshold: 1.0 };
    /// let height = test.run(&[0.0, 0.0, 0.0, 3.0]);
    /// assert!(height[2] < test.threshold && height[3] > test.threshold);
    /// ```
    #[must_use]
    pub fn run(&self, values: &[f64]) -> Vec<f64> {
        let (mut average, mut sum, mut lowest) = (0.0, 0.0, 0.0_f64);
        values
            .iter()
            .enumerate()
            .map(|(i, x)| {
                average += (x - average) / (i + 1) as f64;
                sum += x - average - self.tolerance;
                lowest = lowest.min(sum);
                sum - lowest
            })
            .collect()
    }
}
