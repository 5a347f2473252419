//! What can be behind a finding, in words, and what tells two of them apart.

use super::place_words;
use crate::conclusion::Conclusion;
use crate::model::Finding;

/// Returns the words for an explanation in a ranking.
fn name(explanation: &Conclusion) -> String {
    match explanation {
        Conclusion::CornerLeak { place: p } => format!("leak to outside at {}", place_words(p)),
        Conclusion::TankLeak => "leak to outside at the tank".into(),
        Conclusion::FillValvePassing { place: p } => {
            format!("fill valve passing at {}", place_words(p))
        }
        Conclusion::CrossLeak { from: a, to: b } => {
            format!("air passing from {} to {}", place_words(a), place_words(b))
        }
        Conclusion::Tight => "nothing leaks".into(),
        Conclusion::LineRestricted { place: p } => format!("line or fitting of {}", place_words(p)),
        Conclusion::FillSlow { place: p } => format!("fill valve or port of {}", place_words(p)),
        Conclusion::DumpSlow { place: p } => {
            format!("dump valve or silencer of {}", place_words(p))
        }
        Conclusion::SupplyRestricted => "supply from the tank".into(),
        Conclusion::ExhaustRestricted => "common exhaust".into(),
        Conclusion::IntakeFilterBlocked { .. } => "intake filter".into(),
        Conclusion::PumpWorn { .. } => "wear of the pump".into(),
        // The others are no explanations of something else.
        other => other.kind().name().into(),
    }
}

/// Explanations told with a finding; the rest are far behind.
const MOST_EXPLANATIONS: usize = 4;

/// Put a ranking into a finding: most likely first, and what separates the
/// first two of exactly this order.
pub(crate) fn ranked(mut finding: Finding, mut explanations: Vec<(Conclusion, f64)>) -> Finding {
    explanations.sort_by(|a, b| b.1.total_cmp(&a.1));
    explanations.truncate(MOST_EXPLANATIONS);
    for (explanation, share) in &explanations {
        finding = finding.with_candidate(&name(explanation), *share);
    }
    match explanations.as_slice() {
        [first, second, ..] => finding.with_separation(&separation(&first.0, &second.0)),
        _ => finding,
    }
}

/// What would tell two explanations apart, whichever is the likelier.
pub(crate) fn separation(first: &Conclusion, second: &Conclusion) -> String {
    one_way(first, second)
        .or_else(|| one_way(second, first))
        .unwrap_or_else(|| {
            format!(
                "take away what the first needs ({}) for one night or one round of moves; if nothing \
                 changes, it is the second ({}).",
                name(first),
                name(second)
            )
        })
}

fn one_way(a: &Conclusion, b: &Conclusion) -> Option<String> {
    use Conclusion::{
        CornerLeak, CrossLeak, DumpSlow, ExhaustRestricted, FillSlow, FillValvePassing,
        IntakeFilterBlocked, LineRestricted, PumpWorn, SupplyRestricted, TankLeak, Tight,
    };
    let w = |p: &String| place_words(p);
    Some(match (a, b) {
        (CornerLeak { place: p }, CrossLeak { to, .. }) => format!(
            "park it overnight with the line of {} isolated at the manifold. If {} still sinks, the air \
             gets out there; if it now stays and {} no longer rises, they were joined.",
            w(to), w(p), w(to)
        ),
        (CornerLeak { place: p }, Tight) => format!(
            "a longer rest: two nights without moving {}. A leak goes on at the same rate; noise and \
             weather do not.",
            w(p)
        ),
        (CornerLeak { place: p }, TankLeak) => format!(
            "close the tank's valve overnight. The tank then shows its own leak, {} its own.",
            w(p)
        ),
        (CornerLeak { place: p }, FillValvePassing { place: q }) if p == q => format!(
            "soap at {}: air that gets out there shows; air that comes in through the fill valve does not, \
             and stops when the tank is empty.",
            w(p)
        ),
        (CornerLeak { place: p }, CornerLeak { place: q } | FillValvePassing { place: q }) if p != q => format!(
            "isolate the line of {} at the manifold overnight and see whether {} goes on as before.",
            w(p), w(q)
        ),
        (TankLeak, FillValvePassing { place: p }) => format!(
            "empty the tank overnight. If {} stops rising, its fill valve passes; if it never rose, the tank \
             loses to the outside.",
            w(p)
        ),
        (TankLeak, Tight) => "a longer rest of the tank without the compressor: a leak goes on at the same rate.".into(),
        (TankLeak, CrossLeak { .. }) => "close the tank's valve overnight: the corners then show what passes between them alone.".into(),
        (FillValvePassing { place: p }, FillValvePassing { place: q }) => format!(
            "raise the lower of {} and {} to the same pressure as the tank: only the other can still gain.",
            w(p), w(q)
        ),
        (FillValvePassing { place: to }, CrossLeak { from, .. }) => format!(
            "empty the tank overnight. If {} still rises, it is fed by {}; if it stops, by its fill valve.",
            w(to), w(from)
        ),
        (FillValvePassing { place: p }, Tight) => format!(
            "a night with the tank full and one with it empty: a valve that passes lifts {} only in the first.",
            w(p)
        ),
        (CrossLeak { from, to }, CrossLeak { .. } | Tight) => format!(
            "isolate the line of {} at the manifold overnight: {} stops sinking only if the air went there.",
            w(to), w(from)
        ),
        (LineRestricted { place: p }, FillSlow { .. } | DumpSlow { .. }) => format!(
            "time one fill and one dump of {} with its line swapped at the manifold. What stays slow at {} is \
             the line; what moves with the port is the valve.",
            w(p), w(p)
        ),
        (FillSlow { place: p }, DumpSlow { .. }) => format!(
            "time one fill and one dump of {} from the same two heights: the slow one names its valve.",
            w(p)
        ),
        (SupplyRestricted, FillSlow { place: p } | LineRestricted { place: p }) => format!(
            "fill {} and another corner one after the other from a full tank: both slow is the supply.",
            w(p)
        ),
        (ExhaustRestricted, DumpSlow { place: p } | LineRestricted { place: p }) => format!(
            "dump {} and another corner one after the other with the common silencer off: fast again is the \
             exhaust.",
            w(p)
        ),
        (SupplyRestricted, ExhaustRestricted) => "time one fill and one dump of the same corner: the slow one names its side.".into(),
        (SupplyRestricted, DumpSlow { place: p }) => format!("time one dump of {}: slow is its own dump side, not the supply.", w(p)),
        (ExhaustRestricted, FillSlow { place: p }) => format!("time one fill of {}: slow is its own fill side, not the exhaust.", w(p)),
        (IntakeFilterBlocked { .. }, PumpWorn { .. }) => "one timed pump-up with the intake filter taken off: fast again is the filter.".into(),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Severity, Text};
    use crate::render::text_in;
    use crate::render::units::DisplayUnits;

    fn printed(text: &Text) -> String {
        text_in(text, DisplayUnits::default())
    }

    fn finding(suspects: Vec<(Conclusion, f64)>) -> Finding {
        let empty = Finding::new(&Conclusion::Tight, Severity::Watch, 0.9, "x");
        ranked(empty, suspects)
    }

    /// The sentence speaks of the two that lead, whatever order they came in.
    #[test]
    fn the_separation_follows_the_ranking() {
        let corner = || Conclusion::CornerLeak {
            place: "rear_left".into(),
        };
        let cross = || Conclusion::CrossLeak {
            from: "rear_left".into(),
            to: "rear_right".into(),
        };
        let f = finding(vec![
            (cross(), 0.02),
            (Conclusion::Tight, 0.3),
            (corner(), 0.68),
        ]);
        assert_eq!(f.candidates[1].name, Text::from("nothing leaks"));
        let said = printed(&f.would_separate.expect("two of them"));
        assert!(said.contains("a longer rest"), "{said}");
        let f = finding(vec![
            (cross(), 0.3),
            (corner(), 0.65),
            (Conclusion::Tight, 0.05),
        ]);
        let said = printed(&f.would_separate.expect("two of them"));
        assert!(said.contains("no longer rises"), "{said}");
    }

    #[test]
    fn every_pair_that_can_lead_has_one_sentence() {
        let p = || "front_left".to_string();
        let q = || "front_right".to_string();
        let all = [
            Conclusion::CornerLeak { place: p() },
            Conclusion::TankLeak,
            Conclusion::FillValvePassing { place: p() },
            Conclusion::CrossLeak { from: p(), to: q() },
            Conclusion::Tight,
        ];
        let paths = [
            Conclusion::LineRestricted { place: p() },
            Conclusion::FillSlow { place: p() },
            Conclusion::DumpSlow { place: p() },
            Conclusion::SupplyRestricted,
            Conclusion::ExhaustRestricted,
        ];
        for group in [&all[..], &paths[..]] {
            for (i, a) in group.iter().enumerate() {
                for b in group.iter().skip(i + 1) {
                    assert!(
                        one_way(a, b).or_else(|| one_way(b, a)).is_some(),
                        "{a:?} {b:?}"
                    );
                    let said =
                        |a: &Conclusion, b: &Conclusion| one_way(a, b).or_else(|| one_way(b, a));
                    assert_eq!(said(a, b), said(b, a), "{a:?} {b:?}");
                }
            }
        }
    }
}
