//! The air a compressor takes in.

use super::super::stats::mean;
use super::Run;
use seep_common::physics::gas::{ANR_K, ANR_KPA_ABS};

/// Density of the air outside over that at 20 °C and 100 kPa: `p/100 · 293.15/T`.
///
/// A displacement compressor takes in a volume. What it delivers weighs as much as
/// that volume does outside, so deliveries compare only at one density.
///
/// **Units**: kPa absolute, K in. **Source**: ideal gas law; free air delivery refers
/// to the state at the inlet, ISO 1217 (from memory).
///
/// ```
/// use seep_report::analysis::delivery::intake_density;
/// // 1,500 m in the US Standard Atmosphere 1976: 84.556 kPa, 278.40 K; the printed
/// // density is 1.0581 kg/m³, that of 20 °C and 100 kPa 1.1884 kg/m³.
/// assert!((intake_density(84.556, 278.40) - 1.0581 / 1.1884).abs() < 1e-3);
/// ```
#[must_use]
pub fn intake_density(kpa_abs: f64, kelvin: f64) -> f64 {
    kpa_abs / ANR_KPA_ABS * ANR_K / kelvin
}

/// Density of the intake of each run over the mean of all of them. A temperature that
/// was not recorded with every run is left out of all.
#[must_use]
pub fn relative_to_mean(runs: &[&Run]) -> Vec<f64> {
    let kelvin: Option<Vec<f64>> = runs.iter().map(|r| r.outside_k).collect();
    let density = |(i, run): (usize, &&Run)| {
        let k = kelvin.as_ref().map_or(ANR_K, |k| k[i]);
        intake_density(run.outside_kpa_abs, k)
    };
    let all: Vec<f64> = runs.iter().enumerate().map(density).collect();
    let middle = mean(&all).unwrap_or(1.0);
    all.iter().map(|d| d / middle).collect()
}
