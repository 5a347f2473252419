//! Moves that no valve channel tells: steps that do not go on.
//!
//! A valve moves a pressure by tens of kPa and then it stands. A leak falls as far
//! between two readings when readings are rare, but it goes on at the same
//! conductance: the logarithm of the pressure keeps its slope.

use super::quiet::Quiet;

/// Change between neighbours that can be a move, kPa. Common practice, no source.
const STEP_KPA: f32 = 4.0;

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
/// ones (0 to absolute ones).
pub(super) fn unseen_moves(readings: &Quiet, outside_kpa_abs: f32) -> Vec<UnseenMove> {
    let (t, kpa) = (&readings.t_ms, &readings.values);
    let is_step = |i: usize| (kpa[i + 1] - kpa[i]).abs() > STEP_KPA && t[i + 1] - t[i] < FAR_MS;
    let mut out = Vec::new();
    let mut i = 0;
    while i + 1 < kpa.len() {
        if !is_step(i) {
            i += 1;
            continue;
        }
        let from = i;
        let upward = kpa[i + 1] > kpa[i];
        while i + 1 < kpa.len() && is_step(i) && (kpa[i + 1] > kpa[i]) == upward {
            i += 1;
        }
        if !goes_on(t, kpa, i, outside_kpa_abs) {
            out.push(UnseenMove {
                from_ms: t[from] + 1,
                to_ms: t[i] + 1,
                upward,
            });
        }
    }
    out
}

/// Whether what follows reading `last` has the slope of the step that led to it.
fn goes_on(t: &[i64], kpa: &[f32], last: usize, outside: f32) -> bool {
    let slope = |a: usize, b: usize| {
        let ratio = f64::from((kpa[b] + outside).max(1.0)) / f64::from((kpa[a] + outside).max(1.0));
        ratio.ln() / (t[b] - t[a]) as f64
    };
    let until = t.partition_point(|at| *at < t[last] + FOLLOWING_MS);
    let end = until.max(last + FOLLOWING).min(kpa.len() - 1);
    end > last && slope(last, end) / slope(last - 1, last) > GOES_ON
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
            assert_eq!(unseen_moves(&fall, 100.0), [], "{period_s} s");
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
        let found = unseen_moves(&readings(60, 200, level), 100.0);
        assert_eq!(
            spans(&found),
            [(2_940_001, 3_000_001, false), (5_940_001, 6_060_001, true)]
        );
    }

    #[test]
    fn a_dump_out_of_a_leaking_corner_is_a_move() {
        let k = 50.0 / 60_000.0 / 3.0;
        let level = |t: f64| {
            let dumped = if t < 3_000.0 { 0.0 } else { 80.0 };
            (700.0 - dumped) * (-k * t).exp() - 100.0
        };
        let found = unseen_moves(&readings(60, 200, level), 100.0);
        assert_eq!(spans(&found), [(2_940_001, 3_000_001, false)]);
    }
}
