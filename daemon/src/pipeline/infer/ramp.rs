//! Tells a steady climb or fall of one pressure from noise.
//!
//! A straight line is fitted to the readings of the last seconds. The line's
//! rise over that stretch must exceed what its own scatter could feign, so that
//! a rough road raises the bar by itself.
//!
//! Initial state: level. Question to each reading: does the line of the last
//! stretch climb or fall beyond doubt? Policy: it must do so for two readings
//! in a row to open a ramp, and be below half of that to close it; the start is
//! laid where the pressure left its level, the end where it reached it.

use super::line::Readings;
use seep_common::time::BootMs;

/// Stretch looked at, ms.
const STRETCH_MS: i64 = 4_000;

/// Readings looked at, at least; with one reading in 30 s the stretch is long.
const LEAST_READINGS: usize = 4;

/// The rise must be so many standard errors of the line.
const BEYOND_DOUBT: f64 = 5.0;

/// A pause in the readings longer than this ends everything, ms.
const PAUSE_MS: i64 = 120_000;

/// What counts as a ramp.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limits {
    /// Over the stretch, kPa.
    pub least_rise_kpa: f64,
    /// kPa/s.
    pub least_slope_kpa_s: f64,
}

/// A ramp began or ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Turn {
    /// When, ms.
    pub t_ms: BootMs,
    /// A climb, not a fall.
    pub upward: bool,
    /// It began.
    pub on: bool,
}

/// Watches one pressure.
#[derive(Debug)]
pub(super) struct Ramp {
    limits: Limits,
    readings: Readings,
    open: Option<Open>,
    seen: u8,
}

#[derive(Debug, Clone, Copy)]
struct Open {
    upward: bool,
    from_kpa: f64,
    from_ms: BootMs,
}

impl Ramp {
    pub(super) fn new(limits: Limits) -> Self {
        Ramp {
            limits,
            readings: Readings::default(),
            open: None,
            seen: 0,
        }
    }

    /// Take a reading; at most an end and a beginning come out.
    pub(super) fn push(&mut self, t_ms: BootMs, kpa: f64) -> impl Iterator<Item = Turn> + use<> {
        let mut ended = None;
        if let Some((last_ms, _)) = self.readings.last() {
            if t_ms <= last_ms {
                return None.into_iter().chain(None);
            }
            if t_ms.since(last_ms) > PAUSE_MS {
                ended = self.finish();
            }
        }
        self.readings.push(t_ms, kpa);
        while self.readings.len() > LEAST_READINGS
            && self
                .readings
                .get(1)
                .is_some_and(|r| t_ms.since(r.0) >= STRETCH_MS)
        {
            self.readings.pop();
        }
        let turn = self.judge();
        ended.into_iter().chain(turn)
    }

    /// What is open ends with the last reading.
    pub(super) fn finish(&mut self) -> Option<Turn> {
        let last_ms = self.readings.last().map(|r| r.0);
        self.readings.clear();
        self.seen = 0;
        let open = self.open.take()?;
        Some(Turn {
            t_ms: last_ms?,
            upward: open.upward,
            on: false,
        })
    }

    fn judge(&mut self) -> Option<Turn> {
        let line = self.readings.line(LEAST_READINGS)?;
        let upward = line.rise_kpa > 0.0;
        let limits = self.limits;
        let needed = || limits.least_rise_kpa.max(BEYOND_DOUBT * line.doubt_kpa());
        let size = line.rise_kpa.abs();
        match self.open {
            None => {
                let large = size > limits.least_rise_kpa
                    && line.slope_kpa_s.abs() >= limits.least_slope_kpa_s;
                self.seen = if large && size > needed() {
                    self.seen + 1
                } else {
                    0
                };
                (self.seen >= 2).then(|| self.begin(upward))
            }
            Some(open) if open.upward != upward || size < needed() / 2.0 => Some(self.end(open)),
            Some(_) => None,
        }
    }

    fn begin(&mut self, upward: bool) -> Turn {
        self.seen = 0;
        let level = self.level_before();
        let last = self.readings.last().map_or(level, |r| r.1);
        // Where a tenth of the climb so far was reached, one reading earlier.
        let left = self
            .readings
            .iter()
            .position(|r| {
                (r.1 - level).abs() > 0.1 * (last - level).abs() && (r.1 > level) == upward
            })
            .unwrap_or(0);
        let before = self.readings.get(left.saturating_sub(1));
        let t_ms = before.map_or(BootMs(0), |r| r.0);
        self.open = Some(Open {
            upward,
            from_kpa: level,
            from_ms: t_ms,
        });
        Turn {
            t_ms,
            upward,
            on: true,
        }
    }

    fn end(&mut self, open: Open) -> Turn {
        self.open = None;
        self.seen = 0;
        // The pressure settles back a little afterwards, so its extreme, not
        // its last value, is where the ramp arrived.
        let since = self.readings.iter().filter(|r| r.0 > open.from_ms);
        let gain = |r: (BootMs, f64)| {
            let rise = r.1 - open.from_kpa;
            if open.upward { rise } else { -rise }
        };
        let whole = since.clone().map(gain).fold(0.0, f64::max);
        let arrived = since.clone().find(|r| gain(*r) >= 0.97 * whole);
        let t_ms = arrived
            .map_or(open.from_ms, |r| r.0)
            .max(open.from_ms.plus(1));
        Turn {
            t_ms,
            upward: open.upward,
            on: false,
        }
    }

    /// The pressure at the start of the stretch.
    fn level_before(&self) -> f64 {
        self.readings.get(0).map_or(0.0, |r| r.1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: Limits = Limits {
        least_rise_kpa: 12.0,
        least_slope_kpa_s: 2.0,
    };

    /// Invented noise, the same in every run.
    fn noise(i: i64) -> f64 {
        let x = (i as u64).wrapping_mul(6_364_136_223_846_793_005) >> 33;
        x as f64 / f64::from(u32::MAX >> 1) - 0.5
    }

    fn turns(step_ms: i64, kpa: impl Fn(i64) -> f64) -> Vec<Turn> {
        let mut ramp = Ramp::new(LIMITS);
        let times = (0..60_000).step_by(step_ms as usize);
        times.flat_map(|t| ramp.push(BootMs(t), kpa(t))).collect()
    }

    fn fill(t: i64) -> f64 {
        400.0 + 30.0 * ((t - 20_000) as f64 / 1000.0).clamp(0.0, 4.0)
    }

    #[test]
    fn a_fill_has_a_start_and_an_end_near_the_truth() {
        for (step_ms, within_ms) in [(20, 400), (100, 500), (1_000, 2_000)] {
            let found = turns(step_ms, |t| fill(t) + noise(t));
            assert_eq!(found.len(), 2, "{step_ms}: {found:?}");
            assert!(found[0].on && found[0].upward && !found[1].on);
            assert!(
                found[0].t_ms.since(BootMs(20_000)).abs() <= within_ms,
                "{found:?}"
            );
            assert!(
                found[1].t_ms.since(BootMs(24_000)).abs() <= within_ms,
                "{found:?}"
            );
        }
    }

    #[test]
    fn a_dump_falls() {
        let found = turns(100, |t| 900.0 - fill(t) + noise(t));
        assert_eq!(found.len(), 2);
        assert!(!found[0].upward);
    }

    #[test]
    fn noise_of_a_rough_road_is_no_ramp() {
        assert_eq!(turns(100, |t| 400.0 + 60.0 * noise(t)), []);
        assert_eq!(turns(20, |t| 400.0 + 60.0 * noise(t)), []);
    }

    #[test]
    fn a_slow_leak_and_a_warming_are_no_ramp() {
        assert_eq!(turns(1_000, |t| 400.0 - t as f64 / 10_000.0), []);
    }
}
