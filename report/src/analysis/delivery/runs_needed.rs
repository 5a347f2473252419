//! How many runs a loss of delivery would need to show.

use super::super::estimate::Estimate;

/// Fewer runs show no change.
const FEWEST: usize = 6;

/// Most runs that are promised.
const MOST: usize = 10_000;

/// Runs after which a loss of `ln_loss` (positive, a logarithm) is called with
/// certainty, when `runs` runs know the change with the standard error of
/// `ln_change`, of which `known_se` does not shrink with more of them. `None` when no
/// number of runs is enough.
///
/// The rest of the error falls as `1/√n`; `limit` gives the smallest loss (its
/// logarithm) that shows at an error.
#[must_use]
pub fn runs_needed(
    ln_change: &Estimate,
    runs: usize,
    known_se: f64,
    ln_loss: f64,
    limit: impl Fn(&Estimate) -> f64,
) -> Option<usize> {
    let own = (ln_change.se.powi(2) - known_se.powi(2)).max(0.0).sqrt();
    let shows = |n: usize| {
        if n < FEWEST {
            return false;
        }
        let scatter = Estimate {
            value: 0.0,
            se: own * (runs as f64 / n as f64).sqrt(),
            degrees_of_freedom: (n as f64 - 3.0).max(1.0),
        };
        limit(&scatter.with_known_error(known_se)) <= ln_loss
    };
    // The limit falls with the number of runs.
    let (mut too_few, mut enough) = (0, MOST);
    if !shows(enough) {
        return None;
    }
    while enough - too_few > 1 {
        let middle = usize::midpoint(too_few, enough);
        if shows(middle) {
            enough = middle;
        } else {
            too_few = middle;
        }
    }
    Some(enough)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: a limit of two standard errors, 0.2 at eight runs, is 0.1 at 32.
    #[test]
    fn four_times_the_runs_halve_the_error() {
        let change = Estimate {
            value: 0.0,
            se: 0.1,
            degrees_of_freedom: 5.0,
        };
        let two = |e: &Estimate| 2.0 * e.se;
        assert_eq!(runs_needed(&change, 8, 0.0, 0.1, two), Some(32));
        assert_eq!(runs_needed(&change, 8, 0.06, 0.1, two), None);
    }
}
