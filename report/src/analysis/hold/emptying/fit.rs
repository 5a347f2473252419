//! Which way out follows the curve.

use super::super::input::Readings;
use super::law::Outlet;
use super::simulate::{SimulatedVessel, pressures};
use crate::analysis::estimate::Estimate;
use crate::analysis::fit::{Fit, nonlinear};
use crate::analysis::stats::{mean, median, short_term_sd};

/// Readings that a curve is fitted to; more are thinned.
const MOST: usize = 300;
/// Readings needed.
const FEWEST: usize = 12;
/// A curve follows where its residuals are at most so much wider than the scatter from
/// one reading to the next, in standard deviations.
const FOLLOWS: f64 = 2.0;
/// First reading of the fall: so many times the scatter below the level before it.
const BEGINS: f64 = 6.0;

/// Why no curve was fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoEmptying {
    /// Too few readings after the fall began.
    #[error("only {0} readings while it empties; {FEWEST} or more are needed")]
    TooFew(usize),
    /// No curve was found.
    #[error("no curve fits")]
    NoFit,
}

/// A curve through an emptying volume.
#[derive(Debug, Clone, PartialEq)]
pub struct Emptying {
    /// The way out.
    pub outlet: Outlet,
    /// Share of the air that leaves per second at high pressure, with its error, 1/s.
    pub per_s: Estimate,
    /// When it began to fall, s from the first reading.
    pub begins_s: f64,
    /// Pressure at which the law changes, kPa absolute: [`Outlet::knee_kpa_abs`].
    pub knee_kpa_abs: f64,
    /// When the pressure passes it, s from the first reading; `None` where it does not.
    pub knee_s: Option<f64>,
    /// Root mean square of the residuals above and below the knee, kPa; `None` where no
    /// reading lies.
    pub residual_by_regime_kpa: (Option<f64>, Option<f64>),
    /// Time constant of the heat exchange with the wall, s.
    pub heat_s: f64,
    /// Standard deviation of the residuals, kPa.
    pub residual_kpa: f64,
    /// Largest residual, kPa.
    pub largest_residual_kpa: f64,
    /// Scatter from one residual to the next, kPa.
    pub scatter_kpa: f64,
    /// Whether the curve follows the readings.
    pub follows: bool,
    /// Residual of the other kind of outlet, kPa; `None` where none was found.
    pub other_residual_kpa: Option<f64>,
}

/// Fits both kinds of outlet, each with the start's pressure and the heat exchange free,
/// and returns the one with the smaller residuals.
///
/// `outside_kpa_abs` is the level that the sensor shows when the volume is empty.
///
/// # Errors
/// [`NoEmptying`] with too few readings, or where nothing fits.
pub fn fit(readings: &Readings, outside_kpa_abs: f64) -> Result<Emptying, NoEmptying> {
    let from = begins(&readings.kpa_abs);
    let (t, p) = (&readings.t_s[from..], &readings.kpa_abs[from..]);
    if t.len() < FEWEST {
        return Err(NoEmptying::TooFew(t.len()));
    }
    let every = t.len().div_ceil(MOST);
    let t: Vec<f64> = t.iter().step_by(every).copied().collect();
    let p: Vec<f64> = p.iter().step_by(every).copied().collect();
    let kinds = [Kind::Hole, Kind::Gap];
    let mut found: Vec<(Kind, Fit)> = kinds
        .into_iter()
        .filter_map(|k| Some((k, k.fitted(&t, &p, outside_kpa_abs)?)))
        .collect();
    found.sort_by(|a, b| a.1.rss.total_cmp(&b.1.rss));
    let mut found = found.into_iter();
    let (kind, best) = found.next().ok_or(NoEmptying::NoFit)?;
    let other = found.next().map(|(_, f)| f.residual_sd);
    Ok(told(kind, &best, other, &t, outside_kpa_abs))
}

/// Index of the reading at which the valve stands open: the second one of the fall.
fn begins(kpa: &[f64]) -> usize {
    let scatter = short_term_sd(&kpa[..kpa.len().min(20)]).unwrap_or(0.0);
    for i in 1..kpa.len() {
        let level = median(&kpa[i.saturating_sub(20)..i]).unwrap_or(kpa[0]);
        if kpa[i] < level - (BEGINS * scatter).max(1e-3 * level) {
            return (i + 1).min(kpa.len() - 1);
        }
    }
    0
}

/// Hole or gap, and how its parameters are laid out: logarithms of the start's pressure,
/// the rate, the heat exchange; the last one is the kind's own.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Hole,
    Gap,
}

impl Kind {
    fn vessel(self, x: &[f64], outside_kpa_abs: f64) -> SimulatedVessel {
        let per_s = x[1].exp();
        SimulatedVessel {
            outlet: match self {
                Kind::Hole => Outlet::Hole {
                    per_s,
                    critical_ratio: 1.0 / (1.0 + (-x[3]).exp()),
                },
                Kind::Gap => Outlet::Gap {
                    per_s,
                    drag_kpa: x[3].exp(),
                },
            },
            start_kpa_abs: x[0].exp(),
            outside_kpa_abs,
            heat_s: x[2].exp(),
        }
    }

    fn fitted(self, t_s: &[f64], kpa: &[f64], outside: f64) -> Option<Fit> {
        let curve = |x: &[f64], out: &mut [f64]| {
            // Beyond these nothing changes any more that a reading could show.
            if x[1].abs() > 25.0 || x[2].abs() > 12.0 || x[3].abs() > 15.0 {
                out.fill(f64::NAN);
                return;
            }
            pressures(&self.vessel(x, outside), t_s, out);
        };
        let start = kpa[0].max(1.0).ln();
        let rate = first_rate(t_s, kpa)?;
        // Heat exchange within a second and within twenty; b of 0.3, drag of 400 kPa.
        let own = match self {
            Kind::Hole => -0.85,
            Kind::Gap => 6.0,
        };
        let starts = [0.0, 3.0].map(|heat| [start, rate.ln(), heat, own]);
        nonlinear(&curve, kpa, None, &starts).ok()
    }
}

/// Rate of the first third of the fall, 1/s.
fn first_rate(t_s: &[f64], kpa: &[f64]) -> Option<f64> {
    let last = *kpa.last()?;
    let to = kpa
        .iter()
        .position(|p| *p < kpa[0] - (kpa[0] - last) / 3.0)
        .unwrap_or(1)
        .max(1);
    let rate = (kpa[0] / kpa[to]).ln() / (t_s[to] - t_s[0]);
    (rate > 0.0 && rate.is_finite()).then_some(rate)
}

fn told(kind: Kind, fit: &Fit, other: Option<f64>, t_s: &[f64], outside: f64) -> Emptying {
    let vessel = kind.vessel(&fit.values, outside);
    let scatter_kpa = short_term_sd(&fit.residuals).unwrap_or(0.0);
    let honest = fit.allowing_for_autocorrelation();
    let per_s = vessel.outlet.per_s();
    let mut course = vec![0.0; t_s.len()];
    pressures(&vessel, t_s, &mut course);
    let knee_kpa_abs = vessel.outlet.knee_kpa_abs(outside);
    let side = |above: bool| {
        let of_side = |(p, r): (&f64, &f64)| ((*p >= knee_kpa_abs) == above).then_some(r * r);
        let squares: Vec<f64> = course
            .iter()
            .zip(&fit.residuals)
            .filter_map(of_side)
            .collect();
        mean(&squares).map(f64::sqrt)
    };
    Emptying {
        outlet: vessel.outlet,
        per_s: Estimate {
            value: per_s,
            se: per_s * honest.standard_errors[1],
            degrees_of_freedom: honest.degrees_of_freedom,
        },
        begins_s: t_s[0],
        knee_kpa_abs,
        knee_s: course
            .iter()
            .skip(1)
            .position(|p| *p < knee_kpa_abs)
            .filter(|_| course[0] >= knee_kpa_abs)
            .map(|i| t_s[i + 1]),
        residual_by_regime_kpa: (side(true), side(false)),
        heat_s: vessel.heat_s,
        residual_kpa: fit.residual_sd,
        largest_residual_kpa: fit.residuals.iter().fold(0.0, |m, r| r.abs().max(m)),
        scatter_kpa,
        follows: fit.residual_sd <= FOLLOWS * scatter_kpa,
        other_residual_kpa: other,
    }
}
