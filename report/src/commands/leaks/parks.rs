//! What the model of a car at rest says between two drives.

use super::MOST_RESTS;
use crate::analysis::at_rest::ParkAtRest;
use crate::analysis::leak::CM3_MIN_PER_L_S;
use crate::commands::head;
use crate::findings::{measured, place_words, thermometer_words};
use crate::judgement::Judgement;
use crate::model::{Cell, Column, Section, Table, Text, Unit};
use crate::recording::Recording;
use crate::render::duration_words;
use crate::text;

/// A silence from here on is told, s.
const SILENT_FROM_S: f64 = 900.0;

/// One row per volume and parked period.
pub(super) fn section(recording: &Recording, judgement: &Judgement) -> Section {
    let mut section = Section::new("parked", "Between two drives");
    let mut table = Table::new(
        "parked",
        "What decides: all rests between two drives together, with the heat, creep and weather that \
         the other days taught taken off",
        vec![
            Column::text("place"),
            Column::text("from"),
            Column::mixed("length"),
            Column::number("loss", Unit::AnrCm3PerMin),
            Column::text("remarks"),
        ],
    );
    let mut parks: Vec<&ParkAtRest> = judgement.at_rest.parks.iter().collect();
    parks.sort_by(|a, b| b.t_s.0.total_cmp(&a.t_s.0).then(a.place.cmp(&b.place)));
    for park in parks.iter().take(MOST_RESTS) {
        let flow = park.loss_l_per_s.scaled(CM3_MIN_PER_L_S);
        table.push(vec![
            Cell::text(&place_words(&park.place)),
            head::wall_cell(recording, (park.t_s.0 * 1000.0) as i64),
            Cell::duration(park.seconds),
            Cell::Number(measured(&flow, Unit::AnrCm3PerMin)),
            remarks(park).into(),
        ]);
    }
    if parks.len() > MOST_RESTS {
        section.notes.push(
            format!(
                "{} earlier periods are not listed; narrow the span with --to.",
                parks.len() - MOST_RESTS
            )
            .into(),
        );
    }
    section.tables.push(table);
    section
}

fn remarks(park: &ParkAtRest) -> Text {
    let mut words = vec![text!["thermometer: ", thermometer_words(&park.thermometer)]];
    if park.kelvin_range >= super::WORTH_A_WORD_K {
        let range = (park.kelvin_range * 10.0).round() / 10.0;
        let swing = crate::model::Measured::exact(range, Unit::KelvinDifference);
        words.push(text!["swing ", swing]);
    }
    if park.longest_silence_s > SILENT_FROM_S {
        words.push(text!["silent ", duration_words(park.longest_silence_s)]);
    }
    if park.by_hand {
        words.push("readings by hand".into());
    }
    if park.is_lower_bound {
        words.push("no height: at least".into());
    }
    Text::joined(words, ", ")
}
