//! Whether the air of a rest falls as through a hole or along a seep.
//!
//! A choked hole passes in proportion to the absolute pressure, so `ln n` falls on a
//! straight line at constant volume; a laminar seep passes with the difference of the
//! squared pressures, so the fall slows down. At steady pressure both are the same.

use super::super::fit::line;
use super::Prepared;
use crate::analysis::stats::effective_sample_size;
use seep_common::physics::leak::LeakShape;

/// Critical pressure ratio of a hole; above twice the outside pressure it does not matter.
const HOLE_CRITICAL_RATIO: f64 = 0.5;

/// Log-likelihood by which one law must be better: odds of 20.
const LAW_NATS: f64 = 3.0;

/// Settling after a move and the lag of a thermometer bend a fall by up to this share of
/// the air: a smaller bend does not tell a law. Judgement, as the sizes of settling in the
/// model of a car at rest (0.4 to 1 %).
const DISTURBED_SHARE: f64 = 0.01;

/// Law that follows the readings of a rest more closely.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Closer {
    /// A hole.
    Hole,
    /// A laminar seep.
    Seep,
    /// Neither by odds of 20.
    Neither,
}

/// How the fall of a rest bends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// Law that follows it more closely.
    pub closer: Closer,
    /// Largest difference between both laws when each is fitted, as a share of the air.
    pub apart: f64,
}

impl Bend {
    /// Returns whether the laws lie further apart than settling and heat can bend a fall.
    #[must_use]
    pub fn tells_the_law(&self) -> bool {
        self.closer != Closer::Neither && self.apart > DISTURBED_SHARE
    }
}

/// Fits both laws, `ln n = a − c·∫ψ/n dt`, and compares what they leave.
///
/// **Units**: as [`Prepared`]. **Source**: ISO 6358-1 for the hole, Poiseuille's law of a
/// compressible gas for the seep; likelihood of independent normal errors with the
/// effective sample size.
pub(super) fn bend(data: &Prepared, weights: &[f64], outside_kpa_abs: f64) -> Bend {
    let neither = Bend {
        closer: Closer::Neither,
        apart: 0.0,
    };
    let ln: Vec<f64> = data.amount_anr_l.iter().map(|n| n.ln()).collect();
    let fitted = |shape: LeakShape| {
        let passed = passed(data, shape, outside_kpa_abs);
        let fit = line(&passed, &ln, Some(weights)).ok()?.fit;
        let curve: Vec<f64> = passed
            .iter()
            .map(|l| fit.values[0] + fit.values[1] * l)
            .collect();
        Some((fit, curve))
    };
    let hole = fitted(LeakShape::Orifice {
        critical_ratio: HOLE_CRITICAL_RATIO,
    });
    let (Some((hole, by_hole)), Some((seep, by_seep))) = (hole, fitted(LeakShape::LaminarSeep))
    else {
        return neither;
    };
    let better = if hole.rss < seep.rss { &hole } else { &seep };
    let n = effective_sample_size(ln.len(), better.residual_lag1.unwrap_or(0.0));
    let gain = 0.5 * n * (hole.rss / seep.rss).ln();
    let apart = by_hole
        .iter()
        .zip(&by_seep)
        .fold(0.0, |m, (a, b)| f64::max(m, (a - b).abs()));
    Bend {
        closer: match gain {
            g if g > LAW_NATS => Closer::Seep,
            g if g < -LAW_NATS => Closer::Hole,
            _ => Closer::Neither,
        },
        apart,
    }
}

/// `∫ψ/n dt` by trapezoids: what a leak of unit size takes off `ln n`.
fn passed(data: &Prepared, shape: LeakShape, outside_kpa_abs: f64) -> Vec<f64> {
    let rate = |i: usize| {
        shape.kpa(data.kpa_abs[i], outside_kpa_abs, data.kelvin[i]) / data.amount_anr_l[i]
    };
    let mut sum = 0.0;
    let mut out = vec![0.0];
    for i in 1..data.t_s.len() {
        sum += (data.t_s[i] - data.t_s[i - 1]) * (rate(i) + rate(i - 1)) / 2.0;
        out.push(sum);
    }
    out
}
