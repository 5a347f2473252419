//! A signal that only follows the gauge, against the gauge itself.
//!
//! The gauge: a note is off the line by rounding alone, evenly over ± half a
//! step, and by the field's own step. A follower strays from the line besides, by
//! a Gaussian of unknown deviation `τ`. A note outside half a step, or many of
//! them well within it, tells the two apart far sooner than their variances do.
//! Scale, offset, clock error and `τ` are integrated out numerically.
//!
//! **Source**: marginal likelihood (Kass and Raftery 1995, equation 2, from
//! memory, unverified).

use super::GaugeReading;
use super::chance::chi_squared_below;
use super::fit::{FittedLine, spread_of};
use super::window::MOMENTS;

/// The least deviation of another signal from the gauge that is tried, in those of
/// rounding: what strays less than the notes themselves do is as good as the gauge.
/// The field's own step does not count: a coarse field hides a follower.
const LEAST_OWN_ROUNDINGS: f64 = 1.0;

/// Deviations that are tried between the least and the spread of the readings.
const DEVIATIONS: usize = 16;

/// Points along each axis of scale and offset.
const POINTS: i32 = 25;

/// How far the points reach, in standard deviations of scale and offset.
const REACH: f64 = 4.0;

/// ln of the likelihood of a signal that only follows the gauge, over that of the
/// gauge itself. `x` are the field's values at the moments of each reading.
pub(super) fn ln_follower(
    x: &[[f64; MOMENTS]],
    readings: &[GaugeReading],
    line: &FittedLine,
    spread: f64,
    rounding: f64,
) -> f64 {
    let step = line.scale.abs() / 12f64.sqrt();
    let notes = Notes::new(x, readings, line);
    let gauge = notes.ln_integral(&Deviation::new(rounding, step), line.sigma);
    let least = LEAST_OWN_ROUNDINGS * rounding / 12f64.sqrt();
    let most = spread.max(least);
    let terms: Vec<f64> = (0..DEVIATIONS)
        .map(|i| {
            let part = (i as f64 + 0.5) / DEVIATIONS as f64;
            let own = least * (most / least).powf(part);
            let deviation = Deviation::new(rounding, step.hypot(own));
            notes.ln_integral(&deviation, line.sigma.hypot(own))
        })
        .collect();
    ln_sum(&terms) - (DEVIATIONS as f64).ln() - gauge
}

fn ln_sum(terms: &[f64]) -> f64 {
    let most = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    most + terms.iter().map(|t| (t - most).exp()).sum::<f64>().ln()
}

/// The readings against the line, and how scale and offset move them.
struct Notes {
    /// What each reading is off the line at each moment, gauge units.
    off: Vec<[f64; MOMENTS]>,
    /// The field at each moment, in standard deviations from its middle.
    along: Vec<[f64; MOMENTS]>,
}

impl Notes {
    fn new(x: &[[f64; MOMENTS]], readings: &[GaugeReading], line: &FittedLine) -> Notes {
        let (middle, deviation) = spread_of(x);
        let off = |(x, r): (&[f64; MOMENTS], &GaugeReading)| {
            x.map(|x| r.value - line.scale * x - line.offset)
        };
        Notes {
            off: x.iter().zip(readings).map(off).collect(),
            along: x
                .iter()
                .map(|x| x.map(|x| (x - middle) / deviation))
                .collect(),
        }
    }

    /// ln of the likelihood integrated over offset and scale, which `n` readings
    /// of deviation `sigma` pin to `sigma/√n` each (offset in the middle of the
    /// field's values, scale times their deviation).
    fn ln_integral(&self, density: &Deviation, sigma: f64) -> f64 {
        let pinned = sigma / (self.off.len() as f64).sqrt();
        let apart = 2.0 * REACH * pinned / f64::from(POINTS - 1);
        let half = POINTS / 2;
        let mut terms = Vec::new();
        for i in -half..=half {
            for j in -half..=half {
                terms.push(self.ln_likelihood(density, f64::from(i) * apart, f64::from(j) * apart));
            }
        }
        ln_sum(&terms) + 2.0 * apart.ln()
    }

    fn ln_likelihood(&self, density: &Deviation, offset: f64, slope: f64) -> f64 {
        (self.off.iter().zip(&self.along))
            .map(|(off, along)| {
                let sum: f64 = (off.iter().zip(along))
                    .map(|(off, along)| density.at(off - offset - slope * along))
                    .sum();
                (sum / MOMENTS as f64).ln()
            })
            .sum()
    }
}

/// Density of a note about the line: even over ± half a step, and a Gaussian.
struct Deviation {
    table: Vec<f64>,
    apart: f64,
}

/// Places of the table, up to half a step and six deviations.
const PLACES: usize = 400;

/// Beyond the table: one note so far off does not rule a line out by itself.
const LEAST_DENSITY: f64 = 1e-9;

impl Deviation {
    fn new(rounding: f64, deviation: f64) -> Deviation {
        let half = rounding / 2.0;
        let apart = (half + 6.0 * deviation) / PLACES as f64;
        let below = |z: f64| 0.5 + 0.5 * z.signum() * chi_squared_below(z * z, 1);
        let table = (0..=PLACES)
            .map(|i| {
                let e = i as f64 * apart;
                let inside = below((e + half) / deviation) - below((e - half) / deviation);
                (inside / rounding).max(LEAST_DENSITY / rounding)
            })
            .collect();
        Deviation { table, apart }
    }

    #[inline]
    fn at(&self, off: f64) -> f64 {
        let place = off.abs() / self.apart;
        let i = place as usize;
        match (self.table.get(i), self.table.get(i + 1)) {
            (Some(a), Some(b)) => a + (b - a) * (place - i as f64),
            _ => self.table.last().copied().unwrap_or(0.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A density: its integral is one, and its variance that of both parts
    /// (JCGM 100:2008, 4.3.7: a²/3 over ± a).
    #[test]
    fn notes_about_the_line_have_a_density_with_the_variance_of_both_parts() {
        for deviation in [0.03, 1.0, 4.0] {
            let density = Deviation::new(10.0, deviation);
            let apart = 0.001;
            let (mut sum, mut square) = (0.0, 0.0);
            for i in -60_000..=60_000 {
                let off = f64::from(i) * apart;
                if off.abs() > 5.0 + 6.0 * deviation {
                    continue;
                }
                sum += density.at(off) * apart;
                square += off * off * density.at(off) * apart;
            }
            assert!((sum - 1.0).abs() < 1e-3, "{sum}");
            let expected = 25.0 / 3.0 + deviation * deviation;
            assert!(
                (square / expected - 1.0).abs() < 0.01,
                "{square} {expected}"
            );
        }
    }

    /// Notes evenly over ± half a step speak for the gauge, notes that stray by
    /// as much again speak for a follower.
    #[test]
    fn what_strays_farther_than_rounding_follows_only() {
        let evidence = |factor: f64| {
            let off = [-4.5, 2.5, -0.5, 4.5, -2.5, 1.5, -3.5, 3.5, 0.5, -1.5];
            let x: Vec<[f64; MOMENTS]> = (0..30)
                .map(|i| [f64::from(i * 37 % 50) * 10.0; MOMENTS])
                .collect();
            let readings: Vec<GaugeReading> = (x.iter().enumerate())
                .map(|(i, x)| GaugeReading {
                    t_ms: 0,
                    value: x[0] + factor * off[i % 10],
                })
                .collect();
            let line = FittedLine {
                scale: 1.0,
                offset: 0.0,
                sigma: 10.0 / 12f64.sqrt(),
                ln_likelihood: 0.0,
                deviance: 0.0,
                r_squared: 1.0,
            };
            ln_follower(&x, &readings, &line, 150.0, 10.0)
        };
        assert!(evidence(1.0) < -5.0, "{}", evidence(1.0));
        assert!(evidence(2.0) > 5.0, "{}", evidence(2.0));
    }
}
