//! When a leak began or ended, by the rests of its volume.
//!
//! A fit without dates gives every park its own loss. One step between two parks is laid
//! through them; its likeliest moment enters the model as a hypothesis beside the
//! conditions, at the price of the moments it was chosen from.

use super::estimates::{ParkEstimate, RestModelFit};
use super::hypothesis::{Date, Hypothesis};
use super::input::Car;

/// Parks on each side of a step, at least: one night alone may be a night only.
const LEAST_PARKS: usize = 2;
/// Parks that a step is looked for in, at least: as for the other conditions.
const LEAST_IN_ALL: usize = 6;
/// Share of the prior that falls on the moments beside a note: a repair is what people
/// note. **Source**: judgement.
const NOTED_SHARE: f64 = 0.5;

/// Returns the likeliest end and beginning of every loss that `fit` names, where the
/// volume's rests show what they hold.
pub(super) fn dated(fit: &RestModelFit, car: &Car) -> Vec<Hypothesis> {
    let volumes = (0..car.volumes.len()).filter(|v| loses(fit, *v) && shows_holding(car, *v));
    volumes
        .flat_map(|volume| {
            let mut parks: Vec<&ParkEstimate> =
                fit.rests.iter().filter(|r| r.volume == volume).collect();
            parks.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
            let until = date(&parks, &car.notes_s, -1.0);
            let since = date(&parks, &car.notes_s, 1.0);
            let until = until.map(|date| Hypothesis::Until { volume, date });
            until
                .into_iter()
                .chain(since.map(|date| Hypothesis::Since { volume, date }))
        })
        .collect()
}

fn loses(fit: &RestModelFit, volume: usize) -> bool {
    let own = |h: Hypothesis| !h.is_transfer() && h.volume() == volume;
    let two_states = fit.volume(volume).and_then(|v| v.two_states.as_ref());
    fit.named().any(|h| own(h.hypothesis)) || two_states.is_some_and(|t| t.named)
}

/// A corner without a height keeps its pressure while it sinks: its quiet rests are no
/// sign that nothing leaked.
fn shows_holding(car: &Car, volume: usize) -> bool {
    let of = &car.volumes[volume];
    (of.is_tank || of.has_height) && !of.by_hand
}

/// A moment at which the step may lie: before the park of this number.
struct PossibleStep {
    park: usize,
    prior: f64,
    /// ln of prior times likelihood.
    ln_weight: f64,
}

/// Likeliest moment of one step up (+1) or down (−1), with its interval and price.
fn date(parks: &[&ParkEstimate], notes_s: &[f64], sign: f64) -> Option<Date> {
    if parks.len() < LEAST_IN_ALL {
        return None;
    }
    let numbers: Vec<usize> = (LEAST_PARKS..=parks.len() - LEAST_PARKS).collect();
    let moments: Vec<PossibleStep> = numbers
        .iter()
        .zip(priors(parks, &numbers, notes_s))
        .filter_map(|(park, prior)| {
            Some(PossibleStep {
                park: *park,
                prior,
                ln_weight: prior.ln() + ln_likelihood(parks, *park, sign)?,
            })
        })
        .collect();
    let likeliest = moments
        .iter()
        .max_by(|a, b| a.ln_weight.total_cmp(&b.ln_weight))?;
    let weights: Vec<(usize, f64)> = moments
        .iter()
        .map(|m| (m.park, (m.ln_weight - likeliest.ln_weight).exp()))
        .collect();
    let (first, last) = middle_95(&weights)?;
    let all: f64 = weights.iter().map(|w| w.1).sum();
    let park = likeliest.park;
    Some(Date {
        at_s: 0.5 * (parks[park - 1].end_s + parks[park].start_s),
        between_s: (parks[first - 1].end_s, parks[last].start_s),
        prior_share: (all * likeliest.prior).min(1.0),
    })
}

/// Prior of each moment: all alike, but half of it for those beside a note.
fn priors(parks: &[&ParkEstimate], numbers: &[usize], notes_s: &[f64]) -> Vec<f64> {
    let is_noted = |k: usize| {
        let beside = parks[k - 1].start_s..=parks[k].end_s;
        notes_s.iter().any(|t| beside.contains(t))
    };
    let noted = numbers.iter().filter(|k| is_noted(**k)).count() as f64;
    let all = numbers.len() as f64;
    let of = |k: &usize| match noted {
        0.0 => 1.0 / all,
        _ if is_noted(*k) => (1.0 - NOTED_SHARE) / all + NOTED_SHARE / noted,
        _ => (1.0 - NOTED_SHARE) / all,
    };
    numbers.iter().map(of).collect()
}

/// ln of the likelihood of a step before park `k`; `None` where it goes the other way.
///
/// Equation: weighted least squares with one level before and one after; the scale of the
/// errors is not known, so the likelihood is `(Σ wᵢ rᵢ²)^(−n/2)`, `wᵢ = seᵢ⁻²`.
/// **Source**: Gaussian likelihood with its variance at the maximum.
fn ln_likelihood(parks: &[&ParkEstimate], k: usize, sign: f64) -> Option<f64> {
    let level = |of: &[&ParkEstimate]| {
        let (sum, weight) = of.iter().fold((0.0, 0.0), |(s, w), p| {
            let own = p.standard_error.powi(-2);
            (s + own * p.conductance, w + own)
        });
        let level = sum / weight;
        let residual = |p: &&ParkEstimate| ((p.conductance - level) / p.standard_error).powi(2);
        (level, of.iter().map(residual).sum::<f64>())
    };
    let (before, after) = (level(&parks[..k]), level(&parks[k..]));
    let left = before.1 + after.1;
    let goes = sign * (after.0 - before.0) > 0.0 && left > 0.0;
    goes.then(|| -0.5 * parks.len() as f64 * left.ln())
}

/// First and last of those that hold the middle 95 % of the weight.
fn middle_95(weights: &[(usize, f64)]) -> Option<(usize, usize)> {
    let all: f64 = weights.iter().map(|w| w.1).sum();
    let reaches = |share: f64| {
        let mut sum = 0.0;
        let mut from_start = weights.iter();
        let found = from_start.find(|w| {
            sum += w.1;
            sum >= share * all
        });
        found.or(weights.last()).map(|w| w.0)
    };
    Some((reaches(0.025)?, reaches(0.975)?))
}

#[cfg(test)]
mod tests {
    use super::{ParkEstimate, date};

    /// Invented: one park a day, twelve hours each, with these losses.
    fn parks(losses: &[f64]) -> Vec<ParkEstimate> {
        let one = |(i, c): (usize, &f64)| ParkEstimate {
            volume: 0,
            park: i,
            rests: vec![i],
            start_s: 86_400.0 * i as f64,
            end_s: 86_400.0 * i as f64 + 43_200.0,
            duration_s: 43_200.0,
            conductance: *c,
            model_conductance: *c,
            model_standard_error: 0.2,
            standard_error: 0.2,
            predicted: 0.0,
            transferred: 0.0,
            flow_factor: 1.0,
            unrest: 1.0,
            z: 0.0,
            longest_silence_s: 60.0,
        };
        losses.iter().enumerate().map(one).collect()
    }

    /// Scatter of a period of seven, so that no two moments tie.
    fn stepped(days: usize, at: usize, before: f64, after: f64) -> Vec<ParkEstimate> {
        let level = |i: usize| if i < at { before } else { after };
        let losses: Vec<f64> = (0..days)
            .map(|i| level(i) + 0.1 * ((i * 3 % 7) as f64 - 3.0))
            .collect();
        parks(&losses)
    }

    #[test]
    fn a_clear_step_is_found_between_its_two_parks() {
        let all = stepped(20, 10, 8.0, 0.0);
        let all: Vec<&ParkEstimate> = all.iter().collect();
        let found = date(&all, &[], -1.0).unwrap();
        assert_eq!(found.between_s, (all[9].end_s, all[10].start_s));
        assert!((found.prior_share - 1.0 / 17.0).abs() < 1e-6, "{found:?}");
        // Nothing rises that could not be explained by chance, but a moment is offered.
        let rises = date(&all, &[], 1.0);
        assert!(rises.is_none_or(|d| d.at_s != found.at_s));
    }

    #[test]
    fn a_step_within_the_scatter_has_a_wide_interval_and_costs_little() {
        let all = stepped(20, 10, 0.15, 0.0);
        let all: Vec<&ParkEstimate> = all.iter().collect();
        let found = date(&all, &[], -1.0).unwrap();
        assert!(found.between_s.1 - found.between_s.0 > 5.0 * 86_400.0);
        assert!(found.prior_share > 0.2, "{found:?}");
    }

    #[test]
    fn a_note_pays_for_its_own_moment() {
        let all = stepped(20, 10, 8.0, 0.0);
        let all: Vec<&ParkEstimate> = all.iter().collect();
        let between = all[9].end_s + 3_600.0;
        let noted = date(&all, &[between], -1.0).unwrap();
        assert!(noted.prior_share > 0.5, "{noted:?}");
        let elsewhere = date(&all, &[all[3].end_s + 3_600.0], -1.0).unwrap();
        assert!((elsewhere.prior_share - 0.5 / 17.0).abs() < 1e-6);
    }

    #[test]
    fn few_parks_have_no_date() {
        let all = stepped(5, 2, 8.0, 0.0);
        assert!(date(&all.iter().collect::<Vec<_>>(), &[], -1.0).is_none());
    }
}
