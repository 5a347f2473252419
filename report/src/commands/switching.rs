//! Table of `seep duty`: at which tank pressure a compressor starts and stops,
//! how long a run and a cycle last.

use crate::analysis::duty::Typical;
use crate::digest::CompressorDigest;
use crate::findings::place_words;
use crate::model::{Cell, Column, Measured, Table, Unit};
use seep_common::rig::Rig;

/// Medians over complete runs, with their intervals and what lies around them.
///
/// The values of one column differ in unit, so each cell carries its own. The
/// two pressures stand only where the compressor delivers.
pub(super) fn table(compressor: &CompressorDigest, rig: &Rig) -> Table {
    let mut table = Table::new(
        &format!("switching-{}", compressor.place),
        format!(
            "Switching of {}: median of its complete runs",
            place_words(&compressor.place)
        ),
        vec![
            Column::text("quantity"),
            Column::mixed("median"),
            Column::mixed("lowest"),
            Column::mixed("highest"),
            Column::mixed("seen"),
            Column::mixed("by the rig"),
        ],
    );
    let switching = &compressor.switching;
    let delivers = rig
        .compressors
        .iter()
        .any(|c| c.name == compressor.place && c.delivers);
    if delivers {
        let limits = &rig.limits;
        for (words, typical, limit) in [
            (
                "tank pressure at start (cut-in)",
                switching.cut_in(),
                limits.cut_in_kpa_gauge,
            ),
            (
                "tank pressure at stop (cut-out)",
                switching.cut_out(),
                limits.cut_out_kpa_gauge,
            ),
        ] {
            let by_rig = Cell::number_or(
                limit.map(|kpa| Measured::exact(kpa, Unit::KpaGauge)),
                "not in the rig",
            );
            let why = "no complete run with tank pressure at that moment";
            table.push(row(words, typical, Unit::KpaGauge, why, by_rig));
        }
    }
    for (words, typical, why) in [
        ("length of a run", switching.run_s(), "no complete run"),
        (
            "from start to start",
            switching.cycle_s(&compressor.timeline),
            "no two starts with known time between",
        ),
    ] {
        table.push(row(words, typical, Unit::Seconds, why, Cell::text("")));
    }
    table
}

fn row(words: &str, typical: Option<Typical>, unit: Unit, why: &str, by_rig: Cell) -> Vec<Cell> {
    let Some(t) = typical else {
        let missing = || Cell::missing(why);
        return vec![
            Cell::text(words),
            missing(),
            missing(),
            missing(),
            Cell::count(0),
            by_rig,
        ];
    };
    vec![
        Cell::text(words),
        Cell::Number(Measured::estimate(t.median, t.low, t.high, unit)),
        Cell::Number(Measured::exact(t.lowest, unit)),
        Cell::Number(Measured::exact(t.highest, unit)),
        Cell::count(t.count as u64),
        by_rig,
    ]
}
