//! What a fill takes out of the tank, with the tank's heat and the weather beside it.
//!
//! Air that stays in the tank expands and cools, `ΔT/T = (κ − 1)·Δn/n`, meets the
//! shell within a minute and warms with the shell for a quarter of an hour. Until then
//! `p/T` at the surroundings' temperature reads low and a fill looks too large. All
//! fills of a session share one such deficit `g` per air taken; the readings before and
//! after each fill tell it, within what is known of tanks.

use super::super::moves::Series;
use super::settle::LATEST_MS;
use nalgebra::{DMatrix, DVector, RowDVector};
use seep_common::physics::gas::{ANR_K, amount_anr_l};

/// The tank's air has met its shell this long after a fill or a run, ms. Common
/// practice, no source.
pub(super) const MEETS_SHELL_MS: i64 = 120_000;

/// Time constant of a shell, s: 3 mm of steel or 4 mm of aluminium (1.0e4 J/(m²·K), by
/// handbook density and specific heat) over 0.13 m²·K/W (ISO 6946, still air; from
/// memory), as the shorter half of what is built.
pub(super) const SHELL_S: f64 = 1_000.0;

/// Deficit per air taken, `0.4·C_air/(C_air + C_shell)`: at 1 MPa the air of a tank
/// holds 3 to 9 % of the heat of 1.5 to 4 mm of metal around it.
const DEFICIT: DeficitPrior = DeficitPrior {
    value: 0.024,
    sd: 0.012,
};

/// The same when `p/T` is taken at the shell's own sensor.
const DEFICIT_AT_SHELL: DeficitPrior = DeficitPrior {
    value: 0.0,
    sd: 0.01,
};

/// Drift of the temperature that the sensor does not see, K/h, one standard deviation:
/// on the shell, and elsewhere. Common practice, no source.
const DRIFT_AT_SHELL_K_H: f64 = 0.2;
const DRIFT_K_H: f64 = 1.0;

/// A temperature this old is still used, ms.
const KELVIN_HOLDS_MS: i64 = 900_000;

/// Temperatures up to this far outside the readings are used, ms.
const KELVIN_AROUND_MS: i64 = 600_000;

struct DeficitPrior {
    value: f64,
    sd: f64,
}

/// The tank's channels.
#[derive(Debug, Clone, Copy)]
pub struct TankView<'a> {
    /// Pressure, kPa absolute.
    pub kpa_abs: Series<'a>,
    /// Temperature nearest to its air, K; empty when not recorded.
    pub kelvin: Series<'a>,
    /// That temperature is the tank's own.
    pub own_kelvin: bool,
}

/// A fill or a run: what disturbs the tank.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct TankDisturbance {
    /// Start, log time ms.
    pub from_ms: i64,
    /// End, log time ms.
    pub to_ms: i64,
}

/// A fill whose readings are undisturbed before and after it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct FillWindow {
    /// First reading before, log time ms.
    pub since_ms: i64,
    /// The fill.
    pub fill: TankDisturbance,
    /// End of the readings after, log time ms.
    pub until_ms: i64,
}

/// Air a fill took.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loss {
    /// Per litre of tank, ANR L/L.
    pub per_l: f64,
    /// Standard error by noise and weather, ANR L/L.
    pub se_per_l: f64,
    /// Standard error by the tank's heat, the same in all fills, ANR L/L.
    pub heat_se_per_l: f64,
}

/// Returns the loss of each fill, `None` where readings are missing. `all` are all
/// fills and runs in time order.
pub(super) fn losses(
    view: &TankView,
    fills: &[FillWindow],
    all: &[TankDisturbance],
    shell_s: f64,
) -> Vec<Option<Loss>> {
    let taken = taken(view, all);
    let blocks: Vec<Option<FillLevels>> = (fills.iter())
        .map(|span| FillLevels::of(view, span, &|t_ms| deficit(all, &taken, shell_s, t_ms)))
        .collect();
    let known = if view.own_kelvin {
        DEFICIT_AT_SHELL
    } else {
        DEFICIT
    };
    let (mut precision, mut moment) = (known.sd.powi(-2), known.value * known.sd.powi(-2));
    for block in blocks.iter().flatten() {
        precision += block.deficit_precision;
        moment += block.deficit_moment;
    }
    let (g, g_se) = (moment / precision, precision.powf(-0.5));
    (blocks.into_iter())
        .map(|block| block.map(|b| b.loss(g, g_se)))
        .collect()
}

/// Rough air each disturbance took, ANR L/L; negative for a run.
fn taken(view: &TankView, all: &[TankDisturbance]) -> Vec<f64> {
    let mean = |from_ms, to_ms| view.kpa_abs.mean(from_ms, to_ms).map(|m| m.mean);
    (all.iter().enumerate())
        .map(|(i, d)| {
            let next_ms = all.get(i + 1).map_or(i64::MAX, |n| n.from_ms);
            let until_ms = next_ms.min(d.to_ms + MEETS_SHELL_MS + 60_000);
            let before = mean(d.from_ms - 60_000, d.from_ms);
            let after = mean(d.to_ms + MEETS_SHELL_MS / 2, until_ms);
            match (before, after) {
                (Some(before), Some(after)) => amount_anr_l(before - after, 1.0, ANR_K),
                _ => 0.0,
            }
        })
        .collect()
}

/// Sum of what earlier disturbances took, each faded with the shell's time constant.
fn deficit(all: &[TankDisturbance], taken: &[f64], shell_s: f64, t_ms: i64) -> f64 {
    (all.iter().zip(taken))
        .take_while(|(d, _)| d.to_ms <= t_ms)
        .map(|(d, taken)| taken * (-((t_ms - d.to_ms) as f64) / 1000.0 / shell_s).exp())
        .sum()
}

/// Readings around one fill: levels before and after and a common drift.
struct FillLevels {
    lost: f64,
    lost_se: f64,
    lost_per_deficit: f64,
    deficit_precision: f64,
    deficit_moment: f64,
}

impl FillLevels {
    fn of(view: &TankView, span: &FillWindow, deficit: &dyn Fn(i64) -> f64) -> Option<FillLevels> {
        let (from_ms, to_ms) = (span.fill.from_ms, span.fill.to_ms);
        let before = (span.since_ms.max(from_ms - LATEST_MS), from_ms);
        let after = (to_ms + MEETS_SHELL_MS, span.until_ms.min(to_ms + LATEST_MS));
        let near = (span.since_ms, from_ms);
        let far = (to_ms + MEETS_SHELL_MS, span.until_ms);
        let had = amounts(view, before, near)?;
        let has = amounts(view, after, far)?;
        let n = had.len() + has.len();
        let level = had.iter().map(|r| r.1).sum::<f64>() / had.len() as f64;
        let mut x = DMatrix::zeros(n + 1, 3);
        let (mut y, mut h) = (DVector::zeros(n + 1), DVector::zeros(n + 1));
        for (i, (t_ms, amount)) in had.iter().chain(&has).enumerate() {
            x[(i, usize::from(i >= had.len()))] = 1.0;
            x[(i, 2)] = (t_ms - to_ms) as f64 / 1000.0;
            (y[i], h[i]) = (*amount, -deficit(*t_ms));
        }
        let noise = noise(&x.rows(0, n).into(), &y.rows(0, n).into())?;
        let kelvin_h = if view.own_kelvin {
            DRIFT_AT_SHELL_K_H
        } else {
            DRIFT_K_H
        };
        let drift_sd = level * kelvin_h / ANR_K / 3600.0;
        x[(n, 2)] = noise / drift_sd;
        let inverse = (x.transpose() * &x).cholesky()?.inverse();
        let pick = RowDVector::from_row_slice(&[1.0, -1.0, 0.0]);
        let to_lost = &pick * &inverse * x.transpose();
        let rest = |v: &DVector<f64>| v - &x * (&inverse * (x.transpose() * v));
        let (y_rest, h_rest) = (rest(&y), rest(&h));
        Some(FillLevels {
            lost: (&to_lost * &y)[0],
            lost_se: noise * (&pick * &inverse * pick.transpose())[0].sqrt(),
            lost_per_deficit: (&to_lost * &h)[0],
            deficit_precision: h_rest.norm_squared() / noise.powi(2),
            deficit_moment: h_rest.dot(&y_rest) / noise.powi(2),
        })
    }

    fn loss(&self, g: f64, g_se: f64) -> Loss {
        Loss {
            per_l: self.lost - g * self.lost_per_deficit,
            se_per_l: self.lost_se,
            heat_se_per_l: g_se * self.lost_per_deficit.abs(),
        }
    }
}

/// Standard deviation of single readings around levels and drift.
fn noise(x: &DMatrix<f64>, y: &DVector<f64>) -> Option<f64> {
    let spare = x.nrows().checked_sub(x.ncols() + 1)? + 1;
    let inverse = (x.transpose() * x).cholesky()?.inverse();
    let off = y - x * (inverse * (x.transpose() * y));
    let size = y.amax();
    // Equal readings do not make a sensor exact.
    Some((off.norm_squared() / spare as f64).sqrt().max(1e-6 * size))
}

/// Air per litre at the readings of a window, with temperatures from `clear` only: a
/// line across a fill would smear its cooling.
fn amounts(view: &TankView, window: (i64, i64), clear: (i64, i64)) -> Option<Vec<(i64, f64)>> {
    let (times, values) = view.kpa_abs.window(window.0, window.1);
    let kelvin = kelvins(&view.kelvin, window, clear);
    let rows: Vec<(i64, f64)> = (times.into_iter().zip(values))
        .map(|(t_ms, kpa)| (t_ms, amount_anr_l(kpa, 1.0, kelvin(t_ms))))
        .collect();
    (rows.len() >= 2).then_some(rows)
}

fn kelvins(series: &Series, window: (i64, i64), clear: (i64, i64)) -> impl Fn(i64) -> f64 + use<> {
    let (times, values) = series.window(
        clear.0.max(window.0 - KELVIN_AROUND_MS),
        clear.1.min(window.1 + KELVIN_AROUND_MS),
    );
    let earlier = series.mean(window.0 - KELVIN_HOLDS_MS, window.1);
    move |t_ms| {
        let after = times.partition_point(|&t| t <= t_ms);
        match (after.checked_sub(1), values.get(after)) {
            (Some(i), Some(next)) => {
                let share = (t_ms - times[i]) as f64 / (times[after] - times[i]) as f64;
                values[i] + share * (next - values[i])
            }
            (Some(i), None) => values[i],
            (None, Some(next)) => *next,
            (None, None) => earlier.map_or(ANR_K, |m| m.mean),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const G: f64 = 0.035;
    const DROP_KPA: f64 = 80.0;

    /// Fills of 80 kPa every ten minutes whose deficit fades with the shell, under a
    /// drift that no sensor sees.
    fn readings(kelvin_h: f64) -> (Vec<i64>, Vec<f32>, Vec<TankDisturbance>) {
        let mut events = Vec::new();
        for i in 1..=6 {
            let from_ms = i * 600_000;
            events.push(TankDisturbance {
                from_ms,
                to_ms: from_ms + 10_000,
            });
        }
        let t: Vec<i64> = (0..280).map(|i| i * 15_000).collect();
        let kpa = (t.iter().enumerate())
            .map(|(i, &t_ms)| {
                let drift = 1.0 + kelvin_h / 293.15 * t_ms as f64 / 3.6e6;
                let gone: f64 = (events.iter())
                    .filter(|e| e.to_ms <= t_ms)
                    .map(|e| {
                        let s = (t_ms - e.to_ms) as f64 / 1000.0;
                        DROP_KPA * (1.0 + G * (-s / SHELL_S).exp())
                    })
                    .sum();
                ((1_200.0 - gone) * drift + 0.3 * (i as f64 * 1.7).sin()) as f32
            })
            .collect();
        (t, kpa, events)
    }

    #[test]
    fn the_shells_heat_and_the_weather_are_no_air() {
        for kelvin_h in [0.0, 1.5] {
            let (t, kpa, events) = readings(kelvin_h);
            let view = TankView {
                kpa_abs: Series::new(&t, &kpa, 0.0),
                kelvin: Series::default(),
                own_kelvin: false,
            };
            let spans: Vec<FillWindow> = (events.iter())
                .map(|&fill| FillWindow {
                    since_ms: fill.from_ms - 470_000,
                    fill,
                    until_ms: fill.from_ms + 600_000,
                })
                .collect();
            let drop = amount_anr_l(DROP_KPA, 1.0, ANR_K);
            for loss in losses(&view, &spans, &events, SHELL_S) {
                let loss = loss.expect("readings");
                assert!((loss.per_l / drop - 1.0).abs() < 0.01, "{loss:?} {drop}");
                assert!(loss.se_per_l < 0.02 * drop, "{loss:?}");
            }
        }
    }

    #[test]
    fn without_readings_there_is_no_loss() {
        let (t, kpa, events) = readings(0.0);
        let view = TankView {
            kpa_abs: Series::new(&t[..60], &kpa[..60], 0.0),
            kelvin: Series::default(),
            own_kelvin: false,
        };
        let span = FillWindow {
            since_ms: 3_100_000,
            fill: events[5],
            until_ms: 4_200_000,
        };
        assert_eq!(losses(&view, &[span], &events, SHELL_S), [None]);
    }
}
