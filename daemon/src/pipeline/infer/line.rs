//! The straight line through the last readings, kept up to date: a reading that
//! comes and one that goes change sums, and nothing else is gone through again.

use seep_common::time::BootMs;
use std::collections::VecDeque;

/// Sums are taken afresh after so many changes, so that rounding cannot add up.
const FRESH_AFTER: u32 = 1_024;

/// Readings with the sums that a line through them needs.
#[derive(Debug, Default)]
pub(super) struct Readings {
    readings: VecDeque<(BootMs, f64)>,
    /// The sums are about this reading: small numbers keep their digits.
    base: (BootMs, f64),
    sums: Sums,
    changes: u32,
}

/// Of times, ms, and pressures, kPa, about the base.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    t: f64,
    p: f64,
    tt: f64,
    tp: f64,
    pp: f64,
}

/// The line through the readings.
#[derive(Debug, Clone, Copy)]
pub(super) struct TrendLine {
    pub slope_kpa_s: f64,
    pub rise_kpa: f64,
    count: f64,
    span_s: f64,
    /// Sums about the means, in s and kPa.
    tt: f64,
    tp: f64,
    pp: f64,
}

impl TrendLine {
    /// Standard error of the rise, kPa, from the scatter about the line. Asked
    /// for only where the rise is large enough to matter.
    pub(super) fn doubt_kpa(&self) -> f64 {
        let about = (self.pp - self.slope_kpa_s * self.tp).max(0.0);
        (about / (self.count - 2.0)).sqrt() / self.tt.sqrt() * self.span_s
    }
}

impl Readings {
    pub(super) fn push(&mut self, t_ms: BootMs, kpa: f64) {
        self.readings.push_back((t_ms, kpa));
        if self.readings.len() == 1 {
            self.afresh();
        } else {
            self.change((t_ms, kpa), 1.0);
        }
    }

    /// The oldest goes.
    pub(super) fn pop(&mut self) {
        if let Some(oldest) = self.readings.pop_front() {
            self.change(oldest, -1.0);
        }
    }

    pub(super) fn clear(&mut self) {
        self.readings.clear();
        self.afresh();
    }

    pub(super) fn get(&self, i: usize) -> Option<(BootMs, f64)> {
        self.readings.get(i).copied()
    }

    pub(super) fn last(&self) -> Option<(BootMs, f64)> {
        self.readings.back().copied()
    }

    pub(super) fn len(&self) -> usize {
        self.readings.len()
    }

    pub(super) fn iter(&self) -> impl Iterator<Item = (BootMs, f64)> + Clone {
        self.readings.iter().copied()
    }

    fn change(&mut self, reading: (BootMs, f64), sign: f64) {
        self.changes += 1;
        if self.changes > FRESH_AFTER {
            self.afresh();
        } else {
            self.sums.add(self.base, reading, sign);
        }
    }

    fn afresh(&mut self) {
        self.base = self.readings.front().copied().unwrap_or_default();
        self.changes = 0;
        self.sums = Sums::default();
        for reading in &self.readings {
            self.sums.add(self.base, *reading, 1.0);
        }
    }

    /// Least squares (any textbook). `None` of fewer than `least` readings.
    pub(super) fn line(&self, least: usize) -> Option<TrendLine> {
        let n = self.readings.len();
        if n < least {
            return None;
        }
        let span_s = (self.last()?.0.since(self.get(0)?.0)) as f64 / 1000.0;
        let (count, sums) = (n as f64, &self.sums);
        let tt = (sums.tt - sums.t * sums.t / count) / 1e6;
        let tp = (sums.tp - sums.t * sums.p / count) / 1e3;
        let pp = sums.pp - sums.p * sums.p / count;
        if tt <= 0.0 {
            return None;
        }
        let slope = tp / tt;
        Some(TrendLine {
            slope_kpa_s: slope,
            rise_kpa: slope * span_s,
            count,
            span_s,
            tt,
            tp,
            pp,
        })
    }
}

impl Sums {
    fn add(&mut self, base: (BootMs, f64), reading: (BootMs, f64), sign: f64) {
        let (t, p) = (reading.0.since(base.0) as f64, reading.1 - base.1);
        self.t += sign * t;
        self.p += sign * p;
        self.tt += sign * t * t;
        self.tp += sign * t * p;
        self.pp += sign * p * p;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same by the textbook, gone through anew each time.
    fn anew(readings: &Readings) -> (f64, f64) {
        let count = readings.len() as f64;
        let first_ms = readings.get(0).map_or(BootMs(0), |r| r.0);
        let at = |r: (BootMs, f64)| r.0.since(first_ms) as f64 / 1000.0;
        let mean_t = readings.iter().map(at).sum::<f64>() / count;
        let mean_p = readings.iter().map(|r| r.1).sum::<f64>() / count;
        let (mut tt, mut tp, mut pp) = (0.0, 0.0, 0.0);
        for r in readings.iter() {
            let (dt, dp) = (at(r) - mean_t, r.1 - mean_p);
            tt += dt * dt;
            tp += dt * dp;
            pp += dp * dp;
        }
        let slope = tp / tt;
        let span_s = readings.last().map_or(0.0, at);
        let scatter = ((pp - slope * tp).max(0.0) / (count - 2.0)).sqrt();
        (slope * span_s, scatter / tt.sqrt() * span_s)
    }

    /// A day of readings at 1,000 kPa and more, each 20 ms or each 30 s: the sums
    /// stay right to far below what matters (kPa).
    #[test]
    fn sums_kept_up_to_date_stay_those_of_the_readings() {
        for (step_ms, held) in [(20, 200), (30_000, 4)] {
            let mut readings = Readings::default();
            for i in 0..100_000_i64 {
                let noise = (i.wrapping_mul(2_654_435_761) % 1_000) as f64 / 500.0 - 1.0;
                readings.push(
                    BootMs(i * step_ms),
                    1_000.0 + 100.0 * (i as f64 / 900.0).sin() + noise,
                );
                if readings.len() > held {
                    readings.pop();
                }
                let Some(line) = readings.line(4) else {
                    continue;
                };
                let (rise, doubt) = anew(&readings);
                assert!((line.rise_kpa - rise).abs() < 1e-7, "{i}: {line:?} {rise}");
                assert!(
                    (line.doubt_kpa() - doubt).abs() < 1e-4,
                    "{i}: {line:?} {doubt}"
                );
            }
        }
    }
}
