//! Findings about leaks that show under a condition only.

use super::{AIR_CAUTION, about, loss, measured, place_words, rounded};
use crate::analysis::conditions::{Condition, Conditional};
use crate::analysis::leak::CM3_MIN_PER_L_S;
use crate::model::{Cell, Finding, FindingKind, Measured, Severity, Unit};
use crate::plain_units::PlainUnits;

/// One finding per volume that leaks under a condition.
#[must_use]
pub fn condition_findings(found: &[Conditional], units: PlainUnits) -> Vec<Finding> {
    found.iter().map(|c| finding(c, units)).collect()
}

fn finding(c: &Conditional, units: PlainUnits) -> Finding {
    let words = |condition: &Condition| words(condition, units);
    let what = if c.place == "tank" {
        "The tank".to_string()
    } else {
        format!("The {} corner", place_words(&c.place))
    };
    let kind = if c.condition == Condition::AfterDump && c.place != "tank" {
        FindingKind::DumpValveNotReseating
    } else {
        FindingKind::IntermittentLeak
    };
    let open = c.open_l_per_s.scaled(CM3_MIN_PER_L_S);
    let sentence = format!(
        "{what} loses {} cm³/min ANR {}, and {} otherwise{}.",
        rounded(open.value),
        words(&c.condition),
        if c.shut_l_per_s.interval_95().0 > 0.0 {
            "much less"
        } else {
            "holds"
        },
        if kind == FindingKind::DumpValveNotReseating {
            ": its dump valve does not always close"
        } else {
            ""
        }
    );
    let (with, without) = c.rests;
    let mut f = Finding::new(kind, &c.place, Severity::Act, 1.0 - c.p, &sentence)
        .with_evidence(
            "loss under the condition",
            measured(&open, Unit::AnrCm3PerMin),
        )
        .with_evidence(
            "loss otherwise",
            loss(&c.shut_l_per_s.scaled(CM3_MIN_PER_L_S), Unit::AnrCm3PerMin),
        )
        .with_evidence("rests under the condition", Cell::count(with as u64))
        .with_evidence("rests otherwise", Cell::count(without as u64))
        .with_evidence(
            "variance between rests it explains",
            Measured::exact((100.0 * c.explained).round(), Unit::Percent),
        );
    if let Some(share) = c.leaking_share {
        f = f.with_evidence(
            "rests in the leaking state of two",
            Measured::exact((100.0 * share).round(), Unit::Percent),
        );
    }
    if let Some((rival, explained)) = &c.rival {
        let share = share_of_first(c.explained, *explained, with + without);
        f = f
            .with_candidate(&format!("leaks {}", words(&c.condition)), share)
            .with_candidate(&format!("leaks {}", words(rival)), 1.0 - share)
            .with_separation(&format!(
                "Rests {} but not {}, and the other way round: the two went together in this log.",
                words(&c.condition),
                words(rival)
            ));
    }
    f.with_next_check(&check(c), Some(AIR_CAUTION))
}

/// Share of the likelihood of the first of two conditions that explain these
/// shares of the variance between `rests` rests.
///
/// `L₁/L₂ = ((1 − R₂²)/(1 − R₁²))^(n/2)`, normal errors, both with the same
/// number of parameters. **Source**: likelihood of a linear model with its
/// variance fitted (from memory).
fn share_of_first(first: f64, second: f64, rests: usize) -> f64 {
    let left = |explained: f64| (1.0 - explained).max(1e-6);
    // The odds against it: infinite ones give nothing, not nonsense.
    let against = (left(first) / left(second)).powf(rests as f64 / 2.0);
    1.0 / (1.0 + against)
}

fn words(condition: &Condition, units: PlainUnits) -> String {
    let near = |value: f64, unit| about(value, unit, units);
    match condition {
        Condition::Colder(c) => format!("in the cold, below about {}", near(*c, Unit::Celsius)),
        Condition::Warmer(c) => format!("when warm, above about {}", near(*c, Unit::Celsius)),
        Condition::AfterDump => "after a dump".into(),
        Condition::AfterFill => "after a fill".into(),
        Condition::PressureAbove(kpa) => format!("above about {}", near(*kpa, Unit::KpaAbs)),
        Condition::HeightAbove(mm) => format!("above a height of about {}", near(*mm, Unit::Mm)),
        Condition::HeightBelow(mm) => format!("below a height of about {}", near(*mm, Unit::Mm)),
    }
}

fn check(c: &Conditional) -> String {
    let words = place_words(&c.place);
    match c.condition {
        Condition::AfterDump => format!(
            "Dump and fill the {words} corner in turn and watch it for an hour each time: a loss after \
             dumps that a short fill ends is the dump valve's seat. Clean or change that valve."
        ),
        Condition::Colder(_) => format!(
            "Soap the fittings and seals of {words} on a cold morning before the car is moved: a seal \
             that has hardened is tight again when warm."
        ),
        Condition::Warmer(_) => {
            format!("Soap the fittings and seals of {words} while they are warm.")
        }
        Condition::HeightAbove(_) | Condition::HeightBelow(_) => format!(
            "Look at the bag of {words} at that height: a crease or a chafed spot opens only there."
        ),
        Condition::AfterFill | Condition::PressureAbove(_) => {
            format!("Soap the fittings and seals of {words} right after a fill, at full pressure.")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: (0.5 / 0.25)^(4/2) = 4 to 1.
    #[test]
    fn shares_of_two_conditions_add_to_one() {
        assert!((share_of_first(0.75, 0.5, 4) - 0.8).abs() < 1e-12);
        assert!((share_of_first(0.5, 0.75, 4) - 0.2).abs() < 1e-12);
        assert!((share_of_first(0.6, 0.6, 30) - 0.5).abs() < 1e-12);
        assert!(share_of_first(1.0, 0.5, 4000) <= 1.0);
    }
}
