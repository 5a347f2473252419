//! The picture that leads: the corner in question over its longest parked period.

use super::longest_rest::longest;
use crate::analysis::at_rest::{VolumeAtRest, VolumeVerdict};
use crate::analysis::rest_model::RestParts;
use crate::digest::Digest;
use crate::findings::place_words;
use crate::judgement::Judgement;
use crate::model::{CurvePoint, FitPlot, OtherPoints, Plot, Section, Unit};
use crate::recording::Recording;

/// Points kept of each line: more than a page has room for.
const MOST_POINTS: usize = 240;

/// The place in question: where air is lost by the first finding, else the place that
/// may lose most of what is tolerable.
pub(super) fn place_in_question(judgement: &Judgement) -> Option<&str> {
    let volumes = &judgement.at_rest.volumes;
    let faults = || volumes.iter().filter(|v| v.verdict == VolumeVerdict::Fault);
    let of_findings = judgement.findings.iter().map(|f| &f.place);
    let named = of_findings
        .filter_map(|place| faults().find(|v| v.place == *place))
        .next();
    let share = |v: &VolumeAtRest| v.upper_l_per_s / v.tolerable_l_per_s;
    let known = volumes.iter().filter(|v| share(v).is_finite());
    named
        .or_else(|| faults().next())
        .or_else(|| known.max_by(|a, b| share(a).total_cmp(&share(b))))
        .map(|v| v.place.as_str())
}

/// The section; `None` where no parked period was long enough.
pub(super) fn section(
    recording: &Recording,
    digest: &Digest,
    judgement: &Judgement,
) -> Option<Section> {
    let place = place_in_question(judgement)?;
    let parts = longest(&digest.reduced.car, &judgement.at_rest.apart, place)?;
    let words = place_words(place);
    let mut section = Section::new("longest-night", format!("{} at rest", capital(&words)));
    section.leads = true;
    section
        .plots
        .push(Plot::Fit(plot(recording, digest, judgement, place, parts)));
    Some(section)
}

fn capital(words: &str) -> String {
    crate::render::capital_words(words)
}

fn plot(
    recording: &Recording,
    digest: &Digest,
    judgement: &Judgement,
    place: &str,
    parts: &RestParts,
) -> FitPlot {
    let (unit, per_ln) = scale(parts);
    let start_s = parts.t_s.first().copied().unwrap_or(0.0);
    let at = |p: &RestParts, i: usize| p.t_s[i] - start_s;
    let kept = kept(parts.t_s.len());
    let line = |p: &RestParts, value: &dyn Fn(usize) -> f64, kept: &[usize]| -> Vec<(f64, f64)> {
        kept.iter().map(|i| (at(p, *i), value(*i))).collect()
    };
    let without =
        |i: usize| per_ln * (parts.heat[i] + parts.creep[i] + parts.settling[i] + parts.weather[i]);
    let (low, high) = relative_interval(judgement, place);
    let curve = kept.iter().map(|&i| {
        let (leak, base) = (per_ln * parts.leak[i], without(i));
        let edges = [base + low * leak, base + high * leak];
        CurvePoint {
            x: at(parts, i),
            y: base + leak,
            low: edges[0].min(edges[1]),
            high: edges[0].max(edges[1]),
        }
    });
    let words = place_words(place);
    let when = super::head::wall(recording, (start_s * 1000.0) as i64);
    let from = when.map_or(String::new(), |w| {
        w.at.strftime(" from %Y-%m-%d %H:%M").to_string()
    });
    FitPlot {
        id: "longest-night".into(),
        place: Some(place_words(place)),
        title: format!("{}, longest parked period{from}", capital(&words)).into(),
        caption: "Change since the valves closed. Without the loss: what heat, cooling, creep, \
                  settling and weather explain by themselves."
            .into(),
        x_label: "time since the begin of the parked period".into(),
        y_label: if unit == Unit::Mm {
            "height"
        } else {
            "pressure at constant volume"
        }
        .into(),
        unit,
        points: line(parts, &|i| per_ln * parts.observed[i], &kept),
        curve: curve.collect(),
        residuals: line(parts, &|i| per_ln * parts.remainder[i], &kept),
        without: line(parts, &without, &kept),
        others: others(digest, judgement, place, parts, unit),
    }
}

/// What the curves are drawn in, and how much of it an ln of air is.
fn scale(parts: &RestParts) -> (Unit, f64) {
    match parts.mm_per_ln {
        Some(mm) => (Unit::Mm, mm),
        None => (Unit::KpaDifference, parts.kpa_per_ln),
    }
}

/// The 95 % interval of the loss of a place, relative to it.
fn relative_interval(judgement: &Judgement, place: &str) -> (f64, f64) {
    let leak = judgement.leaks.iter().find(|l| l.place == place);
    let Some(loss) = leak.map(|l| &l.loss_l_per_s) else {
        return (1.0, 1.0);
    };
    let half = (loss.interval_95().1 - loss.value) / loss.value.abs().max(f64::MIN_POSITIVE);
    // A loss near nil has no shape to scale: its band is told by the table.
    if half > 3.0 {
        (1.0, 1.0)
    } else {
        (1.0 - half, 1.0 + half)
    }
}

/// The other places in the same parked period, in the same unit.
fn others(
    digest: &Digest,
    judgement: &Judgement,
    place: &str,
    parts: &RestParts,
    unit: Unit,
) -> Vec<OtherPoints> {
    let car = &digest.reduced.car;
    let start_s = parts.t_s.first().copied().unwrap_or(0.0);
    let park = car.rests[parts.rest].park;
    let mut out: Vec<OtherPoints> = Vec::new();
    for other in &judgement.at_rest.apart {
        let name = &car.volumes[car.rests[other.rest].volume].name;
        let (its_unit, per_ln) = scale(other);
        let same = car.rests[other.rest].park == park && its_unit == unit;
        let words = place_words(name);
        if !same || name == place || out.iter().any(|o| o.name == words) {
            continue;
        }
        let kept = kept(other.t_s.len());
        out.push(OtherPoints {
            name: words,
            points: kept
                .iter()
                .map(|i| (other.t_s[*i] - start_s, per_ln * other.observed[*i]))
                .collect(),
        });
    }
    out
}

/// Indices of the points drawn: evenly, first and last among them.
fn kept(n: usize) -> Vec<usize> {
    let step = n.div_ceil(MOST_POINTS).max(1);
    (0..n).filter(|i| i % step == 0 || i + 1 == n).collect()
}
