//! Readings of a channel outside drives, without spikes.

use super::super::super::segment::Busy;
use super::spikes::spikes;

/// Readings in time order that were taken while the car stood.
#[derive(Debug, Clone, Default)]
pub(super) struct Quiet {
    pub(super) t_ms: Vec<i64>,
    pub(super) values: Vec<f32>,
}

impl Quiet {
    /// Of a column (`NaN` where silent), outside drives. Drives are passed over
    /// unread.
    pub(super) fn of(t_ms: &[i64], column: &[f32], drives: &Busy) -> Self {
        let mut out = Quiet::default();
        let mut from = 0;
        let ends = drives.spans().iter().copied();
        for (drive_from, drive_to) in ends.chain([(i64::MAX, i64::MAX)]) {
            let to = from + t_ms[from..].partition_point(|t| *t < drive_from);
            out.add(&t_ms[from..to], &column[from..to]);
            from = to + t_ms[to..].partition_point(|t| *t <= drive_to);
        }
        out
    }

    /// Adds what was spoken.
    fn add(&mut self, t_ms: &[i64], column: &[f32]) {
        let spoken = column.iter().filter(|v| !v.is_nan()).count();
        if spoken == column.len() {
            self.t_ms.extend_from_slice(t_ms);
            self.values.extend_from_slice(column);
            return;
        }
        self.t_ms.reserve(spoken);
        self.values.reserve(spoken);
        for (t, value) in t_ms.iter().zip(column).filter(|r| !r.1.is_nan()) {
            self.t_ms.push(*t);
            self.values.push(*value);
        }
    }

    /// Leaves spikes out, and returns their times.
    pub(super) fn without_spikes(mut self, count: f64) -> (Self, Vec<i64>) {
        let found = spikes(&self.values, count);
        let times_ms = found.iter().map(|i| self.t_ms[*i]).collect();
        if !found.is_empty() {
            let mut next = found.iter().peekable();
            let keep: Vec<bool> = (0..self.values.len())
                .map(|i| next.next_if(|s| **s == i).is_none())
                .collect();
            self.retain(&keep);
        }
        (self, times_ms)
    }

    /// Keeps the readings that are marked, one mark for each.
    pub(super) fn retain(&mut self, keep: &[bool]) {
        let mut k = keep.iter();
        self.t_ms.retain(|_| *k.next().unwrap_or(&true));
        let mut k = keep.iter();
        self.values.retain(|_| *k.next().unwrap_or(&true));
    }

    /// Readings from one time up to another, half-open.
    pub(super) fn between(&self, from_ms: i64, to_ms: i64) -> impl Iterator<Item = (i64, f32)> {
        let from = self.t_ms.partition_point(|t| *t < from_ms);
        let to = from + self.t_ms[from..].partition_point(|t| *t < to_ms);
        (from..to).map(|i| (self.t_ms[i], self.values[i]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drives_and_spikes_are_left_out() {
        let t: Vec<i64> = (0..100).collect();
        let mut column = vec![5.0_f32; 100];
        column[3] = f32::NAN;
        column[80] = 70.0;
        let quiet = Quiet::of(&t, &column, &Busy::new([(20, 40)]));
        assert_eq!(quiet.values.len(), 100 - 1 - 21);
        let (quiet, spikes) = quiet.without_spikes(0.1);
        assert_eq!((quiet.values.len(), spikes), (77, vec![80]));
        assert_eq!(
            quiet.between(18, 45).map(|r| r.0).collect::<Vec<_>>(),
            [18, 19, 41, 42, 43, 44]
        );
    }
}
