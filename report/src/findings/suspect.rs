//! What can be behind a finding, in words, and what tells two of them apart.

use super::place_words;
use crate::analysis::diagnose::{AirPattern, PathFault};
use crate::model::Finding;

/// One explanation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Suspect {
    /// Air gets out at a corner whatever was done before: bag, fitting, line.
    Corner(String),
    /// Air gets out at the tank.
    Tank,
    /// A fill valve that lets air into its corner.
    Passing(String),
    /// Air goes from one circuit to the other.
    Cross(String, String),
    /// Nothing leaks.
    Tight,
    /// A line or fitting that fills and dumps of a corner share.
    Line(String),
    /// A fill valve or its port.
    FillPath(String),
    /// A dump valve, its port or silencer branch.
    DumpPath(String),
    /// The way from the tank to all fill valves.
    Supply,
    /// The way from all dump valves to the outside.
    Exhaust,
    /// A compressor's intake filter.
    Filter,
    /// A compressor's pump.
    Pump,
}

impl From<&AirPattern> for Suspect {
    fn from(pattern: &AirPattern) -> Self {
        match pattern {
            AirPattern::Tight => Suspect::Tight,
            AirPattern::CornerLeak { place } => Suspect::Corner(place.clone()),
            AirPattern::TankLeak => Suspect::Tank,
            AirPattern::FillValvePassing { place } => Suspect::Passing(place.clone()),
            AirPattern::CrossLeak { from, to } => Suspect::Cross(from.clone(), to.clone()),
        }
    }
}

impl From<&PathFault> for Suspect {
    fn from(fault: &PathFault) -> Self {
        match fault {
            PathFault::LineRestricted { place } => Suspect::Line(place.clone()),
            PathFault::FillSlow { place } => Suspect::FillPath(place.clone()),
            PathFault::DumpSlow { place } => Suspect::DumpPath(place.clone()),
            PathFault::SupplyRestricted => Suspect::Supply,
            PathFault::ExhaustRestricted => Suspect::Exhaust,
        }
    }
}

impl Suspect {
    /// As it stands in a ranking.
    pub(crate) fn name(&self) -> String {
        match self {
            Suspect::Corner(p) => format!("leak to outside at {}", place_words(p)),
            Suspect::Tank => "leak to outside at the tank".into(),
            Suspect::Passing(p) => format!("fill valve passing at {}", place_words(p)),
            Suspect::Cross(a, b) => {
                format!("air passing from {} to {}", place_words(a), place_words(b))
            }
            Suspect::Tight => "nothing leaks".into(),
            Suspect::Line(p) => format!("line or fitting of {}", place_words(p)),
            Suspect::FillPath(p) => format!("fill valve or port of {}", place_words(p)),
            Suspect::DumpPath(p) => format!("dump valve or silencer of {}", place_words(p)),
            Suspect::Supply => "supply from the tank".into(),
            Suspect::Exhaust => "common exhaust".into(),
            Suspect::Filter => "intake filter".into(),
            Suspect::Pump => "wear of the pump".into(),
        }
    }
}

/// Explanations told with a finding; the rest are far behind.
const MOST_SUSPECTS: usize = 4;

/// Put a ranking into a finding: most likely first, and what separates the
/// first two of exactly this order.
pub(crate) fn ranked(mut finding: Finding, mut suspects: Vec<(Suspect, f64)>) -> Finding {
    suspects.sort_by(|a, b| b.1.total_cmp(&a.1));
    suspects.truncate(MOST_SUSPECTS);
    for (suspect, share) in &suspects {
        finding = finding.with_candidate(&suspect.name(), *share);
    }
    match suspects.as_slice() {
        [first, second, ..] => finding.with_separation(&separation(&first.0, &second.0)),
        _ => finding,
    }
}

/// What would tell two explanations apart, whichever is the likelier.
pub(crate) fn separation(first: &Suspect, second: &Suspect) -> String {
    one_way(first, second)
        .or_else(|| one_way(second, first))
        .unwrap_or_else(|| {
            format!(
                "take away what the first needs ({}) for one night or one round of moves; if nothing \
                 changes, it is the second ({}).",
                first.name(),
                second.name()
            )
        })
}

fn one_way(a: &Suspect, b: &Suspect) -> Option<String> {
    use Suspect::{
        Corner, Cross, DumpPath, Exhaust, FillPath, Filter, Line, Passing, Pump, Supply, Tank,
        Tight,
    };
    let w = |p: &String| place_words(p);
    Some(match (a, b) {
        (Corner(p), Cross(_, to)) => format!(
            "park it overnight with the line of {} isolated at the manifold. If {} still sinks, the air \
             gets out there; if it now stays and {} no longer rises, they were joined.",
            w(to), w(p), w(to)
        ),
        (Corner(p), Tight) => format!(
            "a longer rest: two nights without moving {}. A leak goes on at the same rate; noise and \
             weather do not.",
            w(p)
        ),
        (Corner(p), Tank) => format!(
            "close the tank's valve overnight. The tank then shows its own leak, {} its own.",
            w(p)
        ),
        (Corner(p), Passing(q)) if p == q => format!(
            "soap at {}: air that gets out there shows; air that comes in through the fill valve does not, \
             and stops when the tank is empty.",
            w(p)
        ),
        (Corner(p), Corner(q) | Passing(q)) if p != q => format!(
            "isolate the line of {} at the manifold overnight and see whether {} goes on as before.",
            w(p), w(q)
        ),
        (Tank, Passing(p)) => format!(
            "empty the tank overnight. If {} stops rising, its fill valve passes; if it never rose, the tank \
             loses to the outside.",
            w(p)
        ),
        (Tank, Tight) => "a longer rest of the tank without the compressor: a leak goes on at the same rate.".into(),
        (Tank, Cross(..)) => "close the tank's valve overnight: the corners then show what passes between them alone.".into(),
        (Passing(p), Passing(q)) => format!(
            "raise the lower of {} and {} to the same pressure as the tank: only the other can still gain.",
            w(p), w(q)
        ),
        (Passing(to), Cross(from, _)) => format!(
            "empty the tank overnight. If {} still rises, it is fed by {}; if it stops, by its fill valve.",
            w(to), w(from)
        ),
        (Passing(p), Tight) => format!(
            "a night with the tank full and one with it empty: a valve that passes lifts {} only in the first.",
            w(p)
        ),
        (Cross(from, to), Cross(..) | Tight) => format!(
            "isolate the line of {} at the manifold overnight: {} stops sinking only if the air went there.",
            w(to), w(from)
        ),
        (Line(p), FillPath(_) | DumpPath(_)) => format!(
            "time one fill and one dump of {} with its line swapped at the manifold. What stays slow at {} is \
             the line; what moves with the port is the valve.",
            w(p), w(p)
        ),
        (FillPath(p), DumpPath(_)) => format!(
            "time one fill and one dump of {} from the same two heights: the slow one names its valve.",
            w(p)
        ),
        (Supply, FillPath(p) | Line(p)) => format!(
            "fill {} and another corner one after the other from a full tank: both slow is the supply.",
            w(p)
        ),
        (Exhaust, DumpPath(p) | Line(p)) => format!(
            "dump {} and another corner one after the other with the common silencer off: fast again is the \
             exhaust.",
            w(p)
        ),
        (Supply, Exhaust) => "time one fill and one dump of the same corner: the slow one names its side.".into(),
        (Supply, DumpPath(p)) => format!("time one dump of {}: slow is its own dump side, not the supply.", w(p)),
        (Exhaust, FillPath(p)) => format!("time one fill of {}: slow is its own fill side, not the exhaust.", w(p)),
        (Filter, Pump) => "one timed pump-up with the intake filter taken off: fast again is the filter.".into(),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{FindingKind, Severity, Text};
    use crate::render::text_in;
    use crate::render::units::DisplayUnits;

    fn printed(text: &Text) -> String {
        text_in(text, DisplayUnits::default())
    }

    fn finding(suspects: Vec<(Suspect, f64)>) -> Finding {
        let empty = Finding::new(FindingKind::CornerLeak, "x", Severity::Watch, 0.9, "x");
        ranked(empty, suspects)
    }

    /// The sentence speaks of the two that lead, whatever order they came in.
    #[test]
    fn the_separation_follows_the_ranking() {
        let corner = || Suspect::Corner("rear_left".into());
        let cross = || Suspect::Cross("rear_left".into(), "rear_right".into());
        let f = finding(vec![
            (cross(), 0.02),
            (Suspect::Tight, 0.3),
            (corner(), 0.68),
        ]);
        assert_eq!(f.candidates[1].name, Text::from("nothing leaks"));
        let said = printed(&f.would_separate.expect("two of them"));
        assert!(said.contains("a longer rest"), "{said}");
        let f = finding(vec![
            (cross(), 0.3),
            (corner(), 0.65),
            (Suspect::Tight, 0.05),
        ]);
        let said = printed(&f.would_separate.expect("two of them"));
        assert!(said.contains("no longer rises"), "{said}");
    }

    #[test]
    fn every_pair_that_can_lead_has_one_sentence() {
        let p = || "front_left".to_string();
        let q = || "front_right".to_string();
        let all = [
            Suspect::Corner(p()),
            Suspect::Tank,
            Suspect::Passing(p()),
            Suspect::Cross(p(), q()),
            Suspect::Tight,
        ];
        let paths = [
            Suspect::Line(p()),
            Suspect::FillPath(p()),
            Suspect::DumpPath(p()),
            Suspect::Supply,
            Suspect::Exhaust,
        ];
        for group in [&all[..], &paths[..]] {
            for (i, a) in group.iter().enumerate() {
                for b in group.iter().skip(i + 1) {
                    assert!(
                        one_way(a, b).or_else(|| one_way(b, a)).is_some(),
                        "{a:?} {b:?}"
                    );
                    let said = |a: &Suspect, b: &Suspect| one_way(a, b).or_else(|| one_way(b, a));
                    assert_eq!(said(a, b), said(b, a), "{a:?} {b:?}");
                }
            }
        }
    }
}
