//! A channel as means of minutes.

use serde::{Deserialize, Serialize};

/// Length of a minute, ms.
const MINUTE_MS: i64 = 60_000;

/// Length of a minute, s.
pub(super) const MINUTE_S: f64 = 60.0;

/// Means of the minutes in which a channel spoke; between them straight lines.
///
/// Nodes lie at whole minutes from the origin; the mean of minute `k` stands at its
/// middle, `k + 0.5`. Memory grows with the minutes recorded, not with the ticks.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(super) struct Minutes {
    minute: Vec<u32>,
    mean: Vec<f32>,
    open: Option<(u32, f64, f64)>,
}

impl Minutes {
    /// Adds readings in order of time, not a number where the channel was silent; returns
    /// how many spoke.
    pub(super) fn add(&mut self, origin_ms: i64, t_ms: &[i64], values: &[f32]) -> u64 {
        let (mut from, mut count) = (0, 0);
        while let Some(first) = t_ms.get(from) {
            let number = (first - origin_ms).div_euclid(MINUTE_MS);
            let end_ms = origin_ms + (number + 1) * MINUTE_MS;
            let to = from + t_ms[from..].partition_point(|t| *t < end_ms);
            let within = &values[from..to];
            from = to;
            let spoken = within.iter().filter(|v| !v.is_nan()).count() as u64;
            if spoken == 0 {
                continue;
            }
            count += spoken;
            let minute = u32::try_from(number).unwrap_or(0);
            if self.open.is_some_and(|open| open.0 != minute) {
                self.close();
            }
            let (_, sum, n) = self.open.get_or_insert((minute, 0.0, 0.0));
            for value in within.iter().filter(|v| !v.is_nan()) {
                *sum += f64::from(*value);
            }
            *n += spoken as f64;
        }
        count
    }

    /// Adds the reading of a minute.
    #[cfg(test)]
    pub(super) fn push(&mut self, minute: u32, value: f32) {
        self.add(0, &[i64::from(minute) * MINUTE_MS], &[value]);
    }

    /// Ends the minute that is open.
    pub(super) fn close(&mut self) {
        if let Some((minute, sum, n)) = self.open.take()
            && self.minute.last().is_none_or(|last| *last < minute)
        {
            self.minute.push(minute);
            self.mean.push((sum / n) as f32);
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.minute.is_empty()
    }

    pub(super) fn len(&self) -> usize {
        self.minute.len()
    }

    /// Middle of a recorded minute, in minutes from the origin, and its mean.
    pub(super) fn point(&self, i: usize) -> (f64, f64) {
        (f64::from(self.minute[i]) + 0.5, f64::from(self.mean[i]))
    }

    /// Recorded minutes: middle, in minutes from the origin, and mean.
    pub(super) fn points(&self) -> impl Iterator<Item = (f64, f64)> {
        (0..self.len()).map(|i| self.point(i))
    }

    /// Value between the means; the first and last hold outside them.
    ///
    /// **Domain**: at least one minute.
    pub(super) fn at(&self, minutes: f64) -> f64 {
        let after = self
            .minute
            .partition_point(|m| f64::from(*m) + 0.5 <= minutes);
        self.on_line(after, minutes)
    }

    /// The same where the number of recorded minutes up to that time is known.
    pub(super) fn on_line(&self, after: usize, minutes: f64) -> f64 {
        if after == 0 {
            return f64::from(self.mean[0]);
        }
        let a = self.point(after - 1);
        if after == self.len() {
            return a.1;
        }
        let b = self.point(after);
        a.1 + (minutes - a.0) / (b.0 - a.0) * (b.1 - a.1)
    }

    /// Value at a time as the grid of whole minutes has it: a straight line between
    /// the two nodes around it.
    pub(super) fn on_grid(&self, minutes: f64) -> f64 {
        let low = minutes.floor();
        let (a, b) = (self.at(low), self.at(low + 1.0));
        a + (minutes - low) * (b - a)
    }

    /// Longest time without a reading within a span, s; to the minute.
    pub(super) fn longest_silence_s(&self, from_min: f64, to_min: f64) -> f64 {
        let first = self
            .minute
            .partition_point(|m| f64::from(*m) + 0.5 < from_min);
        let mut last = from_min;
        let mut longest = 0.0_f64;
        let spoken = self.minute[first..].iter().map(|m| f64::from(*m) + 0.5);
        for at in spoken.take_while(|at| *at < to_min).chain([to_min]) {
            longest = longest.max(at - last);
            last = at;
        }
        longest * MINUTE_S
    }

    /// Means with a function applied: for columns of a transformed channel.
    pub(super) fn map(&self, f: impl Fn(f64) -> f64) -> Minutes {
        Minutes {
            minute: self.minute.clone(),
            mean: self.mean.iter().map(|v| f(f64::from(*v)) as f32).collect(),
            open: None,
        }
    }

    /// Mean of several channels, where the first one spoke.
    pub(super) fn mean_of(channels: &[&Minutes]) -> Minutes {
        let Some(first) = channels.first() else {
            return Minutes::default();
        };
        let mean = |m: &u32| {
            let at = f64::from(*m) + 0.5;
            let sum: f64 = channels.iter().map(|c| c.at(at)).sum();
            (sum / channels.len() as f64) as f32
        };
        Minutes {
            minute: first.minute.clone(),
            mean: first.minute.iter().map(mean).collect(),
            open: None,
        }
    }

    /// Median over time: silences count by the straight lines across them, at one
    /// value every ten minutes.
    pub(super) fn median(&self) -> Option<f64> {
        let (first, last) = (*self.minute.first()?, *self.minute.last()?);
        let step = ((last - first) / 60_000).max(10);
        let on_the_way = (first..=last).step_by(step as usize);
        let values: Vec<f64> = on_the_way.map(|m| self.at(f64::from(m) + 0.5)).collect();
        super::super::super::stats::median(&values)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn channel(points: &[(u32, f32)]) -> Minutes {
        let mut out = Minutes::default();
        for (m, v) in points {
            out.push(*m, *v);
        }
        out.close();
        out
    }

    #[test]
    fn straight_lines_between_the_middles_of_minutes() {
        let mut c = channel(&[(0, 1.0), (0, 3.0), (2, 6.0)]);
        assert_eq!(
            (c.at(0.0), c.at(0.5), c.at(1.5), c.at(9.0)),
            (2.0, 2.0, 4.0, 6.0)
        );
        assert_eq!(c.on_grid(1.5), 4.0);
        assert_eq!(c.longest_silence_s(0.5, 2.5), 120.0);
        assert_eq!(c.longest_silence_s(10.0, 20.0), 600.0);
        c.push(1, 50.0);
        c.close();
        assert_eq!(c.len(), 2, "a minute gone by is not taken again");
        let both = Minutes::mean_of(&[&c, &channel(&[(0, 4.0)])]);
        assert_eq!(both.points().collect::<Vec<_>>(), [(0.5, 3.0), (2.5, 5.0)]);
    }
}
