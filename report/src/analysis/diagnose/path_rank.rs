//! What can be behind a slow path, with the likelihood of each explanation.

use super::super::moves::{Direction, MoveTrend};
use crate::conclusion::Conclusion;

/// Scatter of a trend below this is not believed, as a fraction.
const LEAST_ERROR: f64 = 0.03;

/// Corners of an axle are made alike to this, one standard deviation of the
/// logarithm of their conductances; common practice, no source.
pub(super) const MATES_ALIKE: f64 = 0.15;

/// How well the series rule tells the loss of a path from that of another, as
/// shares of the logarithm: of the two ways of a line …
const LINE_RULE: f64 = 0.12;

/// … and of corners that share supply or exhaust, which slow each other too.
const SHARED_RULE: f64 = 0.35;

/// One path's change, as ln of the conductance ratio, and its error.
struct PathChange<'a> {
    place: &'a str,
    direction: Direction,
    ln_ratio: f64,
    se: f64,
    /// Conductance when sound, L/(s·bar).
    sound: f64,
}

/// Rank the explanations for slow paths at `place` by likelihood.
///
/// Each explanation is one number: what a valve has lost, or the resistance
/// 1/C² that a line, supply or exhaust has gained. Conductances in series add
/// as `1/C² = Σ 1/Cᵢ²` (ISO 6358-3, from memory, critical ratios alike), so a
/// shared cause tells what each of its paths must lose; all other paths are as
/// they were. Gaussian likelihoods of the log ratios, the errors stretched
/// until the best explanation fits (Birge).
#[must_use]
pub fn rank_paths(
    trends: &[MoveTrend],
    place: &str,
    developing: bool,
    mate_of: &impl Fn(&str) -> Option<String>,
) -> Vec<(Conclusion, f64)> {
    let changes: Vec<PathChange> = trends
        .iter()
        .filter_map(|t| change(t, trends, developing, mate_of))
        .collect();
    let all: Vec<(Conclusion, ExplanationFit)> = explanations(&changes, place, developing)
        .into_iter()
        .map(|(fault, group, rule)| (fault, fit(&changes, &group, rule)))
        .collect();
    let best = all.iter().map(|a| a.1.misfit).fold(f64::INFINITY, f64::min);
    let degrees = (changes.len() as f64 - 1.0).max(1.0);
    let stretch = (best / degrees).max(1.0);
    let cost = |f: &ExplanationFit| f.misfit / stretch + f.width;
    let least = all.iter().map(|a| cost(&a.1)).fold(f64::INFINITY, f64::min);
    let likelihood = |f: &ExplanationFit| (-(cost(f) - least) / 2.0).exp();
    let total: f64 = all.iter().map(|a| likelihood(&a.1)).sum();
    let mut out: Vec<(Conclusion, f64)> = all
        .into_iter()
        .map(|(fault, f)| (fault, likelihood(&f) / total))
        .collect();
    out.sort_by(|a, b| b.1.total_cmp(&a.1));
    out
}

fn change<'a>(
    t: &'a MoveTrend,
    trends: &[MoveTrend],
    developing: bool,
    mate_of: &impl Fn(&str) -> Option<String>,
) -> Option<PathChange<'a>> {
    let (ln_ratio, se, sound) = if developing {
        let change = t.ln_change?;
        (change.value, change.se, t.first_last_third.0)
    } else {
        let mate = mate_of(&t.place)?;
        let mate = trends
            .iter()
            .find(|m| m.place == mate && m.direction == t.direction)?;
        let ratio = t.median_conductance / mate.median_conductance;
        let se = t.median_error().hypot(mate.median_error());
        (ratio.ln(), se.hypot(MATES_ALIKE), mate.median_conductance)
    };
    ln_ratio.is_finite().then(|| PathChange {
        place: &t.place,
        direction: t.direction,
        ln_ratio,
        se: se.max(LEAST_ERROR),
        sound,
    })
}

/// A cause, the paths it slows (as indices), and how well the series rule holds
/// among them.
type Explanation = (Conclusion, Vec<usize>, f64);

fn explanations(changes: &[PathChange], place: &str, developing: bool) -> Vec<Explanation> {
    let of = |wanted: &dyn Fn(&PathChange) -> bool| -> Vec<usize> {
        (0..changes.len())
            .filter(|i| wanted(&changes[*i]))
            .collect()
    };
    let own = |direction| of(&|c: &PathChange| c.place == place && c.direction == direction);
    let all = |direction| of(&|c: &PathChange| c.direction == direction);
    let (fill, dump) = (own(Direction::Fill), own(Direction::Dump));
    let both = [&fill[..], &dump].concat();
    let name = || place.to_string();
    let mut out = vec![
        (Conclusion::FillSlow { place: name() }, fill, 0.0),
        (Conclusion::DumpSlow { place: name() }, dump, 0.0),
    ];
    if both.len() > 1 {
        let line = Conclusion::LineRestricted { place: name() };
        out.push((line, both, LINE_RULE));
    }
    // Against its mate a shared path shows no difference.
    if developing {
        let supply = all(Direction::Fill);
        let exhaust = all(Direction::Dump);
        // Of a single path it cannot be told from the valve.
        if supply.len() > 1 {
            out.push((Conclusion::SupplyRestricted, supply, SHARED_RULE));
        }
        if exhaust.len() > 1 {
            out.push((Conclusion::ExhaustRestricted, exhaust, SHARED_RULE));
        }
    }
    out.retain(|(_, group, _)| !group.is_empty());
    out
}

/// An explanation at its likeliest size.
struct ExplanationFit {
    /// χ².
    misfit: f64,
    /// What the wider errors of a rule cost, as twice the logarithm of the
    /// likelihood.
    width: f64,
}

/// Sizes tried.
const SIZES: i32 = 120;

fn fit(changes: &[PathChange], group: &[usize], rule: f64) -> ExplanationFit {
    let widest = group.iter().map(|i| changes[*i].sound).fold(0.0, f64::max);
    // The widest path is left with 99.5 to 1 % of its flow.
    let step = (1e4_f64 / 1e-2).ln() / f64::from(SIZES);
    (0..=SIZES)
        .map(|i| 1e-2 * (f64::from(i) * step).exp() / widest.powi(2))
        .map(|gained| at(changes, group, rule, gained))
        .min_by(|a, b| (a.misfit + a.width).total_cmp(&(b.misfit + b.width)))
        .unwrap_or(ExplanationFit {
            misfit: 0.0,
            width: 0.0,
        })
}

/// An explanation with this gain of 1/C² in the paths of its group. A mate
/// compared with the slow path looks faster by as much; of the paths outside
/// the group only slower ones count against it.
fn at(changes: &[PathChange], group: &[usize], rule: f64, gained: f64) -> ExplanationFit {
    let mut out = ExplanationFit {
        misfit: 0.0,
        width: 0.0,
    };
    for (i, c) in changes.iter().enumerate() {
        if group.contains(&i) {
            let told = -0.5 * (gained * c.sound.powi(2)).ln_1p();
            let se = c.se.hypot(rule * told);
            out.misfit += ((c.ln_ratio - told) / se).powi(2);
            out.width += 2.0 * (se / c.se).ln();
        } else {
            out.misfit += (c.ln_ratio.min(0.0) / c.se).powi(2);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::estimate::Estimate;

    fn trends(changed: &[(&str, Direction, f64)]) -> Vec<MoveTrend> {
        let mut out = Vec::new();
        for place in ["front_left", "front_right", "rear_left", "rear_right"] {
            for direction in [Direction::Fill, Direction::Dump] {
                let factor = changed
                    .iter()
                    .find(|c| c.0 == place && c.1 == direction)
                    .map_or(1.0, |c| c.2);
                out.push(MoveTrend {
                    place: place.into(),
                    direction,
                    moves: 12,
                    by_height: true,
                    conductance: Estimate {
                        value: 0.1,
                        se: 0.003,
                        degrees_of_freedom: 10.0,
                    },
                    at_least: false,
                    median_conductance: 0.1 * factor.sqrt(),
                    first_last_third: (0.1, 0.1 * factor),
                    reference_time_s: None,
                    ln_level: None,
                    ln_change: Some(Estimate {
                        value: f64::ln(factor),
                        se: 0.03,
                        degrees_of_freedom: 10.0,
                    }),
                    ln_pace_change: None,
                    drift_percent_per_day: None,
                    trend_p: None,
                    scatter: 0.05,
                });
            }
        }
        out
    }

    fn first(changed: &[(&str, Direction, f64)]) -> Conclusion {
        let ranked = rank_paths(&trends(changed), "front_left", true, &|_| None);
        let total: f64 = ranked.iter().map(|r| r.1).sum();
        assert!((total - 1.0).abs() < 1e-12);
        ranked[0].0.clone()
    }

    #[test]
    fn each_pattern_ranks_its_own_cause_first() {
        use Direction::{Dump, Fill};
        let place = || "front_left".to_string();
        assert_eq!(
            first(&[("front_left", Fill, 0.6)]),
            Conclusion::FillSlow { place: place() }
        );
        assert_eq!(
            first(&[("front_left", Dump, 0.6)]),
            Conclusion::DumpSlow { place: place() }
        );
        assert_eq!(
            first(&[("front_left", Fill, 0.5), ("front_left", Dump, 0.7)]),
            Conclusion::LineRestricted { place: place() }
        );
        let all: Vec<_> = ["front_left", "front_right", "rear_left", "rear_right"]
            .map(|p| (p, Fill, 0.6))
            .to_vec();
        assert_eq!(first(&all), Conclusion::SupplyRestricted);
    }
}
