//! Readings by hand of a log, in its own time.

use crate::analysis::rest_model::{HandObservation, ReadByHand};
use crate::recording::{Recording, RecordingError};
use seep_common::channel::{ChannelName, Quantity};

/// Heights and pressures that a person read. Without a clock in the log their time is not
/// known (NaN), and no rest holds them.
///
/// # Errors
/// [`RecordingError`] where the notes cannot be read.
pub(super) fn observations(recording: &Recording) -> Result<Vec<HandObservation>, RecordingError> {
    let notes = recording.notes()?;
    let readings = notes
        .iter()
        .filter_map(|note| Some((note.at_unix_ms, note.reading.as_ref()?)));
    let found = readings.filter_map(|(at_unix_ms, reading)| {
        let name = ChannelName::parse(&reading.name).ok()?;
        let kind = match name.quantity {
            Quantity::Height => ReadByHand::HeightMm,
            Quantity::GaugePressure => ReadByHand::GaugeKpa,
            _ => return None,
        };
        let t_ms = recording.clock.log_ms(at_unix_ms.0);
        Some(HandObservation {
            place: name.place,
            t_s: t_ms.map_or(f64::NAN, |t| t as f64 / 1000.0),
            kind,
            value: reading.value,
            error: reading.error,
        })
    });
    Ok(found.collect())
}

/// When somebody noted what was done, in log time, s: without what was read.
///
/// # Errors
/// [`RecordingError`] where the notes cannot be read.
pub(super) fn note_times_s(recording: &Recording) -> Result<Vec<f64>, RecordingError> {
    let notes = recording.notes()?;
    let said = notes.iter().filter(|n| n.reading.is_none());
    let log_ms = said.filter_map(|n| recording.clock.log_ms(n.at_unix_ms.0));
    Ok(log_ms.map(|t| t as f64 / 1000.0).collect())
}
