//! Lays the times of one input into an order that never goes back.
//!
//! Initial state: nothing known. Question to each item: does its time follow
//! from what came before? A step (back, or ahead by more than a power-off) must
//! be confirmed by the item after it, else it was a glitch of a single stamp.
//! Policy: a confirmed step back continues the order and tells the new relation
//! to wall time; a glitch keeps its reading at the time of its neighbours. Both
//! are counted.

use crate::counts::{Count, Counts};
use crate::source::{Item, Payload};
use seep_common::time::BootMs;

/// A step is accepted at the latest after so many items of one same time.
const MOST_HELD: usize = 4096;

/// One input's timeline.
#[derive(Debug)]
pub(super) struct Timeline {
    source: usize,
    back_ms: i64,
    ahead_ms: i64,
    /// Item time minus input time, ms.
    shift_ms: i64,
    last_ms: Option<BootMs>,
    held: Vec<Item>,
}

impl Timeline {
    /// Items may be out of order by `back_ms`; ahead by more than `ahead_ms` is
    /// a step. Trouble is counted for `source`.
    pub(super) fn new(source: usize, back_ms: i64, ahead_ms: i64) -> Self {
        Timeline {
            source,
            back_ms,
            ahead_ms,
            shift_ms: 0,
            last_ms: None,
            held: Vec::new(),
        }
    }

    /// Take an item at the input's own time.
    #[inline]
    pub(super) fn push(&mut self, item: Item, out: &mut Vec<Item>, counts: &mut Counts) {
        let Some(last_ms) = self.last_ms else {
            self.last_ms = Some(item.t_ms);
            out.push(Item {
                t_ms: item.t_ms,
                payload: Payload::Clock(0),
            });
            out.push(item);
            return;
        };
        let t_ms = item.t_ms.plus(self.shift_ms);
        if self.held.is_empty() && self.follows(t_ms, last_ms) {
            self.last_ms = Some(last_ms.max(t_ms));
            out.push(Item { t_ms, ..item });
            return;
        }
        self.question(item, t_ms, last_ms, out, counts);
    }

    /// The input ends: what was held for confirmation is believed.
    pub(super) fn finish(&mut self, out: &mut Vec<Item>, counts: &mut Counts) {
        if let Some(last_ms) = self.last_ms
            && !self.held.is_empty()
        {
            self.believe(last_ms, out, counts);
        }
    }

    fn follows(&self, t_ms: BootMs, last_ms: BootMs) -> bool {
        t_ms >= last_ms.plus(-self.back_ms) && t_ms <= last_ms.plus(self.ahead_ms)
    }

    fn question(
        &mut self,
        item: Item,
        t_ms: BootMs,
        last_ms: BootMs,
        out: &mut Vec<Item>,
        counts: &mut Counts,
    ) {
        let Some(first) = self.held.first().copied() else {
            self.held.push(item);
            return;
        };
        if item.t_ms == first.t_ms && self.held.len() < MOST_HELD {
            self.held.push(item);
            return;
        }
        if self.follows(t_ms, last_ms) {
            self.keep_glitches(last_ms, out, counts);
        } else if self.follows(item.t_ms, first.t_ms) {
            self.believe(last_ms, out, counts);
        } else {
            self.keep_glitches(last_ms, out, counts);
        }
        self.push(item, out, counts);
    }

    fn keep_glitches(&mut self, last_ms: BootMs, out: &mut Vec<Item>, counts: &mut Counts) {
        counts.add(self.source, Count::TimeGlitches, self.held.len() as u64);
        out.extend(self.held.drain(..).map(|item| Item {
            t_ms: last_ms,
            ..item
        }));
    }

    fn believe(&mut self, last_ms: BootMs, out: &mut Vec<Item>, counts: &mut Counts) {
        let Some(first) = self.held.first() else {
            return;
        };
        if first.t_ms.plus(self.shift_ms) < last_ms {
            counts.one(self.source, Count::StepsBack);
            self.shift_ms = last_ms.plus(1).since(first.t_ms);
            out.push(Item {
                t_ms: last_ms.plus(1),
                payload: Payload::Clock(-self.shift_ms),
            });
        }
        let shift_ms = self.shift_ms;
        self.last_ms = Some(first.t_ms.plus(shift_ms));
        out.extend(self.held.drain(..).map(|item| Item {
            t_ms: item.t_ms.plus(shift_ms),
            ..item
        }));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use seep_common::sample::ChannelIndex;

    fn run(times: &[i64]) -> (Vec<Item>, Counts) {
        let mut timeline = Timeline::new(0, 2_000, 120_000);
        let (mut out, mut counts) = (Vec::new(), Counts::new(1));
        for &t_ms in times {
            let payload = Payload::Reading(ChannelIndex(0), t_ms as f64);
            timeline.push(
                Item {
                    t_ms: BootMs(t_ms),
                    payload,
                },
                &mut out,
                &mut counts,
            );
        }
        timeline.finish(&mut out, &mut counts);
        (out, counts)
    }

    fn readings(items: &[Item]) -> Vec<i64> {
        let reading = |i: &&Item| matches!(i.payload, Payload::Reading(..));
        items.iter().filter(reading).map(|i| i.t_ms.0).collect()
    }

    #[test]
    fn a_confirmed_step_back_continues_and_tells_the_clock() {
        let (out, counts) = run(&[100_000, 101_000, 40_000, 41_000]);
        assert_eq!(readings(&out), [100_000, 101_000, 101_001, 102_001]);
        assert!(out.contains(&Item {
            t_ms: BootMs(101_001),
            payload: Payload::Clock(-61_001)
        }));
        assert_eq!(counts.total(0, Count::StepsBack), 1);
    }

    #[test]
    fn a_single_wrong_stamp_is_a_glitch_either_way() {
        for wrong in [0, 9_000_000] {
            let (out, counts) = run(&[100_000, 101_000, wrong, 102_000, 103_000]);
            assert_eq!(
                readings(&out),
                [100_000, 101_000, 101_000, 102_000, 103_000]
            );
            assert_eq!(counts.total(0, Count::TimeGlitches), 1);
            assert_eq!(counts.total(0, Count::StepsBack), 0);
        }
    }

    #[test]
    fn a_jump_ahead_is_a_power_off_not_a_step() {
        let (out, counts) = run(&[100_000, 900_000, 901_000]);
        assert_eq!(readings(&out), [100_000, 900_000, 901_000]);
        assert_eq!(counts.sum(Count::TimeGlitches), 0);
    }

    #[test]
    fn slightly_late_items_stay_where_they_are() {
        let (out, _) = run(&[100_000, 101_000, 100_500]);
        assert_eq!(readings(&out), [100_000, 101_000, 100_500]);
    }

    proptest! {
        /// No item vanishes, and none lies further back than the order allows.
        #[test]
        fn nothing_vanishes(times in prop::collection::vec(0i64..4_000_000, 1..200)) {
            let (out, _) = run(&times);
            let laid = readings(&out);
            prop_assert_eq!(laid.len(), times.len());
            let mut newest = i64::MIN;
            for t in laid {
                prop_assert!(newest == i64::MIN || t >= newest - 2_000);
                newest = newest.max(t);
            }
        }
    }
}
