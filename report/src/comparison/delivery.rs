//! What compressors deliver, in two spans.

use super::Difference;
use crate::analysis::delivery::{Run, comparable, known_error, with_fills};
use crate::analysis::estimate::Estimate;
use crate::analysis::regression::regress;
use crate::analysis::stats::{mean, student_t_two_sided_p};
use crate::digest::Digest;
use crate::findings::{measured, place_words};
use crate::model::Unit;

/// Fewest measured runs in each span.
const FEWEST: usize = 3;

/// Back pressures that scatter less than this say nothing about their effect, kPa.
const LEAST_SPREAD_KPA: f64 = 10.0;

/// Delivery of each compressor that was measured in both spans.
pub(super) fn deliveries(before: &Digest, now: &Digest) -> Vec<Difference> {
    now.compressors
        .iter()
        .filter_map(|n| {
            let b = before.compressors.iter().find(|b| b.place == n.place)?;
            let was = with_fills(&b.runs, &before.moves);
            let is = with_fills(&n.runs, &now.moves);
            difference(&n.place, &was, &is)
        })
        .collect()
}

/// Delivery at the same back pressure, voltage and density of the intake: runs of both
/// spans in one model `Q·Ū/U·ρ̄/ρ = Q₀ + d·(now) + c·(p − p̄)`, the difference d with its Student's t interval.
///
/// **Source**: linear least squares; an indicator variable compares two groups
/// with a common covariate (analysis of covariance; from memory).
fn difference(place: &str, before: &[Run], now: &[Run]) -> Option<Difference> {
    let measured_runs = |runs: &[Run]| -> Vec<Run> {
        let known = runs.iter().filter(|r| r.anr_l_per_min.is_some());
        known.copied().collect()
    };
    let (before, now) = (measured_runs(before), measured_runs(now));
    if before.len() < FEWEST || now.len() < FEWEST {
        return None;
    }
    let all: Vec<Run> = before.iter().chain(&now).copied().collect();
    let q = comparable(&all.iter().collect::<Vec<_>>());
    let is_now: Vec<f64> = (0..all.len())
        .map(|i| f64::from(u8::from(i >= before.len())))
        .collect();
    let pressure = pressure_term(&all);
    let fit = |first: Vec<f64>| {
        let mut terms = vec![first, is_now.clone()];
        terms.extend(pressure.clone());
        let fit = regress(&terms, &q, &vec![1.0; q.len()])?;
        let of = |i: usize| Estimate {
            value: fit.values[i],
            se: fit.standard_errors[i],
            degrees_of_freedom: fit.degrees_of_freedom,
        };
        Some((of(0), of(1)))
    };
    // With a constant the second coefficient is the difference; with one
    // column for each span the two are the levels.
    let (_, change) = fit(vec![1.0; q.len()])?;
    let (was, is) = fit(is_now.iter().map(|n| 1.0 - n).collect())?;
    // Between two spans lies what was not recorded of intake and altitude.
    let known = known_error(&all.iter().collect::<Vec<_>>()) * is.value;
    let change = change.with_known_error(known);
    let p = if change.se > 0.0 {
        student_t_two_sided_p(change.value / change.se, change.degrees_of_freedom)
    } else {
        1.0
    };
    Some(Difference {
        what: place_words(place),
        quantity: "delivery",
        before: measured(&was, Unit::AnrLitresPerMin),
        now: measured(&is, Unit::AnrLitresPerMin),
        difference: measured(&change, Unit::AnrLitresPerMin),
        p,
        more_is_worse: false,
        plain: None,
    })
}

/// Back pressure about its mean, where it scatters and runs are enough to tell its effect.
fn pressure_term(runs: &[Run]) -> Option<Vec<f64>> {
    let kpa: Vec<f64> = runs.iter().map(Run::back_pressure_kpa).collect();
    let middle = mean(&kpa)?;
    let centred: Vec<f64> = kpa.iter().map(|p| p - middle).collect();
    let squares: Vec<f64> = centred.iter().map(|p| p * p).collect();
    (mean(&squares)?.sqrt() > LEAST_SPREAD_KPA && runs.len() > 2 * FEWEST).then_some(centred)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Invented: 40 L/min less 0.01 L/min per kPa, and `more`.
    fn runs(kpa: &[f64], more: f64) -> Vec<Run> {
        let wobble = [0.2, -0.1, -0.2, 0.1];
        kpa.iter()
            .zip(wobble.iter().cycle())
            .map(|(kpa, wobble)| Run {
                from_ms: 0,
                to_ms: 60_000,
                kpa_abs: (kpa - 40.0, kpa + 40.0),
                kpa_gauge: None,
                outside_kpa_abs: 100.0,
                barometer: true,
                outside_k: None,
                ended_by: crate::analysis::delivery::RunEnd::Switch,
                gain_anr_l: None,
                cooled_gain_anr_l: None,
                filling: false,
                alone: true,
                anr_l_per_min: Some(40.0 - 0.01 * kpa + more + wobble),
                supply_v: Some(13.8),
            })
            .collect()
    }

    /// Higher back pressure alone is no wear, and wear is seen behind it.
    #[test]
    fn the_back_pressure_is_taken_out() {
        let low = [900.0, 950.0, 1_000.0, 1_050.0];
        let high = [1_050.0, 1_100.0, 1_150.0, 1_200.0];
        let same = difference("compressor_1", &runs(&low, 0.0), &runs(&high, 0.0));
        let same = same.expect("enough runs");
        assert!(same.difference.low < Some(0.0) && same.difference.high > Some(0.0));
        assert!(same.p > 0.05, "{same:?}");
        let worn = difference("compressor_1", &runs(&low, 0.0), &runs(&high, -6.0));
        let worn = worn.expect("enough runs");
        assert!(worn.difference.low < Some(-6.0) && worn.difference.high > Some(-6.0));
        assert!(worn.worse(), "{worn:?}");
    }

    #[test]
    fn two_runs_prove_nothing() {
        let two = runs(&[1_000.0, 1_010.0], 0.0);
        assert!(difference("compressor_1", &two, &runs(&[1_000.0; 8], 0.0)).is_none());
    }
}
