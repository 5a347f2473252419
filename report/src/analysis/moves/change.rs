//! From the first to the last third of the moves, like for like.

use super::super::estimate::Estimate;
use super::super::robust::robust;
use super::super::stats::{centred, mean, median};
use super::drives::by_drive;

/// How a quantity of moves has changed.
#[derive(Debug, Clone)]
pub(crate) struct Change {
    /// Last third less first third.
    pub last_less_first: Estimate,
    /// Every value as it would be on an average move.
    pub like_for_like: Vec<f64>,
}

/// Readings to spare for each thing that is taken into account.
const SPARE: usize = 5;

/// Values, in time order, and what is known of them.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ComparedMoves<'a> {
    /// What is compared.
    pub values: &'a [f64],
    /// Relative inverse variances.
    pub weights: &'a [f64],
    /// What makes values differ whatever the path: size of a move, pressures it
    /// begins and ends at. Those that hardly differ, or are too many for so few
    /// values, are left out, the last ones first.
    pub covariates: &'a [Vec<f64>],
    /// When each was taken, ms.
    pub t_ms: &'a [i64],
}

/// Values as they would be on an average move.
struct LikeForLike {
    values: Vec<f64>,
    /// By how much the change from the first to the last third is uncertain for what was
    /// taken out.
    error: f64,
    /// The same by the scatter of the moves, each taken as a witness.
    of_moves: Estimate,
}

/// Change of a series from the first to the last third of its drives.
///
/// Two steps. What moves have in common with their size and pressures is taken
/// out by `y = a + m·(middle third) + c·(last third) + Σ bᵢ·(uᵢ − ūᵢ) + noise`,
/// robust: the middle has a level of its own, so a step and a creep give the
/// same c. Then each drive counts as one: moves minutes apart share load, air
/// temperature and supply, so that twenty of them are no twenty witnesses. The
/// medians of the drives are compared with weights `1/(ρ + (1 − ρ)/n)`, ρ being
/// the share of the variance that lies between drives; Student's t with the
/// number of drives in the two thirds less two. What the bᵢ are uncertain by, times
/// what u differs by between the thirds, adds to the error. The error is never less than
/// that of moves taken as so many witnesses: four drives may agree by chance.
///
/// `None` with fewer than two drives a third or too few moves.
///
/// **Source**: Kish, *Survey Sampling* (1965), chapter 5, for the effect of
/// clusters (from memory).
pub(crate) fn change(compared: &ComparedMoves) -> Option<Change> {
    let like_for_like = like_for_like(compared)?;
    let drives: Vec<Vec<f64>> = by_drive(&like_for_like.values, compared.t_ms)
        .into_iter()
        .map(|d| d.values)
        .collect();
    Some(Change {
        last_less_first: at_least(between_thirds(&drives)?, &like_for_like.of_moves)
            .with_known_error(like_for_like.error),
        like_for_like: like_for_like.values,
    })
}

/// With the error of `floor` where that is the larger one; drives stay the witnesses.
fn at_least(change: Estimate, floor: &Estimate) -> Estimate {
    Estimate {
        se: change.se.max(floor.se),
        ..change
    }
}

fn like_for_like(compared: &ComparedMoves) -> Option<LikeForLike> {
    let values = compared.values;
    let n = values.len();
    if n / 3 < 2 {
        return None;
    }
    let groups = thirds(n);
    let useful: Vec<Vec<f64>> = compared
        .covariates
        .iter()
        .map(|c| centred(c))
        .filter(|c| differs(c))
        .collect();
    let most = useful.len().min(n.saturating_sub(3) / SPARE);
    (0..=most).rev().find_map(|used| {
        let columns = [&groups[..], &useful[..used]].concat();
        let fit = robust(&columns, values, compared.weights)?;
        let of_move = |i: usize| -> f64 {
            let taken = columns[3..].iter().zip(&fit.coefficients[3..]);
            taken.map(|(column, c)| column[i] * c.value).sum()
        };
        let apart = |column: &Vec<f64>| last_less_first(column).unwrap_or(0.0);
        let apart = columns[3..].iter().map(apart);
        Some(LikeForLike {
            values: (0..n).map(|i| values[i] - of_move(i)).collect(),
            of_moves: fit.coefficients[2],
            error: fit.error_of(&[0.0; 3].into_iter().chain(apart).collect::<Vec<_>>()),
        })
    })
}

/// Mean of the last third less that of the first.
fn last_less_first(values: &[f64]) -> Option<f64> {
    let third = values.len() / 3;
    Some(mean(&values[values.len() - third..])? - mean(&values[..third])?)
}

/// Level, middle third, last third.
fn thirds(n: usize) -> [Vec<f64>; 3] {
    let third = n / 3;
    let indicator = |from: usize, to: usize| -> Vec<f64> {
        (0..n)
            .map(|i| f64::from(u8::from((from..to).contains(&i))))
            .collect()
    };
    [
        vec![1.0; n],
        indicator(third, n - third),
        indicator(n - third, n),
    ]
}

fn between_thirds(drives: &[Vec<f64>]) -> Option<Estimate> {
    let n = drives.len();
    if n / 3 < 2 {
        return None;
    }
    let shared = shared_part(drives);
    let weighed: Vec<(f64, f64)> = drives
        .iter()
        .map(|d| {
            let weight = (shared + (1.0 - shared) / d.len() as f64).recip();
            Some((median(d)?, weight))
        })
        .collect::<Option<_>>()?;
    let third = n / 3;
    // A step amid the middle third would be taken for scatter of its drives.
    let [first, last] = [0..third, n - third..n].map(|range| DriveGroup::of(&weighed[range]));
    let degrees_of_freedom = (2 * third - 2) as f64;
    let variance = (first.squares + last.squares) / degrees_of_freedom;
    Some(Estimate {
        value: last.mean - first.mean,
        se: (variance * (first.weight.recip() + last.weight.recip())).sqrt(),
        degrees_of_freedom,
    })
}

/// Drives of one third.
struct DriveGroup {
    mean: f64,
    weight: f64,
    /// Weighted squares around the mean.
    squares: f64,
}

impl DriveGroup {
    fn of(drives: &[(f64, f64)]) -> Self {
        let weight: f64 = drives.iter().map(|d| d.1).sum();
        let mean = drives.iter().map(|d| d.0 * d.1).sum::<f64>() / weight;
        DriveGroup {
            mean,
            weight,
            squares: drives.iter().map(|d| d.1 * (d.0 - mean).powi(2)).sum(),
        }
    }
}

/// Share of the variance that lies between drives, by the analysis of variance
/// of one way; 0 where each has one value, so that all weigh the same.
///
/// **Source**: Searle, Casella, McCulloch, *Variance Components* (1992), 3.6
/// (from memory).
fn shared_part(drives: &[Vec<f64>]) -> f64 {
    let (k, n) = (
        drives.len() as f64,
        drives.iter().map(Vec::len).sum::<usize>() as f64,
    );
    if n <= k {
        return 0.0;
    }
    let means: Vec<f64> = drives.iter().filter_map(|d| mean(d)).collect();
    let all = drives.iter().flatten().sum::<f64>() / n;
    let size = |i: usize| drives[i].len() as f64;
    let between = (0..drives.len())
        .map(|i| size(i) * (means[i] - all).powi(2))
        .sum::<f64>()
        / (k - 1.0);
    let within = drives
        .iter()
        .zip(&means)
        .flat_map(|(d, m)| d.iter().map(move |v| (v - m).powi(2)))
        .sum::<f64>()
        / (n - k);
    let squares: f64 = (0..drives.len()).map(|i| size(i).powi(2)).sum();
    let typical = (n - squares / n) / (k - 1.0);
    let variance = ((between - within) / typical).max(0.0);
    if variance + within > 0.0 {
        variance / (variance + within)
    } else {
        0.0
    }
}

/// At least two moves on either side of the mean.
fn differs(centred: &[f64]) -> bool {
    let most = centred.iter().fold(0.0_f64, |most, v| v.abs().max(most));
    let count = |sign: f64| centred.iter().filter(|v| sign * **v > 0.05 * most).count();
    most > 1e-9 && count(1.0) >= 2 && count(-1.0) >= 2
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Invented: moves of two sizes, the large ones later; the path does not
    /// change, or loses a fifth at the twentieth of thirty moves.
    fn moves(loss: f64) -> (Vec<f64>, Vec<f64>) {
        let size: Vec<f64> = (0..30)
            .map(|i| {
                if (i * i + i / 2) % 7 < i / 5 {
                    1.0
                } else {
                    0.0
                }
            })
            .collect();
        let wobble = |i: usize| 0.02 * ((i * 37 % 11) as f64 - 5.0) / 5.0;
        let values = (0..30)
            .map(|i| 0.8 * size[i] + wobble(i) + if i >= 19 { loss } else { 0.0 })
            .collect();
        (values, size)
    }

    const DAYS: i64 = 86_400_000;

    fn of(values: &[f64], covariates: &[Vec<f64>], apart_ms: i64) -> Option<Change> {
        let t_ms: Vec<i64> = (0..values.len() as i64).map(|i| i * apart_ms).collect();
        change(&ComparedMoves {
            values,
            weights: &vec![1.0; values.len()],
            covariates,
            t_ms: &t_ms,
        })
    }

    #[test]
    fn like_is_compared_with_like() {
        for loss in [0.0, -0.22] {
            let (values, size) = moves(loss);
            let found = of(&values, &[size], DAYS).expect("enough");
            let (low, high) = found.last_less_first.interval_95();
            assert!(low < loss && loss < high, "{found:?}");
            assert!(high - low < 0.08, "{found:?}");
        }
    }

    #[test]
    fn what_makes_them_differ_would_be_taken_for_a_change() {
        let (values, _) = moves(0.0);
        let found = of(&values, &[], DAYS).expect("enough");
        assert!(found.last_less_first.value > 0.4, "{found:?}");
    }

    /// Invented: every drive has a load of its own. Taken as forty witnesses the
    /// moves of eight drives show a change in most sound weeks; drives compared
    /// with drives in one of a hundred that ask for one in a hundred.
    #[test]
    fn moves_of_one_drive_are_one_witness() {
        let mut state = 7_u64;
        let mut unit = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 11) as f64 / (1_u64 << 53) as f64
        };
        let mut normal = || (0..12).map(|_| unit()).sum::<f64>() - 6.0;
        let rounds = 2_000;
        let called = (0..rounds)
            .filter(|_| {
                let values: Vec<f64> = (0..8)
                    .flat_map(|_| {
                        let load = normal();
                        [0; 5].map(|_| load + 0.2 * normal())
                    })
                    .collect();
                let t_ms: Vec<i64> = (0..40).map(|i| i / 5 * DAYS + i % 5 * 60_000).collect();
                let weights = vec![1.0; 40];
                let found = change(&ComparedMoves {
                    values: &values,
                    weights: &weights,
                    covariates: &[],
                    t_ms: &t_ms,
                });
                found.is_some_and(|c| c.last_less_first.falls_p() < 0.01)
            })
            .count();
        assert!((8..=35).contains(&called), "{called} of {rounds}");
    }

    /// Invented: the drives of either third agree to a hundredth, though moves of the same
    /// valve differ by a tenth.
    #[test]
    fn drives_that_agree_by_chance_are_no_proof() {
        let values = [
            0.95, 1.05, 1.0, 1.005, 0.9, 1.1, 0.85, 1.2, 1.02, 1.12, 1.06, 1.08,
        ];
        let t_ms: Vec<i64> = (0..12).map(|i| i / 2 * DAYS + i % 2 * 60_000).collect();
        let found = change(&ComparedMoves {
            values: &values,
            weights: &[1.0; 12],
            covariates: &[],
            t_ms: &t_ms,
        });
        let found = found.expect("enough").last_less_first;
        assert!((found.value - 0.07).abs() < 0.01, "{found:?}");
        assert!(
            found.se > 0.03 && found.scaled(-1.0).falls_p() > 0.02,
            "{found:?}"
        );
    }

    #[test]
    fn five_moves_show_no_change() {
        assert!(of(&[1.0; 5], &[], DAYS).is_none());
    }

    #[test]
    fn one_drive_shows_no_change() {
        let (values, _) = moves(-0.22);
        assert!(of(&values, &[], 60_000).is_none());
    }
}
