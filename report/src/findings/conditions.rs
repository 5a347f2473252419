//! Findings about leaks that show under a condition only.

use super::overnight::overnight;
use super::{AIR_CAUTION, about, loss, measured, place_words};
use crate::analysis::diagnose::{Condition, Conditional, Dated};
use crate::analysis::leak::{CM3_MIN_PER_L_S, Forecast, PooledLeak};
use crate::conclusion::Conclusion;
use crate::model::{Cell, Finding, Piece, Severity, Text, Unit, WallTime};
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
    let conclusion = conclusion(c);
    let severity = if matches!(conclusion, Conclusion::LeakEnded { .. }) {
        Severity::Watch
    } else {
        severity
    };
    let open = c.open_l_per_s.scaled(CM3_MIN_PER_L_S);
    let [while_it_leaks, otherwise] = labels(c);
    let f = Finding::new(&conclusion, severity, c.probability, sentence(c, leaks))
        .with_evidence(while_it_leaks, measured(&open, Unit::AnrCm3PerMin))
        .with_evidence(
            otherwise,
            loss(&c.shut_l_per_s.scaled(CM3_MIN_PER_L_S), Unit::AnrCm3PerMin),
        );
    with_rivals(with_rests(f, c), c).with_next_check(&check(c), Some(AIR_CAUTION))
}

fn conclusion(c: &Conditional) -> Conclusion {
    let place = c.place.clone();
    match c.condition {
        Some(Condition::AfterDump) if place != "tank" => {
            Conclusion::DumpValveNotReseating { place }
        }
        Some(Condition::Began(_)) if place == "tank" => Conclusion::TankLeak,
        Some(Condition::Began(_)) => Conclusion::CornerLeak { place },
        Some(Condition::Ended(_)) => Conclusion::LeakEnded { place },
        _ => Conclusion::IntermittentLeak { place },
    }
}

fn sentence(c: &Conditional, leaks: &[PooledLeak]) -> Text {
    let what = if c.place == "tank" {
        "The tank".to_string()
    } else {
        format!("The {} corner", place_words(&c.place))
    };
    let pace = overnight(c.open_l_per_s.value, &c.place, leaks);
    match &c.condition {
        Some(Condition::Began(date)) => text![
            what,
            " loses air since ",
            day(date),
            ", about ",
            pace,
            ", and ",
            held(c, ["lost less", "lost much less", "held"]),
            " before."
        ],
        Some(Condition::Ended(date)) => text![
            what,
            " lost air until ",
            day(date),
            ", about ",
            pace,
            ", and ",
            held(c, ["loses less", "loses much less", "holds"]),
            " since."
        ],
        _ => text![
            what,
            " loses air ",
            when(c),
            ", about ",
            pace,
            ", and ",
            held(c, ["loses less", "much less", "holds"]),
            " otherwise",
            if matches!(conclusion(c), Conclusion::DumpValveNotReseating { .. }) {
                ": its dump valve does not always close"
            } else {
                ""
            },
            "."
        ],
    }
}

/// What is said of the rest of the time: less, much less, or that it holds.
fn held<'a>(c: &Conditional, [less, much_less, holds]: [&'a str; 3]) -> &'a str {
    let (least, most) = c.shut_l_per_s.interval_95();
    let open = c.open_l_per_s.value;
    if most > LESS_SHARE * open {
        less
    } else if least > 0.0 {
        much_less
    } else {
        holds
    }
}

/// What may be left beside the leak, as a share of it, and still be called much less.
const LESS_SHARE: f64 = 0.5;

fn labels(c: &Conditional) -> [&'static str; 2] {
    match c.condition {
        Some(Condition::Began(_)) => ["loss since then", "loss before"],
        Some(Condition::Ended(_)) => ["loss until then", "loss since"],
        _ => ["loss when it leaks", "loss otherwise"],
    }
}

/// `12 March 2026`, `about 12 March 2026 (between 10 March 2026 and 14 March 2026)`.
fn day(date: &Dated) -> Text {
    let Some([first, likeliest, last]) = &date.wall else {
        return format!(
            "about day {:.0} of the log",
            date.days_in.max(0.0).floor() + 1.0
        )
        .into();
    };
    let of = |t: &WallTime| Text::from(Piece::Day(t.clone()));
    if first.at.date() == last.at.date() {
        return of(likeliest);
    }
    text![
        "about ",
        of(likeliest),
        " (between ",
        of(first),
        " and ",
        of(last),
        ")"
    ]
}

/// Least share of another explanation that is worth telling.
const WORTH_TELLING: f64 = 0.01;

fn with_rivals(f: Finding, c: &Conditional) -> Finding {
    let told = c.rivals.iter().filter(|r| r.1 >= WORTH_TELLING);
    let told: Vec<Text> = told
        .map(|(condition, share)| {
            let way = condition.as_ref().map_or("at any time".into(), words);
            text![way, format!(" {:.0}\u{a0}%", 100.0 * share)]
        })
        .collect();
    if told.is_empty() {
        return f;
    }
    f.with_evidence(
        "the same loss otherwise explained",
        Cell::Text {
            text: Text::joined(told, "; "),
        },
    )
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
        Condition::Began(date) => text!["since ", day(date)],
        Condition::Ended(date) => text!["until ", day(date)],
    }
}

fn check(c: &Conditional) -> String {
    let words = place_words(&c.place);
    let Some(condition) = &c.condition else {
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
        Condition::Began(_) => format!(
            "Ask what was done to the car or happened on the road about that day. Then park it \
             raised and soap what was touched at {words} first: bag, fitting, both ends of its line."
        ),
        Condition::Ended(_) => format!(
            "If something was repaired at {words}, say so in the log (`seepd note`) and compare what \
             follows: `seep leaks --last note --against before`. If nothing was, watch it: a leak \
             that ends by itself comes back."
        ),
    }
}
