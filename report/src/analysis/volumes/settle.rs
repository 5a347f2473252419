//! Equilibrium of a reading while the air comes back to its wall's temperature.
//!
//! After a move or a change of load a reading follows
//! `y(t) = y∞ + a·exp(−(t − t₀)/τ)`: the air meets the inner millimetre of the wall
//! within seconds, and both go back to the temperature of the surroundings with `τ`.

use super::super::moves::Series;

/// Density times specific heat of rubber, J/(m³·K): 1 100 kg/m³ and 1.9 kJ/(kg·K),
/// handbook values, from memory.
const RUBBER_J_M3_K: f64 = 2.09e6;

/// Depth of the wall that heat reaches while the air meets it, m: `√(α·t)` with
/// `α = 1e-7 m²/s` for rubber and `t` about ten seconds.
const ACTIVE_DEPTH_M: f64 = 1.0e-3;

/// Surface resistance of a wall in still air, m²·K/W.
/// **Source**: ISO 6946, horizontal heat flow, internal (from memory).
const SURFACE_M2_K_W: f64 = 0.13;

/// Time constant of a corner's wall, s: heat of the active depth over the outer
/// surface's conductance.
pub(super) const WALL_S: f64 = ACTIVE_DEPTH_M * RUBBER_J_M3_K * SURFACE_M2_K_W;

/// Factor by which the time constant may be off, one standard deviation: moving air
/// halves the surface resistance, a thick wall takes more heat. Common practice, no
/// source.
pub(super) const WALL_FACTOR: f64 = 1.5;

/// The air has met the wall this long after a disturbance, ms. Common practice, no
/// source.
pub(super) const MEETS_WALL_MS: i64 = 60_000;

/// Readings further than this from a disturbance are not used: leaks and the weather
/// begin to matter, ms.
pub(super) const LATEST_MS: i64 = 600_000;

/// Fewer readings give no equilibrium.
const LEAST_READINGS: usize = 4;

/// Value at equilibrium and its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Settled {
    /// Value at equilibrium, in the unit of the readings.
    pub value: f64,
    /// Its standard error, same unit.
    pub se: f64,
}

/// Where and how an equilibrium is looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SettlingWindow {
    /// End of the disturbance, log time ms.
    pub disturbed_ms: i64,
    /// First reading, log time ms.
    pub from_ms: i64,
    /// End of the readings, log time ms.
    pub to_ms: i64,
    /// Time constant, s.
    pub tau_s: f64,
}

/// Returns the equilibrium of the readings in a window; `map` turns a reading at a
/// time (log ms) into the quantity that settles. `amplitude_sd` is what is known of
/// the amplitude `a` beforehand: zero, give or take this, in the unit of the quantity.
/// `None` with fewer than four readings.
///
/// Least squares of `y∞` and `a`, with `a` as one more observation.
pub(super) fn settled(
    series: &Series,
    window: SettlingWindow,
    amplitude_sd: f64,
    map: impl Fn(i64, f64) -> Option<f64>,
) -> Option<Settled> {
    let (times, values) = series.window(window.from_ms, window.to_ms);
    let mut points = Vec::with_capacity(times.len());
    for (t_ms, value) in times.into_iter().zip(values) {
        let s = (t_ms - window.disturbed_ms) as f64 / 1000.0;
        points.push(((-s / window.tau_s).exp(), map(t_ms, value)?));
    }
    if points.len() < LEAST_READINGS {
        return None;
    }
    let free = line(&points, 0.0)?;
    let prior = (free.noise / amplitude_sd).powi(2);
    let fit = line(&points, prior)?;
    Some(Settled {
        value: fit.value,
        se: fit.se,
    })
}

struct ExponentialFit {
    value: f64,
    se: f64,
    noise: f64,
}

/// `y = value + a·x` with a penalty on `a`; `None` when the readings do not tell the
/// two apart and nothing is known of `a`.
fn line(points: &[(f64, f64)], penalty: f64) -> Option<ExponentialFit> {
    let n = points.len() as f64;
    let mean = |f: &dyn Fn(&(f64, f64)) -> f64| points.iter().map(f).sum::<f64>() / n;
    let (mx, my) = (mean(&|p| p.0), mean(&|p| p.1));
    let sxx: f64 = points.iter().map(|p| (p.0 - mx).powi(2)).sum();
    let sxy: f64 = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
    // Profiled over y∞, the penalty adds to the curvature in `a`.
    let curvature = sxx + penalty;
    let slope = if curvature > 0.0 {
        sxy / curvature
    } else {
        0.0
    };
    let square: f64 = (points.iter())
        .map(|p| (p.1 - my - slope * (p.0 - mx)).powi(2))
        .sum();
    let noise = (square / (n - 2.0)).sqrt();
    let spread = if curvature > 0.0 {
        mx * mx / curvature
    } else {
        0.0
    };
    let value = my - slope * mx;
    value.is_finite().then_some(ExponentialFit {
        value,
        se: noise * (1.0 / n + spread).sqrt(),
        noise,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decaying(amplitude: f64, noise: f64) -> (Vec<i64>, Vec<f32>) {
        let t: Vec<i64> = (0..30).map(|i| i * 15_000).collect();
        let v = (t.iter().enumerate())
            .map(|(i, t)| {
                let wave = noise * (i as f64 * 2.3).sin();
                (600.0 + amplitude * (-(*t as f64) / 200_000.0).exp() + wave) as f32
            })
            .collect();
        (t, v)
    }

    #[test]
    fn a_decay_is_extrapolated_to_its_asymptote() {
        let (t, v) = decaying(8.0, 0.0);
        let window = SettlingWindow {
            disturbed_ms: 0,
            from_ms: 60_000,
            to_ms: 300_000,
            tau_s: 200.0,
        };
        let found = settled(&Series::new(&t, &v, 0.0), window, 1e3, |_, v| Some(v));
        assert!(
            (found.expect("fits").value - 600.0).abs() < 1e-2,
            "{found:?}"
        );
        let mean = Series::new(&t, &v, 0.0).mean(60_000, 300_000);
        assert!(mean.expect("readings").mean > 602.0);
    }

    #[test]
    fn what_is_known_of_the_amplitude_lowers_the_noise() {
        let (t, v) = decaying(0.0, 0.8);
        let window = SettlingWindow {
            disturbed_ms: 0,
            from_ms: 60_000,
            to_ms: 300_000,
            tau_s: 200.0,
        };
        let series = Series::new(&t, &v, 0.0);
        let se = |sd| {
            settled(&series, window, sd, |_, v| Some(v))
                .expect("fits")
                .se
        };
        assert!(se(0.1) < 0.5 * se(1e3), "{} {}", se(0.1), se(1e3));
    }

    #[test]
    fn three_readings_give_no_equilibrium() {
        let (t, v) = decaying(8.0, 0.0);
        let window = SettlingWindow {
            disturbed_ms: 0,
            from_ms: 0,
            to_ms: 45_000,
            tau_s: 200.0,
        };
        assert!(settled(&Series::new(&t, &v, 0.0), window, 1.0, |_, v| Some(v)).is_none());
    }
}
