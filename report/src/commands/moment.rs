//! `seep moment`: what was recorded around one moment, undigested.

use super::{brief, head, timeline};
use crate::analysis::moves::Move;
use crate::conclusion::Topic;
use crate::digest::Digest;
use crate::findings::place_words;
use crate::judgement::Judgement;
use crate::model::{Cell, Column, Finding, Measured, Report, Section, Severity};
use crate::model::{Table, Unit, Verdict};
use crate::recording::Event;
use crate::recording::{Recording, RecordingError};
use seep_common::channel::Quantity;

/// Rows of readings printed; `seep export` has all.
const MOST_READINGS: usize = 600;

/// The report on a span around a moment.
///
/// # Errors
/// The log's errors.
pub fn report(recording: &Recording) -> Result<Report, RecordingError> {
    let digest = Digest::build(recording, |_| {})?;
    let events = recording.events_in_span();
    let seconds = (recording.span.to_t_ms - recording.span.from_t_ms) as f64 / 1000.0;
    let sentence = format!(
        "{} changes of valves and compressors in {}.",
        events.len(),
        crate::render::duration_words(seconds)
    );
    let verdict = Verdict::new(Severity::Fine, 1.0, &sentence);
    let read = head::Read {
        session_ticks: &digest.session_ticks,
        recorded_s: digest.recorded_s,
    };
    let mut report = head::report(recording, "moment", "A moment", verdict, Some(read));
    let mut picture = timeline::section(recording, &digest);
    picture.leads = true;
    report.sections.push(picture);
    let mut section = Section::new("events", "Changes of valves and compressors");
    section.tables.push(events_table(recording, events));
    report.sections.push(section);
    let mut section = Section::new("readings", "Readings as recorded");
    readings(recording, &mut section)?;
    report.sections.push(section);
    report.brief = (!events.is_empty())
        .then(|| brief::columns(&events_table(recording, events), &[0, 1, 2], "What changed"));
    Ok(report)
}

fn events_table(recording: &Recording, events: &[Event]) -> Table {
    let mut table = Table::new(
        "events",
        "Each opening and closing, start and stop",
        vec![
            Column::text("at"),
            Column::text("what"),
            Column::text("where"),
            Column::text("known by"),
        ],
    );
    for event in events {
        let state = if event.on { "on" } else { "off" };
        let known = if event.wired {
            "its wire"
        } else {
            "the pressures"
        };
        table.push(vec![
            head::wall_cell(recording, event.t_ms),
            Cell::text(&format!("{} {state}", event.kind.word())),
            Cell::text(&place_words(&event.place)),
            Cell::text(known),
        ]);
    }
    table
}

/// One row per tick, one column per channel.
fn readings(recording: &Recording, section: &mut Section) -> Result<(), RecordingError> {
    let channels: Vec<_> = recording
        .channel_names()
        .into_iter()
        .filter_map(|name| {
            let channel = recording.rig.channels.iter().find(|c| c.name == name)?;
            Some((name, unit(channel.quantity)))
        })
        .collect();
    let mut columns = vec![Column::text("at")];
    for (name, unit) in &channels {
        columns.push(match unit {
            Some(unit) => Column::number(place_words(name), *unit),
            None => Column::mixed(place_words(name)),
        });
    }
    let mut table = Table::new("readings", "Empty where a channel was silent", columns);
    let mut left = 0;
    recording.each_frame(|_, frame| {
        for (i, t_ms) in frame.t_ms.iter().enumerate() {
            if table.rows.len() >= MOST_READINGS {
                left += 1;
                continue;
            }
            let mut row = vec![head::wall_cell(recording, *t_ms)];
            for (name, unit) in &channels {
                let value = frame.column(name).map_or(f32::NAN, |c| c[i]);
                row.push(cell(f64::from(value), *unit));
            }
            table.push(row);
        }
    })?;
    if left > 0 {
        section.notes.push(
            format!(
                "{left} later readings are not listed: choose fewer --minutes, or `seep export`."
            )
            .into(),
        );
    }
    section.tables.push(table);
    Ok(())
}

fn unit(quantity: Quantity) -> Option<Unit> {
    match quantity {
        Quantity::GaugePressure => Some(Unit::KpaGauge),
        Quantity::AbsolutePressure => Some(Unit::KpaAbs),
        Quantity::Height => Some(Unit::Mm),
        Quantity::Temperature => Some(Unit::Celsius),
        _ => None,
    }
}

/// A reading, not rounded finer than the four-byte floats it comes in.
fn cell(value: f64, unit: Option<Unit>) -> Cell {
    if value.is_nan() {
        return Cell::text("");
    }
    let value = (value * 1000.0).round() / 1000.0;
    match unit {
        Some(unit) => Cell::Number(Measured::exact(value, unit)),
        None => Cell::text(&format!("{value}")),
    }
}

/// Why a finding has no moment.
#[derive(Debug, thiserror::Error)]
pub enum MomentError {
    /// The log.
    #[error(transparent)]
    Recording(#[from] RecordingError),
    /// There are fewer.
    #[error("there is no finding {number}: `seep trip --full` numbers them, and has {there_are}")]
    NoSuchFinding {
        /// The number asked for.
        number: usize,
        /// Findings there are.
        there_are: usize,
    },
    /// Nothing recorded shows it by itself.
    #[error("no single moment shows finding {0}; give --at \"2026-08-14 22:00\" instead")]
    NoMoment(usize),
}

/// The moment that shows a finding best, log time ms, by its number in `seep trip`.
///
/// # Errors
/// [`MomentError`].
pub fn of_finding_number(recording: &Recording, number: usize) -> Result<i64, MomentError> {
    let (digest, judgement) = super::judged(recording)?;
    let findings = &judgement.findings;
    let finding = findings.get(number - 1).ok_or(MomentError::NoSuchFinding {
        number,
        there_are: findings.len(),
    })?;
    of_finding(&digest, &judgement, finding).ok_or(MomentError::NoMoment(number))
}

/// The moment that shows a finding best, log time ms; `None` where none does.
pub(super) fn of_finding(digest: &Digest, judgement: &Judgement, finding: &Finding) -> Option<i64> {
    let of_place = |m: &&Move| m.place == finding.place;
    match finding.kind.topic() {
        Topic::Paths | Topic::Valves => {
            let own = digest.moves.iter().rfind(of_place);
            own.or(digest.moves.last()).map(|m| m.from_ms)
        }
        Topic::Compressor => {
            let own = digest.compressors.iter().find(|c| c.place == finding.place);
            own?.timeline.runs().last().map(|r| r.0)
        }
        _ => {
            let parks = judgement.at_rest.parks.iter();
            let own = parks.filter(|p| p.place == finding.place);
            let longest = own.max_by(|a, b| a.seconds.total_cmp(&b.seconds))?;
            Some((f64::midpoint(longest.t_s.0, longest.t_s.1) * 1000.0) as i64)
        }
    }
}
