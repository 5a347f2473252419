//! From the first to the last third of the moves, like for like.

use super::super::estimate::Estimate;
use super::super::robust::robust;
use super::super::stats::centred;

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

/// Change of `values`, in time order, from the first to the last third.
///
/// Model: `y = a + m·(middle third) + c·(last third) + Σ bᵢ·(uᵢ − ūᵢ) + noise`:
/// the middle has a level of its own, so a step and a creep give the same c.
/// `covariates` are what makes moves differ whatever the path (their size, the
/// pressures they begin and end at); those that hardly differ, or are too many
/// for so few moves, are left out, the last ones first. Robust. `None` with too
/// few moves.
pub(crate) fn change(values: &[f64], weights: &[f64], covariates: &[Vec<f64>]) -> Option<Change> {
    let n = values.len();
    let third = n / 3;
    if third < 2 {
        return None;
    }
    let indicator = |from: usize, to: usize| -> Vec<f64> {
        (0..n)
            .map(|i| f64::from(u8::from((from..to).contains(&i))))
            .collect()
    };
    let groups = [
        vec![1.0; n],
        indicator(third, n - third),
        indicator(n - third, n),
    ];
    let useful: Vec<Vec<f64>> = covariates
        .iter()
        .map(|c| centred(c))
        .filter(|c| differs(c))
        .collect();
    let most = useful.len().min(n.saturating_sub(3) / SPARE);
    (0..=most).rev().find_map(|used| {
        let columns = [&groups[..], &useful[..used]].concat();
        let fit = robust(&columns, values, weights)?;
        let of_move = |i: usize| -> f64 {
            let taken = columns[3..].iter().zip(&fit.coefficients[3..]);
            taken.map(|(column, c)| column[i] * c.value).sum()
        };
        Some(Change {
            last_less_first: fit.coefficients[2],
            like_for_like: (0..n).map(|i| values[i] - of_move(i)).collect(),
        })
    })
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

    #[test]
    fn like_is_compared_with_like() {
        for loss in [0.0, -0.22] {
            let (values, size) = moves(loss);
            let found = change(&values, &[1.0; 30], &[size]).expect("enough");
            let (low, high) = found.last_less_first.interval_95();
            assert!(low < loss && loss < high, "{found:?}");
            assert!(high - low < 0.06, "{found:?}");
        }
    }

    #[test]
    fn what_makes_them_differ_would_be_taken_for_a_change() {
        let (values, _) = moves(0.0);
        let found = change(&values, &[1.0; 30], &[]).expect("enough");
        assert!(found.last_less_first.value > 0.4, "{found:?}");
    }

    #[test]
    fn five_moves_show_no_change() {
        assert!(change(&[1.0; 5], &[1.0; 5], &[]).is_none());
    }
}
