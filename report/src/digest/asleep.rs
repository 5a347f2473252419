//! When the sources that sleep with the ignition fell asleep.

use seep_common::rig::{Rig, Source};
use seep_common::store::Columns;

/// Without a silence of its own in the rig a source is asleep after this, ms.
const SILENCE_MS: i64 = 60_000;

/// Last words, log time ms, before each silence of a source that sleeps with the
/// ignition; of a session that ends with such a silence the last word too.
pub(super) fn last_words(frame: &Columns, rig: &Rig) -> Vec<i64> {
    let sleepers = rig
        .sources
        .iter()
        .enumerate()
        .filter(|s| s.1.sleeps_with_ignition);
    let mut out: Vec<i64> = sleepers
        .flat_map(|(i, source)| of_source(frame, rig, i, source))
        .collect();
    out.sort_unstable();
    out
}

fn of_source(frame: &Columns, rig: &Rig, i: usize, source: &Source) -> Vec<i64> {
    let own = rig.channels.iter().filter(|c| c.source == i);
    let columns: Vec<&[f32]> = own.filter_map(|c| frame.column(&c.name)).collect();
    let silence_ms = SILENCE_MS.max((1000.0 * source.silence_s) as i64);
    let mut last: Option<i64> = None;
    let mut out = Vec::new();
    for (row, t_ms) in frame.t_ms.iter().enumerate() {
        if columns.iter().all(|c| c[row].is_nan()) {
            continue;
        }
        out.extend(last.filter(|before| t_ms - before > silence_ms));
        last = Some(*t_ms);
    }
    let end = frame.t_ms.last();
    out.extend(last.filter(|last| end.is_some_and(|end| end - last > silence_ms)));
    out
}
