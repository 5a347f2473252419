//! Findings about leaks that show under a condition only.

use super::overnight::overnight;
use super::{AIR_CAUTION, about, loss, measured, place_words};
use crate::analysis::diagnose::{Condition, Conditional};
use crate::analysis::leak::{CM3_MIN_PER_L_S, Forecast, PooledLeak};
use crate::conclusion::Conclusion;
use crate::model::{Cell, Finding, Severity, Text, Unit};
use crate::text;

/// One finding per volume that leaks under a condition.
#[must_use]
pub fn condition_findings(
    found: &[Conditional],
    leaks: &[PooledLeak],
    forecasts: &[(String, Forecast)],
) -> Vec<Finding> {
    found
        .iter()
        .map(|c| {
            let of_place = forecasts.iter().find(|f| f.0 == c.place);
            finding(c, severity(of_place.map(|f| f.1)), leaks)
        })
        .collect()
}

/// A leak that comes and goes asks for action, unless even its mean leaves days to
/// the limit of the rig.
fn severity(forecast: Option<Forecast>) -> Severity {
    match forecast {
        Some(f) if f.hours >= WATCH_FROM_H => Severity::Watch,
        _ => Severity::Act,
    }
}

/// Hours to the limit from which on it is only watched: a week.
const WATCH_FROM_H: f64 = 168.0;

fn finding(c: &Conditional, severity: Severity, leaks: &[PooledLeak]) -> Finding {
    let what = if c.place == "tank" {
        "The tank".to_string()
    } else {
        format!("The {} corner", place_words(&c.place))
    };
    let is_dump_valve = c.condition == Some(Condition::AfterDump) && c.place != "tank";
    let place = c.place.clone();
    let conclusion = if is_dump_valve {
        Conclusion::DumpValveNotReseating { place }
    } else {
        Conclusion::IntermittentLeak { place }
    };
    let open = c.open_l_per_s.scaled(CM3_MIN_PER_L_S);
    let sentence = text![
        what,
        " loses air ",
        when(c),
        ", about ",
        overnight(c.open_l_per_s.value, &c.place, leaks),
        ", and ",
        if c.shut_l_per_s.interval_95().0 > 0.0 {
            "much less"
        } else {
            "holds"
        },
        " otherwise",
        if is_dump_valve {
            ": its dump valve does not always close"
        } else {
            ""
        },
        "."
    ];
    let f = Finding::new(&conclusion, severity, c.probability, &sentence)
        .with_evidence("loss when it leaks", measured(&open, Unit::AnrCm3PerMin))
        .with_evidence(
            "loss otherwise",
            loss(&c.shut_l_per_s.scaled(CM3_MIN_PER_L_S), Unit::AnrCm3PerMin),
        );
    with_rests(f, c).with_next_check(&check(c), Some(AIR_CAUTION))
}

/// When it leaks, in words.
fn when(c: &Conditional) -> Text {
    match (&c.condition, c.certain) {
        (Some(condition), _) => words(condition),
        (None, Some((leak, hold))) => format!("in {leak} of {} rests", leak + hold).into(),
        (None, None) => "at times".into(),
    }
}

fn with_rests(mut f: Finding, c: &Conditional) -> Finding {
    if let Some((leak, hold)) = c.certain {
        f = f
            .with_evidence("rests that leak", Cell::count(leak as u64))
            .with_evidence("rests that hold", Cell::count(hold as u64));
    }
    f
}

fn words(condition: &Condition) -> Text {
    match condition {
        Condition::Colder(c) => text!["in the cold, below about ", about(*c, Unit::Celsius)],
        Condition::AfterDump => "after a dump".into(),
        Condition::HeightBelow(mm) => text!["below a height of about ", about(*mm, Unit::Mm)],
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
        Condition::HeightBelow(_) => format!(
            "Look at the bag of {words} at that height: a crease or a chafed spot opens only there."
        ),
    }
}
