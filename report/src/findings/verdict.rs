//! The first sentence of a report.

use super::overnight::overnight;
use super::place_words;
use crate::analysis::at_rest::{AtRest, Missing, VolumeVerdict};
use crate::analysis::leak::PooledLeak;
use crate::model::{Finding, Severity, Text, Verdict};
use crate::text;

/// The most urgent finding, or what was not seen and how small it could be.
#[must_use]
pub fn verdict(findings: &[Finding], at_rest: &AtRest, leaks: &[PooledLeak]) -> Verdict {
    let fine = "No fault seen: it holds its air, and valves and compressor work as they did.";
    verdict_or(findings, (at_rest, leaks), fine)
}

/// The same of findings about lost air alone: nothing is said of valves and
/// compressor.
#[must_use]
pub fn air_verdict(findings: &[Finding], at_rest: &AtRest, leaks: &[PooledLeak]) -> Verdict {
    let fine = "No leak seen: it holds its air.";
    verdict_or(findings, (at_rest, leaks), fine)
}

fn verdict_or(
    findings: &[Finding],
    (at_rest, leaks): (&AtRest, &[PooledLeak]),
    fine: &str,
) -> Verdict {
    let worst = findings
        .iter()
        .filter(|f| f.severity > Severity::Unknown)
        .max_by(|a, b| {
            let rank = |f: &Finding| (f.severity, f.certainty.percent.unwrap_or(0.0));
            let (ra, rb) = (rank(a), rank(b));
            ra.0.cmp(&rb.0).then(ra.1.total_cmp(&rb.1))
        });
    if let Some(worst) = worst {
        let others = findings
            .iter()
            .filter(|f| f.severity > Severity::Unknown)
            .count()
            - 1;
        let more = match others {
            0 => String::new(),
            1 => " One more finding follows.".into(),
            n => format!(" {n} more findings follow."),
        };
        return Verdict {
            sentence: text![&worst.sentence, more],
            certainty: worst.certainty,
            severity: worst.severity,
        };
    }
    if at_rest.volumes.is_empty() {
        return Verdict::unknown(
            "Nothing stands out, but the car did not rest long enough to rule a leak out: park it \
             for a night and run this again.",
        );
    }
    if let Some(sentence) = not_known(at_rest, leaks) {
        return Verdict::unknown(sentence);
    }
    let of_corners = at_rest.volumes.iter().filter(|v| v.place != "tank");
    let bound = of_corners
        .max_by(|a, b| a.upper_l_per_s.total_cmp(&b.upper_l_per_s))
        .map_or(Text::default(), |v| {
            text![
                " Any corner leak is below ",
                overnight(v.upper_l_per_s, &v.place, leaks),
                format!(" ({} is known least).", place_words(&v.place))
            ]
        });
    Verdict::new(Severity::Fine, 0.95, text![fine, bound])
}

/// What keeps the car from being called fine, and which reading would settle it.
fn not_known(at_rest: &AtRest, leaks: &[PooledLeak]) -> Option<Text> {
    let places = |wanted: VolumeVerdict| -> Option<String> {
        let found = at_rest.volumes.iter();
        let found = found.filter(|v| v.verdict == wanted && !v.by_hand);
        let found: Vec<String> = found.map(|v| place_words(&v.place)).collect();
        (!found.is_empty()).then(|| found.join(", "))
    };
    let mut said: Vec<Text> = Vec::new();
    if let Some(blind) = places(VolumeVerdict::LowerBound(Missing::Height)) {
        said.push(
            format!(
                "a leak off its stops cannot be seen at {blind}, no height is recorded: measure \
             {blind} at night and in the morning, twice{}",
                how_to_note(at_rest)
            )
            .into(),
        );
    }
    if let Some(blind) = places(VolumeVerdict::LowerBound(Missing::VolumeByHeight)) {
        said.push(format!(
            "a leak off its stops cannot be seen at {blind} without a volume by height: write the \
             effective area or a table of volumes into the rig, and measure {blind} at night and in \
             the morning, twice"
        ).into());
    }
    if let Some(blind) = places(VolumeVerdict::LowerBound(Missing::Volume)) {
        said.push(
            format!(
                "a leak off its stops cannot be seen at {blind}, the rig gives no volume: write it \
             into the rig, by height where a height is recorded"
            )
            .into(),
        );
    }
    said.extend(measured_but_open(at_rest, leaks));
    if let Some(open) = places(VolumeVerdict::NotEnoughEvidence) {
        said.push(match at_rest.unread_nights {
            (unread @ 1.., all) => format!(
                "there is not enough evidence for {open}, and the recorder had no power at night \
                 ({unread} of {all} nights tell nothing): feed it from permanent power for two nights"
            ).into(),
            _ => format!(
                "there is not enough evidence to rule out a loss that matters at {open}: leave the \
                 car two nights without moving it, recording on"
            ).into(),
        });
    }
    (!said.is_empty()).then(|| {
        text![
            "No fault seen, but not all is known: ",
            Text::joined(said, "; "),
            "."
        ]
    })
}

/// The command that takes such a reading, with the first corner that needs one.
fn how_to_note(at_rest: &AtRest) -> String {
    let wanted = VolumeVerdict::LowerBound(Missing::Height);
    let first = at_rest.volumes.iter().find(|v| v.verdict == wanted);
    first.map_or(String::new(), |v| {
        format!(
            " (enter each: `seepd note --reading {}_mm=412 --at 22:15`)",
            v.place
        )
    })
}

/// Corners that were measured by hand, and may still lose too much.
fn measured_but_open(at_rest: &AtRest, leaks: &[PooledLeak]) -> Option<Text> {
    let open = at_rest
        .volumes
        .iter()
        .filter(|v| v.by_hand && v.verdict == VolumeVerdict::NotEnoughEvidence);
    let open: Vec<Text> = open
        .map(|v| {
            text![
                place_words(&v.place),
                " (up to ",
                overnight(v.upper_l_per_s, &v.place, leaks),
                ")"
            ]
        })
        .collect();
    (!open.is_empty()).then(|| {
        text![
            "the readings by hand leave a loss that matters possible at ",
            Text::joined(open, ", "),
            ": measure two more nights, to the millimetre"
        ]
    })
}
