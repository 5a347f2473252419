//! From boot time to log time: every row of a batch moves by the session's shift.

use crate::time::ClockNote;
use seep_common::store::{Batch, ClockRow};

/// Lay a batch from boot time to log time.
pub(super) fn shift(batch: &mut Batch, shift_ms: i64) {
    for tick in &mut batch.ticks {
        tick.t_ms += shift_ms;
    }
    for event in &mut batch.events {
        event.t_ms += shift_ms;
    }
    for gap in &mut batch.gaps {
        gap.from_t_ms += shift_ms;
        gap.to_t_ms += shift_ms;
    }
    for counter in &mut batch.counters {
        counter.t_ms += shift_ms;
    }
    for notice in &mut batch.notices {
        notice.t_ms += shift_ms;
    }
    debug_assert!(
        batch.clock.is_empty(),
        "clocks are noted by their own order"
    );
}

/// The clock row of a note. `first_t_ms` is where the session starts, or the
/// first session of the boot when the note holds for the whole boot.
pub(super) fn clock_row(note: &ClockNote, shift_ms: i64, first_t_ms: i64) -> ClockRow {
    let from_t_ms = if note.whole_boot {
        first_t_ms
    } else {
        (note.from_boot_ms + shift_ms).max(first_t_ms)
    };
    ClockRow {
        noted_t_ms: note.noted_boot_ms + shift_ms,
        from_t_ms,
        offset_ms: note.offset_ms - shift_ms,
        state: note.state,
    }
}
