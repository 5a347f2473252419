//! Findings about slow paths.

use super::explanations::ranked;
use super::{AIR_CAUTION, place_words};
use crate::analysis::diagnose::{LateValves, PathFinding};
use crate::analysis::moves::{MoveTrend, ValveSticking};
use crate::conclusion::Conclusion;
use crate::model::{Cell, Finding, Measured, Severity, Unit};

/// One finding per slow path.
#[must_use]
pub fn path_findings(found: &[PathFinding]) -> Vec<Finding> {
    found.iter().filter_map(|f| finding(f, found)).collect()
}

/// One finding per circuit whose valves got late.
#[must_use]
pub fn late_findings(found: &[LateValves]) -> Vec<Finding> {
    found.iter().map(late).collect()
}

fn late(l: &LateValves) -> Finding {
    let (first, last) = l.first_last_ms;
    let which: Vec<&str> = l.directions.iter().map(|d| d.word()).collect();
    let sentence = format!(
        "The {} valve{} of {} answer{} {:.0} ms later (95 %: {:.0} to {:.0}) than at first, and \
         the flow has not changed: solenoid, wiring or supply voltage.",
        which.join(" and "),
        if which.len() > 1 { "s" } else { "" },
        place_words(&l.place),
        if which.len() > 1 { "" } else { "s" },
        l.growth_ms.value,
        l.growth_ms.interval_95().0.max(0.0),
        l.growth_ms.interval_95().1
    );
    Finding::new(
        &Conclusion::ValveLagGrowing {
            place: l.place.clone(),
        },
        Severity::Watch,
        1.0 - l.p,
        &sentence,
    )
    .with_evidence(
        "response in the first third of the moves",
        response(first, l.raster_ms),
    )
    .with_evidence("response in the last third", response(last, l.raster_ms))
    .with_evidence("moves behind it", Cell::count(l.moves as u64))
    .with_next_check(
        "Measure the volts at the coil while it is driven; then its plug and ground.",
        Some(AIR_CAUTION),
    )
}

/// A response is not told more finely than the raster of its readings, and never below 0.
fn response(ms: f64, raster_ms: f64) -> Measured {
    if ms < raster_ms {
        Measured::below(raster_ms / 1000.0, Unit::Seconds)
    } else {
        Measured::plus_minus(ms.round() / 1000.0, raster_ms / 2000.0, Unit::Seconds)
    }
}

/// Stuck openings of one valve that are called a fault.
const STUCK_TWICE: usize = 2;

/// Valves that let nothing pass at first, more than once.
#[must_use]
pub fn sticking_findings(valves: &[ValveSticking]) -> Vec<Finding> {
    let more = valves.iter().filter(|v| v.sum.stuck >= STUCK_TWICE);
    more.map(sticking).collect()
}

fn sticking(v: &ValveSticking) -> Finding {
    let sentence = format!(
        "The {} valve of {} sticks: {} of {} openings let nothing pass for half a second or more, \
         and then passed air.",
        v.direction.word(),
        place_words(&v.place),
        v.sum.stuck,
        v.sum.openings
    );
    Finding::new(
        &Conclusion::ValveSticking { place: v.place.clone() },
        Severity::Watch,
        0.95,
        &sentence,
    )
    .with_evidence("openings that stuck", Cell::count(v.sum.stuck as u64))
    .with_evidence("openings that would have shown it", Cell::count(v.sum.openings as u64))
    .with_evidence(
        "longest time until air passed",
        Measured::exact((v.sum.longest_ms / 10.0).round() / 100.0, Unit::Seconds),
    )
    .with_next_check(
        "Measure the volts at the coil while it sticks: full volts point to the valve (dirt, water, \
         ice, a dry seal), low volts to wiring or supply.",
        Some(AIR_CAUTION),
    )
}

fn finding(found: &PathFinding, all: &[PathFinding]) -> Option<Finding> {
    let (what, check) = words(&found.fault, all)?;
    let how = if found.developing {
        let worst = found
            .trends
            .iter()
            .map(|t| 1.0 - t.first_last_third.1 / t.first_last_third.0)
            .fold(0.0, f64::max);
        format!("lost {:.0} % of its flow during this log", 100.0 * worst)
    } else {
        "passes much less than its partner on the same axle".to_string()
    };
    let sentence = format!("{what} {how}.");
    let mut f = Finding::new(
        &found.fault,
        if found.developing {
            Severity::Act
        } else {
            Severity::Watch
        },
        found.probability,
        &sentence,
    );
    for trend in &found.trends {
        f = evidence(f, trend);
    }
    Some(ranked(
        f.with_next_check(check, Some(AIR_CAUTION)),
        found.ranking.clone(),
    ))
}

fn evidence(f: Finding, trend: &MoveTrend) -> Finding {
    let word = format!("{} {}", place_words(&trend.place), trend.direction.word());
    let mut f = f;
    if let Some([first, last]) = reference_times(trend) {
        f = f.with_evidence(&format!("{word}, time at first"), first);
        f = f.with_evidence(&format!("{word}, time at last"), last);
    }
    if let Some((value, low, high)) = trend.drift_percent_per_day {
        f = f.with_evidence(
            &format!("{word}, drift of flow"),
            Measured::estimate(value, low, high, Unit::PercentPerDay),
        );
    }
    f
}

/// Time of the reference move in the first and in the last third; at most, where the path
/// passes at least its conductance.
pub fn reference_times(trend: &MoveTrend) -> Option<[Measured; 2]> {
    let (first, last) = trend.reference_time_s?;
    Some([first, last].map(|t| {
        if trend.at_least {
            Measured::below(t.high, Unit::Seconds)
        } else {
            Measured::estimate(t.seconds, t.low, t.high, Unit::Seconds)
        }
    }))
}

/// Returns whether both ways of a circuit are slow, each with a finding of its own: where the
/// pressure is read at the manifold, the line they share is no explanation.
fn both_ways(place: &str, all: &[PathFinding]) -> bool {
    let has = |fault: Conclusion| all.iter().any(|f| f.fault == fault);
    let place = place.to_string();
    has(Conclusion::FillSlow {
        place: place.clone(),
    }) && has(Conclusion::DumpSlow { place })
}

/// What is slow, and the next check; `None` of what is no slow path.
fn words(fault: &Conclusion, all: &[PathFinding]) -> Option<(String, &'static str)> {
    let corner = |p: &str| place_words(p);
    let other_way = |place: &str, other: &str| {
        if both_ways(place, all) {
            format!("as {other} is, each by itself")
        } else {
            format!("while {other} is not")
        }
    };
    Some(match fault {
        Conclusion::LineRestricted { place } => (
            format!(
                "The line to {} is restricted: filling and dumping are both slow, so the valves are \
                 not the cause; the path they share",
                corner(place)
            ),
            "Follow the line from manifold to bag: kinks, a crushed stretch, a fitting not pushed home, \
             ice or debris. Compare fill times with the line swapped at the manifold.",
        ),
        Conclusion::FillSlow { place } => (
            format!(
                "Filling {} is slow {}: its fill valve or port",
                corner(place),
                other_way(place, "dumping")
            ),
            "Swap the fill coil with a neighbour's; then look at that fill port for debris.",
        ),
        Conclusion::DumpSlow { place } => (
            format!(
                "Dumping {} is slow {}: its dump valve or silencer branch",
                corner(place),
                other_way(place, "filling")
            ),
            "Take off the silencer and time a dump; then look at that dump port for debris.",
        ),
        Conclusion::SupplyRestricted => (
            "Every corner fills slowly: the supply from the tank".into(),
            "Look at the tank outlet, its filter and the supply line to the manifold.",
        ),
        Conclusion::ExhaustRestricted => (
            "Every corner dumps slowly: the common exhaust".into(),
            "Take off the common silencer and time a dump.",
        ),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::text_in;
    use crate::render::units::DisplayUnits;

    fn found(fault: Conclusion) -> PathFinding {
        PathFinding {
            fault,
            trends: Vec::new(),
            probability: 0.99,
            ranking: Vec::new(),
            developing: true,
        }
    }

    #[test]
    fn two_slow_ways_of_a_corner_do_not_deny_each_other() {
        let place = || "front_left".to_string();
        let fill = found(Conclusion::FillSlow { place: place() });
        let dump = found(Conclusion::DumpSlow { place: place() });
        let sentences = |all: &[PathFinding]| -> Vec<String> {
            let of = |f: &Finding| text_in(&f.sentence, DisplayUnits::default());
            path_findings(all).iter().map(of).collect()
        };
        let alone = sentences(std::slice::from_ref(&fill));
        assert!(alone[0].contains("slow while dumping is not"), "{alone:?}");
        let both = sentences(&[fill, dump]);
        assert!(both.iter().all(|s| !s.contains("is not")), "{both:?}");
        assert!(both[1].contains("as filling is"), "{both:?}");
    }
}
