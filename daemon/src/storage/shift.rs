//! The clock row of a note, in log time.

use crate::time::ClockNote;
use seep_common::store::ClockRow;
use seep_common::time::LogMs;

/// The clock row of a note. `first_t_ms` is where the session starts, or the
/// first session of the boot when the note holds for the whole boot.
pub(super) fn clock_row(note: &ClockNote, shift_ms: i64, first_t_ms: LogMs) -> ClockRow {
    let from_t_ms = if note.whole_boot {
        first_t_ms
    } else {
        note.from_boot_ms.on_log(shift_ms).max(first_t_ms)
    };
    ClockRow {
        noted_t_ms: note.noted_boot_ms.on_log(shift_ms),
        from_t_ms,
        offset_ms: note.offset_ms - shift_ms,
        state: note.state,
    }
}
