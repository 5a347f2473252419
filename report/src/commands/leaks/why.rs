//! `seep leaks --why`: one parked period, taken apart into its causes.

use crate::analysis::rest_model::{Car, ModelRest, RestParts};
use crate::commands::head;
use crate::commands::longest_rest::longest;
use crate::digest::Digest;
use crate::findings::place_words;
use crate::judgement::Judgement;
use crate::model::{
    Cell, Column, Measured, Panel, Piece, Plot, Section, Table, Text, TimePlot, Trace, Unit,
};
use crate::recording::{Recording, RecordingError};
use crate::text;

/// Rows of the table: enough for a night, few enough to read.
const ROWS: usize = 25;

/// Why a place cannot be taken apart.
#[derive(Debug, thiserror::Error)]
pub enum WhyError {
    /// The log.
    #[error(transparent)]
    Recording(#[from] RecordingError),
    /// No volume of that name rested.
    #[error(
        "`{name}` has no parked period of twenty minutes or more with pressure in that span; there is {known}"
    )]
    NoSuchPlace {
        /// The name asked for.
        name: String,
        /// Those that rested.
        known: String,
    },
    /// The readings of that period are not usable.
    #[error("the readings of {0} cannot be taken apart: some are not finite")]
    NotFinite(String),
}

/// Parts of the longest parked period of a place, as the first section.
///
/// # Errors
/// [`WhyError`]: a place without a parked period, or readings that are not finite.
pub(super) fn section(
    recording: &Recording,
    digest: &Digest,
    judgement: &Judgement,
    place: &str,
) -> Result<Section, WhyError> {
    let car = &digest.reduced.car;
    let own = (0..car.rests.len()).any(|i| car.volumes[car.rests[i].volume].name == place);
    if !own {
        return Err(WhyError::NoSuchPlace {
            name: place.into(),
            known: known(car),
        });
    }
    let parts = longest(car, &judgement.at_rest.apart, place)
        .ok_or_else(|| WhyError::NotFinite(place_words(place)))?;
    Ok(laid_out(recording, place, &car.rests[parts.rest], parts))
}

fn known(car: &Car) -> String {
    let rested = |v: &usize| car.rests.iter().any(|r| r.volume == *v);
    let names = (0..car.volumes.len()).filter(rested);
    let mut names: Vec<&str> = names.map(|v| car.volumes[v].name.as_str()).collect();
    names.dedup();
    if names.is_empty() {
        "none".into()
    } else {
        names.join(", ")
    }
}

/// Name and series of each part, in the order they are stacked.
fn series(parts: &RestParts) -> [(&'static str, &[f64]); 7] {
    [
        ("observed", &parts.observed),
        ("leak", &parts.leak),
        ("heat", &parts.heat),
        ("creep", &parts.creep),
        ("settling", &parts.settling),
        ("weather", &parts.weather),
        ("remainder", &parts.remainder),
    ]
}

fn laid_out(recording: &Recording, place: &str, rest: &ModelRest, parts: &RestParts) -> Section {
    let words = place_words(place);
    let mut section = Section::new("why", format!("Why {words} changed, part by part"));
    section.leads = true;
    let (unit, per_ln) = match parts.mm_per_ln {
        Some(mm) => (Unit::Mm, mm),
        None => (Unit::KpaDifference, parts.kpa_per_ln),
    };
    let what = if unit == Unit::Mm {
        "height at its load"
    } else {
        "pressure at constant volume"
    };
    let last = |values: &[f64]| values.last().copied().unwrap_or(0.0) * per_ln;
    let hours = (rest.end_s - rest.start_s) / 3600.0;
    section.lead = Some(lead(
        &words,
        hours,
        unit,
        &series(parts).map(|(name, v)| (name, last(v))),
    ));
    section
        .tables
        .push(table(recording, parts, unit, per_ln, what));
    section
        .plots
        .push(plot(recording, parts, unit, per_ln, &words));
    section.notes.push(
        "Observed is the amount of air by pressure, height and thermometer; what the gas law takes \
         for the recorded temperature is already taken off. Heat is what the thermometer does not \
         show: lag, soak after a drive, sun. Settling follows the last fill or dump. Weather is the \
         outside pressure, and the thermometer's error that all volumes share. Remainder is noise, \
         counts and friction. The parts add up to the observed change."
            .into(),
    );
    section
}

/// `rear right, 11.2 h: -52.3 mm observed = leak -50.1, heat -1.2, …`.
fn lead(words: &str, hours: f64, unit: Unit, ends: &[(&str, f64)]) -> Text {
    let figure = |v: f64| Piece::Change(v, unit);
    let parts = ends[1..]
        .iter()
        .map(|(name, v)| text![*name, " ", figure(*v)]);
    text![
        format!("Longest parked period of {words} in the span, {hours:.1} h: "),
        figure(ends[0].1),
        " ",
        Piece::Symbol(unit),
        " observed, of it ",
        Text::joined(parts, ", "),
        "."
    ]
}

fn table(recording: &Recording, parts: &RestParts, unit: Unit, per_ln: f64, what: &str) -> Table {
    let all = series(parts);
    let mut columns = vec![Column::text("at")];
    columns.extend(all.iter().map(|(name, _)| Column::number(*name, unit)));
    let caption = format!("Change since the begin of the period, as {what}");
    let mut table = Table::new("why", &caption, columns);
    let n = parts.t_s.len();
    let step = n.div_ceil(ROWS).max(1);
    let rows = (0..n).filter(|i| i % step == 0 || i + 1 == n);
    for i in rows {
        let mut row = vec![head::wall_cell(recording, (parts.t_s[i] * 1000.0) as i64)];
        row.extend(
            all.iter().map(|(_, values)| {
                Cell::Number(Measured::exact(rounded(values[i] * per_ln), unit))
            }),
        );
        table.push(row);
    }
    table
}

/// To a hundredth: finer than any reading.
fn rounded(value: f64) -> f64 {
    (value * 100.0).round() / 100.0 + 0.0
}

fn plot(recording: &Recording, parts: &RestParts, unit: Unit, per_ln: f64, words: &str) -> Plot {
    let t_unix_ms: Vec<i64> = parts
        .t_s
        .iter()
        .map(|t| {
            let t_ms = (t * 1000.0) as i64;
            recording.clock.wall_ms(t_ms).unwrap_or(t_ms)
        })
        .collect();
    let panels = series(parts).map(|(name, values)| Panel {
        label: name.into(),
        unit,
        traces: vec![Trace::new(
            name,
            t_unix_ms.clone(),
            values.iter().map(|v| Some(v * per_ln)).collect(),
        )],
    });
    Plot::Time(TimePlot {
        id: "why-parts".into(),
        title: format!("Parts of the change of {words}").into(),
        caption: "Observed on top; below it the parts that add up to it".into(),
        from_unix_ms: t_unix_ms.first().copied().unwrap_or(0),
        to_unix_ms: t_unix_ms.last().copied().unwrap_or(0),
        panels: panels.into(),
        marks: Vec::new(),
        gaps: Vec::new(),
        notes: Vec::new(),
    })
}
