//! Holding height or pressure for some hours.

use super::{Hold, Judged, Outcome};
use crate::analysis::estimate::Estimate;
use crate::analysis::leak::PooledLeak;
use crate::findings::measured;
use crate::judgement::Judgement;
use crate::model::{Measured, Unit};

/// Rest needed before a rate is carried forward: this share of the hold.
/// Common practice, no source: a rate seen for a quarter of the time.
const LEAST_SHARE: f64 = 0.25;

/// The change over the hold at the pooled rate, against the limit both ways.
pub(super) fn judge(limit: &Hold, place: &str, judgement: &Judgement) -> Judged {
    let by_height = limit.within_mm.is_some();
    let (unit, within) = match (limit.within_mm, limit.within_kpa) {
        (Some(mm), _) => (Unit::Mm, mm),
        (None, kpa) => (Unit::KpaDifference, kpa.unwrap_or(f64::NAN)),
    };
    let leak = judgement.leaks.iter().find(|l| l.place == place);
    let change = leak.and_then(|l| change(l, limit.hours, by_height));
    let outcome = match (leak, &change) {
        (None, _) => Outcome::Open("no rest of it was recorded".into()),
        (Some(_), None) => Outcome::Open("its height is not recorded".into()),
        (Some(leak), Some(change)) => verdict(leak, limit, by_height, change, within),
    };
    let (way, sign) = direction(change.as_ref(), &outcome);
    Judged {
        place: place.into(),
        what: format!("{way} over {} h", limit.hours),
        limit: Measured::exact(within, unit),
        measured: change.map(|c| measured(&c.scaled(sign), unit)),
        outcome,
        behind: leak.map_or_else(
            || "nothing".into(),
            |l| {
                let hours = crate::render::duration_words(l.seconds);
                format!("{} rests, {hours} in all", l.rests)
            },
        ),
    }
}

/// The word for a change, and the sign it is told with.
fn direction(change: Option<&Estimate>, outcome: &Outcome) -> (&'static str, f64) {
    let rises = change.is_some_and(|c| c.interval_95().1 < 0.0);
    if rises && *outcome == Outcome::Fail {
        ("rise", -1.0)
    } else {
        ("fall", 1.0)
    }
}

pub(super) fn change(leak: &PooledLeak, hours: f64, by_height: bool) -> Option<Estimate> {
    let per_h = if by_height {
        leak.mm_per_h?
    } else {
        leak.kpa_per_h
    };
    Some(per_h.scaled(hours))
}

fn verdict(
    leak: &PooledLeak,
    limit: &Hold,
    by_height: bool,
    change: &Estimate,
    within: f64,
) -> Outcome {
    let (low, high) = change.interval_95();
    if low > within || high < -within {
        return Outcome::Fail;
    }
    if !by_height && leak.lower_bound {
        return Outcome::Open(
            "off its stops a corner loses height before pressure, and its height is not recorded"
                .into(),
        );
    }
    if leak.seconds < LEAST_SHARE * limit.hours * 3600.0 {
        return Outcome::Open(format!(
            "it rested {} in all, less than a quarter of the hold",
            crate::render::duration_words(leak.seconds)
        ));
    }
    if low >= -within && high <= within {
        return Outcome::Pass;
    }
    Outcome::Open(
        "the interval reaches beyond the limit: a longer or calmer rest narrows it".into(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn leak(mm_per_h: f64, se: f64, hours: f64) -> PooledLeak {
        let estimate = |value: f64, se: f64| Estimate {
            value,
            se,
            degrees_of_freedom: 1e6,
        };
        PooledLeak {
            place: "rear_left".into(),
            loss_l_per_s: estimate(1e-5, 1e-6),
            between_sd_l_per_s: 0.0,
            kpa_per_h: estimate(0.1, 0.01),
            mm_per_h: Some(estimate(mm_per_h, se)),
            per_s: estimate(6e-7, 6e-8),
            equivalent_conductance: estimate(2e-6, 2e-7),
            rests: 2,
            seconds: hours * 3600.0,
            lower_bound: false,
        }
    }

    fn outcome(leak: &PooledLeak) -> Outcome {
        let limit = Hold {
            place: "rear_left".into(),
            hours: 24.0,
            within_mm: Some(12.0),
            within_kpa: None,
        };
        let change = change(leak, 24.0, true).expect("height");
        verdict(leak, &limit, true, &change, 12.0)
    }

    /// 0.5 mm/h is the limit of 12 mm in 24 h; 1.96 standard errors decide.
    #[test]
    fn the_whole_interval_decides() {
        assert_eq!(outcome(&leak(0.1, 0.2, 30.0)), Outcome::Pass);
        assert!(matches!(outcome(&leak(0.1, 0.21, 30.0)), Outcome::Open(_)));
        assert_eq!(outcome(&leak(0.9, 0.2, 30.0)), Outcome::Fail);
        assert!(matches!(outcome(&leak(0.88, 0.2, 30.0)), Outcome::Open(_)));
    }

    /// What rises within its limit is still judged as a fall, of less than nothing.
    #[test]
    fn only_a_sure_rise_that_breaks_the_limit_is_called_one() {
        let told = |mm_per_h: f64| {
            let change = change(&leak(mm_per_h, 0.05, 30.0), 24.0, true).expect("height");
            direction(Some(&change), &outcome(&leak(mm_per_h, 0.05, 30.0)))
        };
        assert_eq!(told(-1.0), ("rise", -1.0));
        assert_eq!(told(1.0), ("fall", 1.0));
        assert_eq!(told(-0.1), ("fall", 1.0));
    }

    #[test]
    fn rising_breaks_the_limit_as_falling_does() {
        assert_eq!(outcome(&leak(-0.9, 0.1, 30.0)), Outcome::Fail);
    }

    #[test]
    fn a_short_rest_proves_no_long_hold() {
        assert!(matches!(outcome(&leak(0.0, 0.01, 5.9)), Outcome::Open(_)));
        assert_eq!(outcome(&leak(0.0, 0.01, 6.0)), Outcome::Pass);
    }
}
