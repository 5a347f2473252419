//! A corner that loses air: always, or only after a dump?

use super::super::estimate::Estimate;
use super::super::leak::{LeakFit, PooledLeak, pool};
use super::super::segment::LastMove;
use super::super::stats::student_t_quantile;

/// The losses of one corner by what was done before the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct ByLastMove {
    /// Circuit.
    pub place: String,
    /// Rests after a fill.
    pub after_fill: PooledLeak,
    /// Rests after a dump.
    pub after_dump: PooledLeak,
    /// Probability that it loses only after dumps, against losing always: a
    /// dump valve that does not reseat. Both are taken for equally likely
    /// beforehand.
    pub only_after_dumps: f64,
}

/// Compare the rests of a corner after fills with those after dumps. `None`
/// unless there are rests of both kinds.
///
/// Two hypotheses with one free rate each: the same loss always (then both
/// rates agree), or none after a fill (then that rate is nil). Each is weighed
/// by a Gaussian likelihood with errors that have the same 95 % interval.
#[must_use]
pub fn by_last_move(place: &str, fits: &[LeakFit]) -> Option<ByLastMove> {
    let after = |kind: LastMove| {
        let own: Vec<LeakFit> = fits
            .iter()
            .filter(|f| f.place == place && f.after == kind)
            .cloned()
            .collect();
        pool(place, &own)
    };
    let after_fill = after(LastMove::Fill)?;
    let after_dump = after(LastMove::Dump)?;
    let only_after_dumps =
        share_only_after_dumps(&after_fill.loss_l_per_s, &after_dump.loss_l_per_s);
    Some(ByLastMove {
        place: place.into(),
        after_fill,
        after_dump,
        only_after_dumps,
    })
}

fn share_only_after_dumps(fill: &Estimate, dump: &Estimate) -> f64 {
    let (sf, sd) = (widened(fill), widened(dump));
    let always = (dump.value - fill.value).powi(2) / (sf * sf + sd * sd);
    let only_dumps = (fill.value / sf).powi(2);
    1.0 / (1.0 + ((only_dumps - always) / 2.0).exp())
}

fn widened(e: &Estimate) -> f64 {
    let t = student_t_quantile(0.975, e.degrees_of_freedom.max(1.0));
    (e.se * t / 1.959_964).max(f64::MIN_POSITIVE)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rate(value: f64, se: f64) -> Estimate {
        Estimate {
            value,
            se,
            degrees_of_freedom: 1e6,
        }
    }

    #[test]
    fn a_steady_loss_is_no_valve_that_does_not_reseat() {
        let share = share_only_after_dumps(&rate(3e-4, 2e-5), &rate(3e-4, 2e-5));
        assert!(share < 0.001, "{share}");
    }

    #[test]
    fn a_loss_only_after_dumps_is() {
        let share = share_only_after_dumps(&rate(0.0, 2e-5), &rate(3e-4, 2e-5));
        assert!(share > 0.999, "{share}");
    }

    #[test]
    fn wide_intervals_leave_it_open() {
        let share = share_only_after_dumps(&rate(1e-4, 2e-4), &rate(3e-4, 2e-4));
        assert!((0.4..0.6).contains(&share), "{share}");
    }
}
