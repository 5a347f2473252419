//! The day's range of temperature by what the air itself shows, where no thermometer is
//! recorded.

use std::collections::BTreeMap;
use std::f64::consts::TAU;

use nalgebra::{DMatrix, DVector};

use super::input::{Car, ModelRest, Thermometer};
use super::linear::Factor;

const DAY_S: f64 = 86_400.0;
/// A shorter rest says nothing about the day, s.
const SHORTEST_S: f64 = 3.0 * 3_600.0;
/// Keeps the equations solvable where every rest lies in the same hours, relative.
const RIDGE: f64 = 1e-6;

/// Returns half of the usual range of the day's temperature, K: the amplitude of one wave
/// of 24 h in `ln(p V)` that all volumes share, times the temperature, beside a steady
/// loss of each volume. `None` where a thermometer is recorded, and without rests.
///
/// **Domain**: a corner without height is left out; its pressure follows the load.
/// **Source**: gas law, `d ln(p V) = d ln T` of enclosed air; weighted least squares.
pub(super) fn half_range_k(car: &Car) -> Option<f64> {
    let speaks = |rest: &&ModelRest| {
        let volume = &car.volumes[rest.volume];
        let whole = volume.is_tank || !rest.height_mm.is_empty();
        whole
            && volume.thermometer == Thermometer::None
            && !volume.by_hand
            && rest.t_s.len() > 3
            && rest.t_s[rest.t_s.len() - 1] - rest.t_s[0] >= SHORTEST_S
    };
    let rests: Vec<&ModelRest> = car.rests.iter().filter(speaks).collect();
    let mut place = BTreeMap::new();
    for rest in &rests {
        let next = 2 + place.len();
        place.entry(rest.volume).or_insert(next);
    }
    let n = 2 + place.len();
    let (mut a, mut b) = (DMatrix::zeros(n, n), DVector::zeros(n));
    for rest in &rests {
        add(rest, place[&rest.volume], &mut a, &mut b);
    }
    let scale = (0..n).map(|i| a[(i, i)]).fold(0.0, f64::max);
    for i in 0..n {
        a[(i, i)] += RIDGE * scale;
    }
    let found = Factor::new(a).filter(|_| scale > 0.0)?.inverse() * b;
    let mut kelvin: Vec<f64> = rests.iter().map(|r| r.kelvin[0]).collect();
    kelvin.sort_by(f64::total_cmp);
    Some(found[0].hypot(found[1]) * kelvin.get(kelvin.len() / 2)?)
}

/// Adds one rest, its level left free.
fn add(rest: &ModelRest, slope: usize, a: &mut DMatrix<f64>, b: &mut DVector<f64>) {
    let weights = weights(&rest.t_s);
    let sum: f64 = weights.iter().sum();
    let centred = |of: &dyn Fn(usize) -> f64| -> Vec<f64> {
        let values: Vec<f64> = (0..weights.len()).map(of).collect();
        let mean = values.iter().zip(&weights).map(|(v, w)| v * w).sum::<f64>() / sum;
        values.into_iter().map(|v| v - mean).collect()
    };
    let angle = |i: usize| TAU * rest.t_s[i].rem_euclid(DAY_S) / DAY_S;
    let columns = [
        (0, centred(&|i| angle(i).cos())),
        (1, centred(&|i| angle(i).sin())),
        (slope, centred(&|i| (rest.t_s[i] - rest.t_s[0]) / DAY_S)),
    ];
    let y = centred(&|i| (rest.kpa_abs[i] * rest.volume_l[i]).ln());
    let product = |u: &[f64], v: &[f64]| -> f64 {
        let pairs = u.iter().zip(v).zip(&weights);
        pairs.map(|((u, v), w)| u * v * w).sum()
    };
    for (i, u) in &columns {
        b[*i] += product(u, &y);
        for (j, v) in &columns {
            a[(*i, *j)] += product(u, v);
        }
    }
}

/// Time for which each mean stands, s.
fn weights(t_s: &[f64]) -> Vec<f64> {
    let last = t_s.len() - 1;
    (0..=last)
        .map(|i| 0.5 * (t_s[(i + 1).min(last)] - t_s[i.saturating_sub(1)]))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::half_range_k;
    use crate::analysis::rest_model::{Car, ModelRest, Thermometer, Volume};

    /// Invented: a tank over ten parks of ten hours, by turns day and night, whose air
    /// follows a day of `half_k` and loses `loss` of itself a day.
    fn car(half_k: f64, loss: f64, thermometer: Thermometer) -> Car {
        let rest = |park: usize| {
            let start_s = 43_200.0 * park as f64 + 7_200.0;
            let t_s: Vec<f64> = (0..20).map(|i| start_s + 1_800.0 * f64::from(i)).collect();
            let kpa_abs = |t: &f64| {
                let day = (std::f64::consts::TAU * (t - 54_000.0) / 86_400.0).cos();
                900.0 * (1.0 + half_k * day / 288.15) * (-loss * (t - start_s) / 86_400.0).exp()
            };
            let n = t_s.len();
            ModelRest {
                volume: 0,
                park,
                start_s,
                end_s: t_s[n - 1],
                kpa_abs: t_s.iter().map(kpa_abs).collect(),
                outside_kpa_abs: vec![100.0; n],
                gauge: true,
                volume_l: vec![20.0; n],
                height_mm: Vec::new(),
                slope_l_per_mm: Vec::new(),
                kelvin: vec![288.15; n],
                ln_variance: vec![1e-8; n],
                ln_count: vec![1e-6; n],
                noise_per_count: 1.0,
                reading_sd_kpa: 0.1,
                lag_k: Vec::new(),
                other_k: Vec::new(),
                soak: Vec::new(),
                creep: Vec::new(),
                others_kpa_abs: vec![None],
                last_move: None,
                levelled_s: None,
                longest_silence_s: 1_800.0,
                barometer_silence_s: None,
                t_s,
            }
        };
        Car {
            volumes: vec![Volume {
                name: "tank".into(),
                is_tank: true,
                axle: None,
                thermometer,
                has_height: false,
                fed_by_tank: false,
                volume_uncertainty: 0.03,
                refilled_below_kpa_gauge: None,
                by_hand: false,
            }],
            rests: (0..10).map(rest).collect(),
            ..Car::default()
        }
    }

    #[test]
    fn the_air_tells_the_range_of_the_day_beside_a_leak() {
        for loss in [0.0, 0.1] {
            let half_k = half_range_k(&car(9.0, loss, Thermometer::None)).unwrap();
            assert!((half_k - 9.0).abs() < 0.4, "{half_k} beside {loss}");
        }
    }

    #[test]
    fn a_thermometer_knows_better_and_no_rest_knows_nothing() {
        assert_eq!(half_range_k(&car(9.0, 0.0, Thermometer::Own)), None);
        assert_eq!(half_range_k(&Car::default()), None);
    }
}
