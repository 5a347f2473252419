//! Pressure and height over time, with everything that moved air.

use super::head;
use crate::digest::Digest;
use crate::model::{
    Gap, Mark, MarkKind, MarkSource, Panel, Plot, Section, StepMark, TimePlot, Unit,
};
use crate::recording::Recording;
use seep_common::channel::Quantity;
use seep_common::store::EventKind;

/// The section that ends a report of a whole span.
pub(super) fn section(recording: &Recording, digest: &Digest) -> Section {
    let mut section = Section::new("over-time", "Over time");
    section.plots.extend(plot(recording, digest));
    section
}

/// One plot of the whole span.
fn plot(recording: &Recording, digest: &Digest) -> Option<Plot> {
    let from = head::wall(recording, recording.span.from_t_ms)?.unix_ms();
    let to = head::wall(recording, recording.span.to_t_ms)?.unix_ms();
    let panels: Vec<Panel> = [
        ("Pressure", Unit::KpaGauge, Quantity::GaugePressure),
        ("Height", Unit::Mm, Quantity::Height),
        ("Temperature", Unit::Celsius, Quantity::Temperature),
    ]
    .into_iter()
    .filter_map(|(label, unit, quantity)| panel(recording, digest, label, unit, quantity))
    .collect();
    if panels.is_empty() {
        return None;
    }
    Some(Plot::Time(TimePlot {
        id: "over-time".into(),
        title: "Pressure, height and temperature over time".into(),
        caption: "Above what each place did; below when valves were open and compressors ran."
            .into(),
        from_unix_ms: from,
        to_unix_ms: to,
        panels,
        marks: marks(recording, digest),
        gaps: gaps(recording),
        notes: notes(recording, from, to),
    }))
}

fn panel(
    recording: &Recording,
    digest: &Digest,
    label: &str,
    unit: Unit,
    quantity: Quantity,
) -> Option<Panel> {
    let traces: Vec<_> = digest
        .traces
        .iter()
        .filter_map(|t| {
            let channel = recording
                .rig
                .channels
                .iter()
                .find(|c| c.name == t.channel)?;
            if channel.quantity != quantity {
                return None;
            }
            let mut trace = t.trace.clone();
            trace.name = crate::findings::place_words(&channel.place);
            Some(trace)
        })
        .collect();
    (!traces.is_empty()).then(|| Panel {
        label: label.into(),
        unit,
        traces,
    })
}

fn marks(recording: &Recording, digest: &Digest) -> Vec<Mark> {
    let wall = |t: i64| recording.clock.wall_ms(t).unwrap_or(t);
    let mut out: Vec<Mark> = digest
        .moves
        .iter()
        .map(|m| Mark {
            kind: match m.direction {
                crate::analysis::moves::Direction::Fill => MarkKind::Fill,
                crate::analysis::moves::Direction::Dump => MarkKind::Dump,
            },
            place: crate::findings::place_words(&m.place),
            from_unix_ms: wall(m.from_ms),
            to_unix_ms: wall(m.to_ms),
            source: source(m.wired),
        })
        .collect();
    for compressor in &digest.compressors {
        let wired = recording
            .events
            .iter()
            .find(|e| e.kind == EventKind::Run && e.place == compressor.place)
            .is_none_or(|e| e.wired);
        out.extend(compressor.timeline.runs().iter().map(|r| Mark {
            kind: MarkKind::Compressor,
            place: crate::findings::place_words(&compressor.place),
            from_unix_ms: wall(r.0),
            to_unix_ms: wall(r.1),
            source: source(wired),
        }));
    }
    out.sort_by_key(|m| m.from_unix_ms);
    out
}

fn source(wired: bool) -> MarkSource {
    if wired {
        MarkSource::Wired
    } else {
        MarkSource::Inferred
    }
}

/// Words that somebody noted within the plot; a reading by hand stands in its own table.
fn notes(recording: &Recording, from_unix_ms: i64, to_unix_ms: i64) -> Vec<StepMark> {
    let all = recording.notes().unwrap_or_default().into_iter();
    all.filter(|n| n.reading.is_none() && (from_unix_ms..=to_unix_ms).contains(&n.at_unix_ms.0))
        .map(|n| StepMark {
            t_unix_ms: n.at_unix_ms.0,
            label: n.text.into(),
        })
        .collect()
}

fn gaps(recording: &Recording) -> Vec<Gap> {
    recording
        .gaps
        .iter()
        .filter(|g| g.what.is_none())
        .filter_map(|g| {
            Some(Gap {
                from_unix_ms: recording.clock.wall_ms(g.from_t_ms)?,
                to_unix_ms: recording.clock.wall_ms(g.to_t_ms)?,
                cause: g.cause.clone().into(),
            })
        })
        .collect()
}
