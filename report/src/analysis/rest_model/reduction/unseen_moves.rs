//! Moves that no valve channel tells: steps that do not go on.
//!
//! A valve moves a pressure by tens of kPa and then it stands. A leak falls as far
//! between two readings when readings are rare, but it goes on at the same
//! conductance: the logarithm of the pressure keeps its slope.

use super::quiet::Quiet;

/// Change between neighbours that can be a move, kPa. Common practice, no source.
pub(super) const STEP_KPA: f32 = 4.0;

/// Readings are looked at no closer than this, ms: a move lasts seconds, in which a fast
/// recording sees it go on from reading to reading as a leak does for hours.
const APART_MS: i64 = 10_000;

/// Readings further apart than this tell nothing of a step, ms: a silence is judged
/// by what lies on both its sides.
const FAR_MS: i64 = 900_000;

/// A step goes on when what follows keeps this share of its last slope.
const GOES_ON: f64 = 0.3;

/// What follows is looked at for so long, and for so many readings, ms.
const FOLLOWING_MS: i64 = 300_000;
const FOLLOWING: usize = 5;

/// A move told by the pressure alone, between two readings, ms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct UnseenMove {
    /// Just after the last reading before it.
    pub(super) from_ms: i64,
    /// Just after the first reading behind it.
    pub(super) to_ms: i64,
    /// True when the pressure rose.
    pub(super) upward: bool,
}

/// Stretches in which the pressure stepped and then stood.
///
/// **Units**: readings kPa, gauge or absolute; `outside_kpa_abs` is added to gauge
/// ones (0 to absolute ones); `step_kpa` is the smallest change that can be a move.
pub(super) fn unseen_moves(
    readings: &Quiet,
    outside_kpa_abs: f32,
    step_kpa: f32,
) -> Vec<UnseenMove> {
    let (t_ms, kpa) = apart(readings);
    let series = MoveSeries {
        t_ms: &t_ms,
        kpa: &kpa,
        outside_kpa_abs,
        step_kpa,
    };
    let mut out: Vec<UnseenMove> = Vec::new();
    for i in 0..series.kpa.len().saturating_sub(1) {
        if !series.is_step(i) || series.goes_on(i) {
            continue;
        }
        let found = UnseenMove {
            from_ms: series.t_ms[series.start_of_move(i)] + 1,
            to_ms: series.t_ms[i + 1] + 1,
            upward: series.is_upward(i),
        };
        match out.last_mut() {
            Some(last) if last.upward == found.upward && found.from_ms <= last.to_ms => {
                last.to_ms = found.to_ms;
            }
            _ => out.push(found),
        }
    }
    out
}

/// Readings at least [`APART_MS`] apart, and the last before a silence.
fn apart(readings: &Quiet) -> (Vec<i64>, Vec<f32>) {
    let n = readings.t_ms.len();
    let (mut t_ms, mut kpa) = (Vec::new(), Vec::new());
    let mut last = i64::MIN;
    for i in 0..n {
        let t = readings.t_ms[i];
        let next_is_far = readings
            .t_ms
            .get(i + 1)
            .is_none_or(|next| next - t >= APART_MS);
        if t.saturating_sub(last) >= APART_MS || next_is_far {
            t_ms.push(t);
            kpa.push(readings.values[i]);
            last = t;
        }
    }
    (t_ms, kpa)
}

/// Readings of one pressure; interval `i` lies between readings `i` and `i + 1`.
struct MoveSeries<'a> {
    t_ms: &'a [i64],
    kpa: &'a [f32],
    outside_kpa_abs: f32,
    step_kpa: f32,
}

impl MoveSeries<'_> {
    fn is_step(&self, i: usize) -> bool {
        (self.kpa[i + 1] - self.kpa[i]).abs() > self.step_kpa
            && self.t_ms[i + 1] - self.t_ms[i] < FAR_MS
    }

    fn is_upward(&self, i: usize) -> bool {
        self.kpa[i + 1] > self.kpa[i]
    }

    /// Slope of the logarithm of the absolute pressure between two readings.
    fn slope(&self, from: usize, to: usize) -> f64 {
        let abs = |i: usize| f64::from((self.kpa[i] + self.outside_kpa_abs).max(1.0));
        (abs(to) / abs(from)).ln() / (self.t_ms[to] - self.t_ms[from]) as f64
    }

    /// Whether what follows step `i`, at once or over the next minutes, keeps its
    /// slope. At the end of a session what came before must tell.
    fn goes_on(&self, i: usize) -> bool {
        let own = self.slope(i, i + 1);
        let keeps = |slope: f64| slope / own > GOES_ON;
        if i + 2 < self.kpa.len() {
            keeps(self.slope(i + 1, i + 2)) || keeps(self.following(i))
        } else {
            i > 0 && keeps(self.slope(i - 1, i))
        }
    }

    /// Slope over the minutes behind step `i`, which is not the last.
    fn following(&self, i: usize) -> f64 {
        let until = self
            .t_ms
            .partition_point(|at| *at < self.t_ms[i + 1] + FOLLOWING_MS);
        let end = until.max(i + 1 + FOLLOWING).min(self.kpa.len() - 1);
        self.slope(i + 1, end)
    }

    /// First reading of the move that ends with step `i`: steps before it belong to
    /// it where they are steeper than what follows.
    fn start_of_move(&self, i: usize) -> usize {
        let after = if i + 2 < self.kpa.len() {
            self.following(i)
        } else {
            0.0
        };
        let belongs = |k: usize| {
            self.is_step(k)
                && self.is_upward(k) == self.is_upward(i)
                && after / self.slope(k, k + 1) <= GOES_ON
        };
        let mut start = i;
        while start > 0 && belongs(start - 1) {
            start -= 1;
        }
        start
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(period_s: i64, n: i64, kpa: impl Fn(f64) -> f64) -> Quiet {
        Quiet {
            t_ms: (0..n).map(|i| i * period_s * 1_000).collect(),
            values: (0..n).map(|i| kpa((i * period_s) as f64) as f32).collect(),
        }
    }

    fn spans(found: &[UnseenMove]) -> Vec<(i64, i64, bool)> {
        found
            .iter()
            .map(|m| (m.from_ms, m.to_ms, m.upward))
            .collect()
    }

    #[test]
    fn a_fall_that_goes_on_is_a_leak_however_fast() {
        // 345 cm³/min ANR out of 3 L: k = 345/60000/3 a second.
        let k = 345.0 / 60_000.0 / 3.0;
        for period_s in [1, 30, 60, 240] {
            let fall = readings(period_s, 12_000 / period_s, |t| {
                700.0 * (-k * t).exp() - 100.0
            });
            assert_eq!(unseen_moves(&fall, 100.0, STEP_KPA), [], "{period_s} s");
        }
    }

    #[test]
    fn a_dump_and_a_fill_between_readings_are_moves() {
        let level = |t: f64| match t {
            t if t < 3_000.0 => 500.0,
            t if t < 6_000.0 => 440.0,
            t if t < 6_060.0 => 470.0,
            _ => 520.0,
        };
        let found = unseen_moves(&readings(60, 200, level), 100.0, STEP_KPA);
        assert_eq!(
            spans(&found),
            [(2_940_001, 3_000_001, false), (5_940_001, 6_060_001, true)]
        );
    }

    /// Invented: 12 kPa within 4 s, ever slower, as a fill that lifts the car.
    #[test]
    fn a_fast_recording_sees_a_small_fill_as_well() {
        let level = |t: f64| 490.0 + 12.5 * (1.0 - (-(t - 3_000.0).max(0.0) / 1.5).exp());
        for period_s in [1, 2, 5, 10, 60] {
            let found = unseen_moves(
                &readings(period_s, 6_000 / period_s, level),
                100.0,
                STEP_KPA,
            );
            assert_eq!(found.len(), 1, "{period_s} s: {found:?}");
            assert!(found[0].upward && found[0].from_ms <= 3_000_001);
            assert!((3_002_000..3_070_000).contains(&found[0].to_ms));
        }
    }

    #[test]
    fn a_leak_that_the_session_cuts_off_is_no_move() {
        let k = 345.0 / 60_000.0 / 3.0;
        let fall = readings(60, 6, |t| 700.0 * (-k * t).exp() - 100.0);
        assert_eq!(unseen_moves(&fall, 100.0, STEP_KPA), []);
    }

    #[test]
    fn a_dump_out_of_a_leaking_corner_is_a_move() {
        let k = 50.0 / 60_000.0 / 3.0;
        let level = |t: f64| {
            let dumped = if t < 3_000.0 { 0.0 } else { 80.0 };
            (700.0 - dumped) * (-k * t).exp() - 100.0
        };
        let found = unseen_moves(&readings(60, 200, level), 100.0, STEP_KPA);
        assert_eq!(spans(&found), [(2_940_001, 3_000_001, false)]);
    }
}
