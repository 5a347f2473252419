//! From which loss on a leak that comes and goes would be named.

use super::super::leak::LeakFit;
use super::super::regression::{Term, regress_known};
use super::levels::NAMED_Z;
use super::separate::FEWEST;
use super::{Condition, RestLoss};

/// Limits of a volume, ANR L/s; `None` without enough rests of both sorts, or
/// without what the condition needs.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedFrom {
    /// Circuit.
    pub place: String,
    /// Of a leak after every dump.
    pub after_dump_l_per_s: Option<f64>,
    /// Of a leak in the colder half of the time.
    pub cold_l_per_s: Option<f64>,
}

/// The limits of a circuit by its rests.
#[must_use]
pub fn named_from(place: &str, rests: &[RestLoss]) -> NamedFrom {
    let limit = |condition: Condition| {
        let known = rests.iter().filter_map(|r| Some((condition.share(r)?, r)));
        least(
            &known
                .map(|(share, r)| Seen::by_rest(share, r))
                .collect::<Vec<_>>(),
        )
    };
    NamedFrom {
        place: place.into(),
        after_dump_l_per_s: limit(Condition::AfterDump),
        cold_l_per_s: Condition::colder_half(rests).and_then(limit),
    }
}

/// The same where it is known in which rests it leaked: each with the share of
/// it that leaked.
#[must_use]
pub fn named_from_l_per_s(rests: &[(f64, &LeakFit)]) -> Option<f64> {
    let seen = rests.iter().map(|(share, fit)| Seen {
        share: *share,
        own_se: fit.without_shared_errors().se,
        shared: fit.all_shared_errors().collect(),
    });
    least(&seen.collect::<Vec<_>>())
}

/// What the limit takes from a rest.
struct Seen {
    share: f64,
    own_se: f64,
    shared: Vec<f64>,
}

impl Seen {
    fn by_rest(share: f64, rest: &RestLoss) -> Self {
        Seen {
            share,
            own_se: rest.own_se,
            shared: rest.shared_errors_l_per_s.clone(),
        }
    }
}

/// Chance to miss it, 5 %, in standard errors.
const MISSED_Z: f64 = 1.645;

/// Least loss whose difference to tight rests is told with 95 % chance:
/// `(z + 1.645)·s`, s the standard error of the difference between rests that
/// leak and rests that hold, beside the errors that all share.
///
/// **Source**: detection limit of Currie 1968, with z for α.
fn least(rests: &[Seen]) -> Option<f64> {
    let open = rests.iter().filter(|r| r.share > 0.5).count();
    if open < FEWEST || rests.len() - open < FEWEST {
        return None;
    }
    let variances: Vec<f64> = rests.iter().map(|r| r.own_se * r.own_se).collect();
    let mut terms = vec![
        Term::free(rests.iter().map(|r| r.share).collect()),
        Term::free(vec![1.0; rests.len()]),
    ];
    let errors = rests.iter().map(|r| r.shared.len()).min()?;
    terms.extend(
        (0..errors)
            .map(|k| rests.iter().map(|r| r.shared[k]).collect())
            .filter(|column: &Vec<f64>| column.iter().any(|v| v.abs() > 0.0))
            .map(|column| Term::small(column, 1.0)),
    );
    let fit = regress_known(&terms, &vec![0.0; rests.len()], &variances)?;
    Some((NAMED_Z + MISSED_Z) * fit.standard_errors[0])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rests(shared: impl Fn(f64) -> Vec<f64>) -> Vec<Seen> {
        let share = |i: u32| f64::from(u8::from(i < 4));
        (0..12)
            .map(|i| Seen {
                share: share(i),
                own_se: 2e-6,
                shared: shared(share(i)),
            })
            .collect()
    }

    /// By hand: the difference of means of 4 and 8 rests.
    #[test]
    fn own_errors_alone_give_the_difference_of_two_means() {
        let limit = least(&rests(|_| Vec::new())).expect("a limit");
        let se = 2e-6 * (1.0_f64 / 4.0 + 1.0 / 8.0).sqrt();
        assert!((limit / (5.645 * se) - 1.0).abs() < 1e-9, "{limit}");
    }

    /// By hand: an error that only the rests that leak share adds its variance;
    /// one that all rests share alike adds none.
    #[test]
    fn a_shared_error_counts_as_far_as_it_differs() {
        let se = 2e-6 * (1.0_f64 / 4.0 + 1.0 / 8.0).sqrt();
        let own = least(&rests(|share| vec![5e-6 * share])).expect("a limit");
        assert!((own / (5.645 * se.hypot(5e-6)) - 1.0).abs() < 1e-6, "{own}");
        let all = least(&rests(|_| vec![5e-6])).expect("a limit");
        assert!((all / (5.645 * se) - 1.0).abs() < 1e-6, "{all}");
    }

    #[test]
    fn too_few_rests_of_a_sort_have_no_limit() {
        let mut few = rests(|_| Vec::new());
        few.drain(..2);
        assert_eq!(least(&few), None);
    }
}
