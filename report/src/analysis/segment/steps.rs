//! Busy by steps of the readings, block by block: a block whose readings all lie
//! within the step of one another holds none, and most are passed over by that;
//! those deep inside a drive are passed over unread.

use super::Busy;
use crate::analysis::extremes::extremes;
use std::ops::Range;

/// How far a step is looked back from, and how far around it is busy, ms.
const REACH_MS: i64 = 10_000;

/// Readings that are looked at together.
const BLOCK: usize = 64;

impl Busy {
    /// From the readings themselves, where no valve channel exists: a reading
    /// that lies further from its mean of the last 10 s than `step` marks 10 s
    /// before and after it as busy. Where nothing was read for as long, the last
    /// reading stands for the mean. Steps deep enough inside a drive that what they
    /// mark lies inside it too are not looked for: the car was busy there anyway.
    ///
    /// **Units**: `step` in the unit of `values`; times ms.
    #[must_use]
    pub fn from_steps(t_ms: &[i64], values: &[f32], step: f32, driving: &Busy) -> Self {
        let mut spans: Vec<(i64, i64)> = Vec::new();
        let mut ranges = Ranges::new(values);
        let mut recent = None;
        for (k, block) in t_ms.chunks(BLOCK).enumerate() {
            let from = k * BLOCK;
            let (Some(&first_ms), Some(&last_ms)) = (block.first(), block.last()) else {
                break;
            };
            if driving.covers(first_ms - REACH_MS, last_ms + REACH_MS) {
                recent = None;
                continue;
            }
            let since = t_ms[..from].partition_point(|t| *t < first_ms - REACH_MS) / BLOCK;
            if is_calm(ranges.of(since..k + 1), since == 0, step) {
                recent = None;
                continue;
            }
            let recent = recent.get_or_insert_with(|| Recent::before(t_ms, values, from));
            recent.steps(t_ms, values, from..from + block.len(), step, |i| {
                let t = t_ms[i];
                match spans.last_mut() {
                    Some(last) if t - REACH_MS <= last.1 => last.1 = t + REACH_MS,
                    _ => spans.push((t - REACH_MS, t + REACH_MS)),
                }
            });
        }
        Busy::new(spans)
    }
}

/// Smallest and largest reading of blocks, looked for when first asked for.
struct Ranges<'a> {
    values: &'a [f32],
    found: Vec<(f32, f32)>,
    /// Blocks before this one are found, as far as they were ever asked for.
    next: usize,
}

impl<'a> Ranges<'a> {
    fn new(values: &'a [f32]) -> Self {
        let nothing = (f32::INFINITY, f32::NEG_INFINITY);
        Ranges {
            values,
            found: vec![nothing; values.len().div_ceil(BLOCK)],
            next: 0,
        }
    }

    /// Of blocks; neither end of what is asked for may fall.
    fn of(&mut self, blocks: Range<usize>) -> &[(f32, f32)] {
        for k in self.next.max(blocks.start)..blocks.end {
            let to = self.values.len().min((k + 1) * BLOCK);
            self.found[k] = extremes(&self.values[k * BLOCK..to]);
        }
        self.next = self.next.max(blocks.end);
        &self.found[blocks]
    }
}

/// Whether no reading of the last block can be a step: those it is compared with
/// lie in the blocks before it, or in none at all.
fn is_calm(ranges: &[(f32, f32)], from_start: bool, step: f32) -> bool {
    let widest = |ranges: &[(f32, f32)]| {
        let both = |a: (f32, f32), b: &(f32, f32)| (a.0.min(b.0), a.1.max(b.1));
        ranges.iter().fold((f32::INFINITY, f32::NEG_INFINITY), both)
    };
    let before = widest(&ranges[..ranges.len() - 1]);
    let all = widest(ranges);
    (before.0 <= before.1 || from_start) && all.1 - all.0 <= step
}

/// The readings of the last 10 s, at least one once there is any.
#[derive(Debug, Default)]
struct Recent {
    /// Index of the first.
    first: usize,
    count: u32,
    sum: f64,
}

impl Recent {
    /// Those that a reading at an index or later may be compared with.
    fn before(t_ms: &[i64], values: &[f32], index: usize) -> Self {
        let spoken = |i: &usize| !values[*i].is_nan();
        let Some(last) = (0..index).rev().find(spoken) else {
            return Recent::default();
        };
        let since = t_ms[..last].partition_point(|t| *t < t_ms[last] - REACH_MS);
        let window = || (since..=last).filter(spoken);
        Recent {
            first: window().next().unwrap_or(last),
            count: window().count() as u32,
            sum: window().map(|i| f64::from(values[i])).sum(),
        }
    }

    /// Take the readings of a range, and tell of each that steps away from those
    /// before it.
    fn steps(
        &mut self,
        t_ms: &[i64],
        values: &[f32],
        range: Range<usize>,
        step: f32,
        mut tell: impl FnMut(usize),
    ) {
        // Far more than what rounding does to the quick comparison.
        let surely_below = f64::from(step) * 0.999;
        let Recent {
            mut first,
            mut count,
            mut sum,
        } = *self;
        for i in range {
            let value = values[i];
            if value.is_nan() {
                continue;
            }
            while count > 1 && t_ms[first] < t_ms[i] - REACH_MS {
                sum -= f64::from(values[first]);
                count -= 1;
                first += 1;
                while values[first].is_nan() {
                    first += 1;
                }
            }
            if count == 0 {
                first = i;
            } else {
                // A division for each reading would cost more than all else.
                let n = f64::from(count);
                let quick = (f64::from(value) * n - sum).abs() <= surely_below * n;
                if !quick && (value - (sum / n) as f32).abs() > step {
                    tell(i);
                }
            }
            count += 1;
            sum += f64::from(value);
        }
        *self = Recent { first, count, sum };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn silence_between_readings_is_passed_over() {
        let t: Vec<i64> = (0..600).map(|s| s * 1000).collect();
        let level = |s: u16| if s >= 301 { 540.0 } else { 500.0 };
        let spoken = |s: u16| if s % 3 == 1 { level(s) } else { f32::NAN };
        let values: Vec<f32> = (0..600).map(spoken).collect();
        // The readings after the step that do not yet outweigh those before it.
        assert_eq!(
            Busy::from_steps(&t, &values, 4.0, Busy::never()).spans(),
            [(291_000, 317_000)]
        );
        assert_eq!(
            Busy::from_steps(&t, &[f32::NAN; 600], 4.0, Busy::never()).spans(),
            []
        );
    }

    #[test]
    fn a_step_in_pressure_is_busy_and_a_slow_fall_is_not() {
        let t: Vec<i64> = (0..600).map(|s| s * 1000).collect();
        let values: Vec<f32> = (0..600_u16)
            .map(|s| {
                let slow = 500.0 - 0.003 * f32::from(s);
                if s >= 300 { slow + 40.0 } else { slow }
            })
            .collect();
        let busy = Busy::from_steps(&t, &values, 4.0, Busy::never());
        assert!(busy.contains(300_000));
        assert!(!busy.contains(200_000) && !busy.contains(400_000));
    }

    /// By its definition: each reading against the mean of those before it.
    fn anew(t_ms: &[i64], values: &[f32], step: f32) -> Busy {
        let mut before: Vec<(i64, f64)> = Vec::new();
        let mut spans = Vec::new();
        for (&t, &v) in t_ms.iter().zip(values).filter(|r| !r.1.is_nan()) {
            while before.len() > 1 && before[0].0 < t - REACH_MS {
                before.remove(0);
            }
            let sum: f64 = before.iter().map(|r| r.1).sum();
            if (v - (sum / before.len() as f64) as f32).abs() > step {
                spans.push((t - REACH_MS, t + REACH_MS));
            }
            before.push((t, f64::from(v)));
        }
        Busy::new(spans)
    }

    /// Invented readings with pauses, silences and steps, of one round of many.
    fn invented(round: u64, random: &mut impl FnMut(u64) -> u64) -> (Vec<i64>, Vec<f32>) {
        let (mut t, mut level) = (0_i64, 500.0_f32);
        let (mut t_ms, mut values) = (Vec::new(), Vec::new());
        for _ in 0..random(1_500) {
            t += if random(300) == 0 {
                60_000
            } else {
                [20, 1_000][round as usize % 2]
            };
            level += if random(90) == 0 {
                random(9) as f32 - 4.0
            } else {
                0.0
            };
            let silent = random(1 + round % 7) > 0 || (t / 100_000) % 5 == 4;
            t_ms.push(t);
            values.push(if silent {
                f32::NAN
            } else {
                level + 0.1 * random(20) as f32
            });
        }
        (t_ms, values)
    }

    fn numbers() -> impl FnMut(u64) -> u64 {
        let mut state = 1_u64;
        move |below| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 33) % below
        }
    }

    #[test]
    fn beside_a_drive_nothing_changes_and_in_it_nothing_is_needed() {
        let mut random = numbers();
        let mut passed_over = 0;
        for round in 0..400 {
            let (t_ms, values) = invented(round, &mut random);
            let end = t_ms.last().copied().unwrap_or(0);
            let from = random(end as u64 / 2 + 1) as i64;
            let driving = Busy::new([(from, from + end / 2)]);
            let all = Busy::from_steps(&t_ms, &values, 4.0, Busy::never());
            let beside = Busy::from_steps(&t_ms, &values, 4.0, &driving);
            assert_eq!(beside.or(&driving), all.or(&driving));
            passed_over += usize::from(beside != all);
        }
        assert!(passed_over > 50, "{passed_over}");
    }

    #[test]
    fn blocks_change_nothing() {
        let mut random = numbers();
        for round in 0..400 {
            let (t_ms, values) = invented(round, &mut random);
            assert_eq!(
                Busy::from_steps(&t_ms, &values, 4.0, Busy::never()),
                anew(&t_ms, &values, 4.0)
            );
        }
    }
}
