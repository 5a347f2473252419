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
    let what = if c.place == "tank" {
        "The tank".to_string()
    } else {
        format!("The {} corner", place_words(&c.place))
    };
    let kind = if c.condition == Some(Condition::AfterDump) && c.place != "tank" {
        FindingKind::DumpValveNotReseating
    } else {
        FindingKind::IntermittentLeak
    };
    let open = c.open_l_per_s.scaled(CM3_MIN_PER_L_S);
    let sentence = format!(
        "{what} loses {} cm³/min ANR {}, and {} otherwise{}.",
        rounded(open.value),
        when(c, units),
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
    let f = Finding::new(kind, &c.place, Severity::Act, probability(c), &sentence)
        .with_evidence("loss when it leaks", measured(&open, Unit::AnrCm3PerMin))
        .with_evidence(
            "loss otherwise",
            loss(&c.shut_l_per_s.scaled(CM3_MIN_PER_L_S), Unit::AnrCm3PerMin),
        );
    with_causes(with_rests(f, c), c, units).with_next_check(&check(c), Some(AIR_CAUTION))
}

/// A condition beyond chance is as sure as its test; else as its share.
fn probability(c: &Conditional) -> f64 {
    let share = c.causes.first().map_or(0.0, |cause| cause.1);
    (1.0 - c.p).max(share)
}

/// When it leaks, in words.
fn when(c: &Conditional, units: PlainUnits) -> String {
    match (&c.condition, c.certain) {
        (Some(condition), _) => words(condition, units),
        (None, Some((leak, hold))) => format!("in {leak} of {} rests", leak + hold),
        (None, None) => "at times".into(),
    }
}

fn with_rests(mut f: Finding, c: &Conditional) -> Finding {
    if let Some((leak, hold)) = c.certain {
        f = f
            .with_evidence("rests that leak", Cell::count(leak as u64))
            .with_evidence("rests that hold", Cell::count(hold as u64));
    }
    if let Some((with, without)) = c.rests {
        f = f
            .with_evidence("rests under the condition", Cell::count(with as u64))
            .with_evidence("rests otherwise", Cell::count(without as u64));
    }
    if let Some(explained) = c.explained {
        f = f.with_evidence(
            "variance between rests it explains",
            Measured::exact((100.0 * explained).round(), Unit::Percent),
        );
    }
    f
}

/// Explanations below this share are not worth a line.
const LEAST_SHARE: f64 = 0.02;

fn with_causes(mut f: Finding, c: &Conditional, units: PlainUnits) -> Finding {
    let told: Vec<_> = c.causes.iter().filter(|c| c.1 > LEAST_SHARE).collect();
    let [first, second, ..] = &told[..] else {
        return f;
    };
    let name = |condition: &Option<Condition>| match condition {
        Some(condition) => format!("leaks {}", words(condition, units)),
        None => "leaks at times, whatever was done before".to_string(),
    };
    for (condition, share) in &told {
        f = f.with_candidate(&name(condition), *share);
    }
    match (&first.0, &second.0) {
        (Some(a), Some(b)) => f.with_separation(&format!(
            "Rests {} but not {}, and the other way round: the two went together in this log.",
            words(a, units),
            words(b, units)
        )),
        (Some(a), None) | (None, Some(a)) => f.with_separation(&format!(
            "More rests of some hours that are not {}: too few of them could tell in this log.",
            words(a, units)
        )),
        (None, None) => f,
    }
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
    let Some(condition) = c.condition else {
        return format!(
            "Log on and write down what was done before each rest of {words}. Then dump and fill it in \
             turn and watch it for an hour each time, and soap its fittings cold and warm."
        );
    };
    match condition {
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
