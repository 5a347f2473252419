//! Which candidates are the same signal.

use super::bus::{BusRecord, FrameBytes, FrameGroup};
use super::field::Field;
use super::fit::FittedLine;

/// Moments of the recording at which two candidates are compared.
const COMPARED_AT: i64 = 200;

/// A candidate's readings over the whole recording.
pub(super) struct Course {
    values: Vec<Option<f64>>,
}

impl Course {
    pub(super) fn new(bus: &BusRecord, group: FrameGroup, field: Field, line: &FittedLine) -> Self {
        let payloads = bus.of(group);
        let (first, last) = bus.span_ms().unwrap_or((0, 0));
        let at = |i: i64| first + (last - first) * i / COMPARED_AT;
        let value = |p: &FrameBytes| line.scale * field.value(&p.bytes) + line.offset;
        Course {
            values: (0..=COMPARED_AT)
                .map(|i| {
                    let after = payloads.partition_point(|p| p.t_ms <= at(i));
                    payloads.get(after.checked_sub(1)?).map(value)
                })
                .collect(),
        }
    }

    /// Whether both tell the same within the noise of a note, in nearly every
    /// moment that both cover: the same signal in other bits, or sent twice. A
    /// twentieth may differ, for two frames are not of one instant.
    pub(super) fn same_as(&self, other: &Course, sigma: f64) -> bool {
        let both: Vec<f64> = (self.values.iter().zip(&other.values))
            .filter_map(|(a, b)| Some((a.as_ref()? - b.as_ref()?).abs()))
            .collect();
        let alike = both.iter().filter(|d| **d <= 2.0 * sigma).count();
        !both.is_empty() && alike * 20 >= both.len() * 19
    }
}

/// Mean square of the changes from frame to frame, gauge units². A field that
/// takes in bits of another quantity below its own is rougher than without
/// them, one that lacks its own low bits as well.
pub(super) fn roughness(payloads: &[FrameBytes], field: Field, scale: f64) -> f64 {
    let changes = payloads.windows(2).map(|pair| {
        let [before, after] = [&pair[0], &pair[1]].map(|p| field.value(&p.bytes));
        ((after - before) * scale).powi(2)
    });
    let n = payloads.len().saturating_sub(1).max(1) as f64;
    changes.sum::<f64>() / n
}
