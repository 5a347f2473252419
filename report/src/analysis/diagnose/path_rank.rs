//! What can be behind a slow path, with the likelihood of each explanation.

use super::super::moves::{Direction, MoveTrend};
use super::PathFault;

/// Scatter of a trend below this is not believed, as a fraction.
const LEAST_ERROR: f64 = 0.03;

/// One path's change, as ln of the conductance ratio, and its error.
struct Change<'a> {
    place: &'a str,
    direction: Direction,
    ln_ratio: f64,
    se: f64,
}

/// Rank the explanations for slow paths at `place` by likelihood.
///
/// Each explanation says which paths are slower (by a common factor; the two
/// ways of a line by a factor each) and that all others are as they were.
/// Gaussian likelihoods of the log ratios, each further factor charged ln(n)
/// (Schwarz), and the errors stretched until the best explanation fits (Birge).
#[must_use]
pub fn rank_paths(
    trends: &[MoveTrend],
    place: &str,
    developing: bool,
    mate_of: &impl Fn(&str) -> Option<String>,
) -> Vec<(PathFault, f64)> {
    let changes: Vec<Change> = trends
        .iter()
        .filter_map(|t| change(t, trends, developing, mate_of))
        .collect();
    let n = changes.len() as f64;
    let mut misfits: Vec<(PathFault, f64, f64)> = explanations(&changes, place, developing)
        .into_iter()
        .map(|(fault, groups)| {
            let charge = (groups.len() as f64 - 1.0) * n.ln();
            let misfit = misfit(&changes, &groups);
            (fault, misfit, charge)
        })
        .collect();
    let best = misfits.iter().map(|m| m.1).fold(f64::INFINITY, f64::min);
    let stretch = (best / (n - 1.0).max(1.0)).max(1.0);
    let least = misfits
        .iter()
        .map(|m| m.1 / stretch + m.2)
        .fold(f64::INFINITY, f64::min);
    for m in &mut misfits {
        m.1 = (-(m.1 / stretch + m.2 - least) / 2.0).exp();
    }
    let total: f64 = misfits.iter().map(|m| m.1).sum();
    let mut out: Vec<(PathFault, f64)> = misfits.into_iter().map(|m| (m.0, m.1 / total)).collect();
    out.sort_by(|a, b| b.1.total_cmp(&a.1));
    out
}

fn change<'a>(
    t: &'a MoveTrend,
    trends: &[MoveTrend],
    developing: bool,
    mate_of: &impl Fn(&str) -> Option<String>,
) -> Option<Change<'a>> {
    let error = |t: &MoveTrend, n: usize| 1.25 * t.scatter / (n.max(1) as f64).sqrt();
    let (ratio, se) = if developing {
        let third = (t.moves / 3).max(1);
        let (first, last) = t.first_last_third;
        (last / first, error(t, third) * std::f64::consts::SQRT_2)
    } else {
        let mate = mate_of(&t.place)?;
        let mate = trends
            .iter()
            .find(|m| m.place == mate && m.direction == t.direction)?;
        let ratio = t.median_conductance / mate.median_conductance;
        (ratio, error(t, t.moves).hypot(error(mate, mate.moves)))
    };
    (ratio > 0.0 && ratio.is_finite()).then(|| Change {
        place: &t.place,
        direction: t.direction,
        ln_ratio: ratio.ln(),
        se: se.max(LEAST_ERROR),
    })
}

/// Paths that slow down together, as indices.
type Groups = Vec<Vec<usize>>;

fn explanations(changes: &[Change], place: &str, developing: bool) -> Vec<(PathFault, Groups)> {
    let of = |wanted: &dyn Fn(&Change) -> bool| -> Vec<usize> {
        (0..changes.len())
            .filter(|i| wanted(&changes[*i]))
            .collect()
    };
    let own = |direction| of(&|c: &Change| c.place == place && c.direction == direction);
    let all = |direction| of(&|c: &Change| c.direction == direction);
    let (fill, dump) = (own(Direction::Fill), own(Direction::Dump));
    let name = || place.to_string();
    let mut out = vec![
        (PathFault::FillSlow { place: name() }, vec![fill.clone()]),
        (PathFault::DumpSlow { place: name() }, vec![dump.clone()]),
        (
            PathFault::LineRestricted { place: name() },
            vec![fill, dump],
        ),
    ];
    // Against its mate a shared path shows no difference.
    if developing {
        out.push((PathFault::SupplyRestricted, vec![all(Direction::Fill)]));
        out.push((PathFault::ExhaustRestricted, vec![all(Direction::Dump)]));
    }
    out.retain(|(_, groups)| groups.iter().all(|g| !g.is_empty()));
    out
}

/// χ² of an explanation: slowed groups at their own mean (never faster), all
/// others unchanged. A mate compared with the slow path looks faster by as
/// much; only slower paths count against an explanation.
fn misfit(changes: &[Change], groups: &Groups) -> f64 {
    let mut out = 0.0;
    for group in groups {
        let weight = |i: usize| changes[i].se.powi(-2);
        let total: f64 = group.iter().map(|i| weight(*i)).sum();
        let mean = group
            .iter()
            .map(|i| weight(*i) * changes[*i].ln_ratio)
            .sum::<f64>()
            / total;
        let mean = mean.min(0.0);
        out += group
            .iter()
            .map(|i| weight(*i) * (changes[*i].ln_ratio - mean).powi(2))
            .sum::<f64>();
    }
    for (i, c) in changes.iter().enumerate() {
        if !groups.iter().any(|g| g.contains(&i)) {
            out += (c.ln_ratio.min(0.0) / c.se).powi(2);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

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
                    median_conductance: 0.1 * factor.sqrt(),
                    first_last_third: (0.1, 0.1 * factor),
                    reference_time_s: (4.0, 4.0 / factor),
                    drift_percent_per_day: None,
                    trend_p: None,
                    scatter: 0.05,
                });
            }
        }
        out
    }

    fn first(changed: &[(&str, Direction, f64)]) -> PathFault {
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
            PathFault::FillSlow { place: place() }
        );
        assert_eq!(
            first(&[("front_left", Dump, 0.6)]),
            PathFault::DumpSlow { place: place() }
        );
        assert_eq!(
            first(&[("front_left", Fill, 0.5), ("front_left", Dump, 0.7)]),
            PathFault::LineRestricted { place: place() }
        );
        let all: Vec<_> = ["front_left", "front_right", "rear_left", "rear_right"]
            .map(|p| (p, Fill, 0.6))
            .to_vec();
        assert_eq!(first(&all), PathFault::SupplyRestricted);
    }
}
