//! What a group of frames held around each noted time.

use super::bus::FrameBytes;
use super::field::Field;
use super::{GaugeReading, NoteError};

/// Moments of the clock error that are tried, evenly over ± the error.
pub(super) const MOMENTS: usize = 9;

/// The payloads around one moment.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Moment {
    before: [u8; 8],
    after: [u8; 8],
    /// How far the moment is from the first to the second, 0 to 1.
    share: f64,
}

impl Moment {
    /// The field at the moment, straight between the two payloads: a frame sent
    /// every few seconds still tells what a moving gauge showed in between.
    pub(super) fn value(&self, field: Field) -> f64 {
        let before = field.value(&self.before);
        before + self.share * (field.value(&self.after) - before)
    }
}

/// The moments a reading may belong to.
pub(super) type Window = [Moment; MOMENTS];

/// Returns the windows of every reading; `None` where the group has no frame
/// near one of them.
pub(super) fn windows(
    payloads: &[FrameBytes],
    readings: &[GaugeReading],
    error: NoteError,
) -> Option<Vec<Window>> {
    readings
        .iter()
        .map(|reading| {
            let mut window = [Moment::default(); MOMENTS];
            for (i, moment) in window.iter_mut().enumerate() {
                let half = (MOMENTS - 1) as f64 / 2.0;
                let part = (i as f64 - half) / half;
                let t_ms = reading.t_ms + (part * error.clock_ms as f64).round() as i64;
                *moment = around(payloads, t_ms)?;
            }
            Some(window)
        })
        .collect()
}

/// A payload farther from a moment than this says nothing of it, ms.
const FARTHEST_MS: i64 = 10_000;

/// The payloads before and after a time; one of them where the other is far.
fn around(payloads: &[FrameBytes], t_ms: i64) -> Option<Moment> {
    let next = payloads.partition_point(|p| p.t_ms <= t_ms);
    let near = |p: &&FrameBytes| (p.t_ms - t_ms).abs() <= FARTHEST_MS;
    let before = (next.checked_sub(1))
        .and_then(|at| payloads.get(at))
        .filter(near);
    let after = payloads.get(next).filter(near);
    let (before, after) = (before.or(after)?, after.or(before)?);
    let apart_ms = after.t_ms - before.t_ms;
    Some(Moment {
        before: before.bytes,
        after: after.bytes,
        share: if apart_ms > 0 {
            (t_ms - before.t_ms) as f64 / apart_ms as f64
        } else {
            0.0
        },
    })
}
