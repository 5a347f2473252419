//! Covariance of the errors that belong to one rest alone.

use nalgebra::DMatrix;

use super::columns::{Columns, ThermometerKind};
use super::linear::add_outer;

/// Noise below 0.7 counts leaves the counts of the sensor coarse.
const COARSE_BELOW: f64 = 0.7;
/// Hysteresis and slow drift: kPa of a pressure sensor, mm of a height sensor.
/// **Source**: judgement on data-sheet values.
const HYSTERESIS_KPA: f64 = 0.3;
const HYSTERESIS_MM: f64 = 0.1;
const HYSTERESIS_S: f64 = 20_000.0;
/// Smallest variance of a mean, ln units.
const LEAST_VARIANCE: f64 = 1e-10;
/// Wandering of the air's temperature: two time constants of equal share, s.
const WANDER_S: [f64; 2] = [5400.0, 40_000.0];
/// Variance of the free start of a rest, ln units squared: wide open.
pub(super) const START_VARIANCE: f64 = 1.0;
/// Table of V(h): relative error of the air lost, as a walk over the air lost.
const TABLE_ERROR: f64 = 0.03;
const TABLE_SCALE: f64 = 0.2;

/// Covariance of one rest in parts; only lower triangles are filled.
pub(super) struct RestCovariance {
    /// Noise, counts, hysteresis.
    pub(super) fixed: DMatrix<f64>,
    /// What scales with the square of the rest's unrest.
    pub(super) unrest: DMatrix<f64>,
}

impl RestCovariance {
    pub(super) fn new(columns: &Columns<'_>) -> Self {
        Self {
            fixed: fixed(columns),
            unrest: unrest(columns),
        }
    }

    /// Returns `R₀ + f² W`.
    pub(super) fn at(&self, f: f64) -> DMatrix<f64> {
        let mut sum = self.unrest.clone();
        let pairs = sum
            .as_mut_slice()
            .iter_mut()
            .zip(self.fixed.as_slice().iter());
        pairs.for_each(|(s, r)| *s = *r + f * f * *s);
        sum
    }
}

/// Noise of the means, coarse counts, hysteresis.
pub(super) fn fixed(columns: &Columns<'_>) -> DMatrix<f64> {
    let rest = columns.rest;
    let n = columns.len();
    let mut r = DMatrix::zeros(n, n);
    for i in 0..n {
        r[(i, i)] = rest.ln_variance[i] + LEAST_VARIANCE;
    }
    if rest.noise_per_count < COARSE_BELOW {
        let left = 1.0 / (1.0 + 9.0 * rest.noise_per_count * rest.noise_per_count);
        add_wander(
            &mut r,
            &rest.ln_count,
            &rest.t_s,
            count_time_s(columns),
            left / 6.0,
        );
    }
    let hysteresis: Vec<f64> = rest.kpa_abs.iter().map(|p| HYSTERESIS_KPA / p).collect();
    add_wander(&mut r, &hysteresis, &rest.t_s, HYSTERESIS_S, 1.0);
    if columns.has_height() {
        let slopes = rest.slope_l_per_mm.iter().zip(&rest.volume_l);
        let hysteresis: Vec<f64> = slopes.map(|(s, v)| HYSTERESIS_MM * s / v).collect();
        add_wander(&mut r, &hysteresis, &rest.t_s, HYSTERESIS_S, 1.0);
    }
    r
}

/// Time for which a coarse count keeps its error: the length over the counts crossed.
fn count_time_s(columns: &Columns<'_>) -> f64 {
    let rest = columns.rest;
    let p = &rest.kpa_abs;
    let (low, high) = p
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
            (l.min(*x), h.max(*x))
        });
    let middle = |values: &[f64]| super::plan::median(values.to_vec()).unwrap_or(0.0);
    let count_kpa = (middle(&rest.ln_count) * middle(p)).max(1e-9);
    let length = rest.t_s[rest.t_s.len() - 1] - rest.t_s[0];
    (length / (1.0 + (high - low) / count_kpa)).max(600.0)
}

/// Wandering temperature and this rest's own share of every persistent error.
fn unrest(columns: &Columns<'_>) -> DMatrix<f64> {
    let n = columns.len();
    let mut own = DMatrix::zeros(n, columns.own.len());
    for (j, (_, column)) in columns.own.iter().enumerate() {
        own.column_mut(j).copy_from_slice(column);
    }
    let mut w = DMatrix::zeros(n, n);
    add_outer(&mut w, 0, 1.0, &own);
    add_temperature_wander(&mut w, columns);
    w
}

/// Adds the wandering of the air's temperature against its thermometer.
///
/// **Units**: 0.2, 0.35 or 0.6 K for an own, another, no thermometer; half as much
/// again for a bag without height. **Source**: judgement.
pub(super) fn add_temperature_wander(w: &mut DMatrix<f64>, columns: &Columns<'_>) {
    let blind = columns.is_bag() && !columns.has_height();
    let kelvin = columns.kind.pick(0.2, 0.35, 0.6) * if blind { 1.5 } else { 1.0 };
    let scale: Vec<f64> = columns.rest.kelvin.iter().map(|t| kelvin / t).collect();
    for tau in WANDER_S {
        add_wander(w, &scale, &columns.rest.t_s, tau, 0.5);
    }
    debug_assert!(columns.kind != ThermometerKind::None || kelvin >= 0.6);
}

/// Error of the law and of the V(h) table of a big leak of conductance `c0`.
pub(super) fn add_leak_shape(r: &mut DMatrix<f64>, columns: &Columns<'_>, c0: f64) {
    if c0 == 0.0 {
        return;
    }
    let n = columns.len();
    let shape = &columns.seep_minus_hole;
    for j in 0..n {
        for i in j..n {
            r[(i, j)] += c0 * c0 * shape[i] * shape[j];
        }
    }
    add_table_error(r, columns, c0);
}

/// Error of the V(h) table, of a loss or gain of conductance `c`.
pub(super) fn add_table_error(r: &mut DMatrix<f64>, columns: &Columns<'_>, c: f64) {
    let moved: Vec<f64> = columns.leak.iter().map(|l| (c * l).abs()).collect();
    let scale: Vec<f64> = moved.iter().map(|l| TABLE_ERROR * l).collect();
    add_wander(r, &scale, &moved, TABLE_SCALE, 1.0);
}

/// Adds `factor · s_i s_j e^(−|t_i − t_j|/τ)` to the lower triangle, with rising `t`:
/// the kernel is Markov, each entry is the one above it times one ratio.
pub(super) fn add_wander(r: &mut DMatrix<f64>, scale: &[f64], t: &[f64], tau: f64, factor: f64) {
    let n = t.len();
    let ratios: Vec<f64> = t.windows(2).map(|w| ((w[0] - w[1]) / tau).exp()).collect();
    let values = r.as_mut_slice();
    for j in 0..n {
        let column = &mut values[j * n..(j + 1) * n];
        let mut kernel = factor * scale[j];
        for i in j..n {
            if i > j {
                kernel *= ratios[i - 1];
            }
            column[i] += kernel * scale[i];
        }
    }
}
