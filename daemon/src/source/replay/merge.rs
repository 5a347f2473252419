//! Several inputs, one order of time.

use super::Input;
use super::timeline::Timeline;
use crate::counts::Counts;
use crate::source::Item;
use seep_common::time::BootMs;
use std::io;

/// One input with its timeline and what it has handed out ahead.
struct MergeInput {
    input: Box<dyn Input>,
    timeline: Timeline,
    ready: Vec<Item>,
    next: usize,
    ended: bool,
}

/// Merges inputs by their recorded times, holding one chunk of each.
pub(super) struct Merge {
    inputs: Vec<MergeInput>,
    raw: Vec<Item>,
}

impl Merge {
    pub(super) fn new(inputs: Vec<(Box<dyn Input>, Timeline)>) -> Self {
        let inputs = inputs.into_iter().map(|(input, timeline)| MergeInput {
            input,
            timeline,
            ready: Vec::new(),
            next: 0,
            ended: false,
        });
        Merge {
            inputs: inputs.collect(),
            raw: Vec::new(),
        }
    }

    /// Hand out the next stretch of items; nothing when all inputs have ended.
    pub(super) fn next(&mut self, out: &mut Vec<Item>, counts: &mut Counts) -> io::Result<()> {
        out.clear();
        for input in &mut self.inputs {
            input.refill(&mut self.raw, counts)?;
        }
        let mut fronts: Vec<(BootMs, usize)> = (self.inputs.iter().enumerate())
            .filter_map(|(i, input)| Some((input.front()?, i)))
            .collect();
        fronts.sort_unstable();
        let Some(&(_, first)) = fronts.first() else {
            return Ok(());
        };
        let until_ms = fronts.get(1).map_or(BootMs::MAX, |f| f.0);
        let input = &mut self.inputs[first];
        let rest = &input.ready[input.next..];
        let take = rest.iter().take_while(|i| i.t_ms <= until_ms).count();
        out.extend_from_slice(&rest[..take]);
        input.next += take;
        Ok(())
    }
}

impl MergeInput {
    fn front(&self) -> Option<BootMs> {
        self.ready.get(self.next).map(|item| item.t_ms)
    }

    fn refill(&mut self, raw: &mut Vec<Item>, counts: &mut Counts) -> io::Result<()> {
        while self.next == self.ready.len() && !self.ended {
            self.ready.clear();
            self.next = 0;
            raw.clear();
            self.ended = !self.input.fill(raw, counts)?;
            for &item in raw.iter() {
                self.timeline.push(item, &mut self.ready, counts);
            }
            if self.ended {
                self.timeline.finish(&mut self.ready, counts);
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::Payload;

    /// Items in chunks of two.
    struct Given(Vec<i64>);

    impl Input for Given {
        fn fill(&mut self, items: &mut Vec<Item>, _: &mut Counts) -> io::Result<bool> {
            let n = self.0.len().min(2);
            items.extend(self.0.drain(..n).map(|t_ms| Item {
                t_ms: BootMs(t_ms),
                payload: Payload::Alive,
            }));
            Ok(!self.0.is_empty())
        }
    }

    fn merged(inputs: &[&[i64]]) -> Vec<i64> {
        let inputs = inputs.iter().map(|times| {
            let input: Box<dyn Input> = Box::new(Given(times.to_vec()));
            (input, Timeline::new(0, 2_000, 120_000))
        });
        let mut merge = Merge::new(inputs.collect());
        let (mut out, mut all, mut counts) = (Vec::new(), Vec::new(), Counts::new(1));
        loop {
            merge.next(&mut out, &mut counts).expect("memory");
            if out.is_empty() {
                return all;
            }
            let alive = out.iter().filter(|i| i.payload == Payload::Alive);
            all.extend(alive.map(|i| i.t_ms.0));
        }
    }

    #[test]
    fn items_of_several_inputs_come_in_the_order_of_time() {
        let out = merged(&[&[1, 5, 9, 13, 17], &[2, 3, 4, 20], &[], &[6]]);
        assert_eq!(out, [1, 2, 3, 4, 5, 6, 9, 13, 17, 20]);
    }

    #[test]
    fn inputs_one_after_the_other_need_no_order_on_the_command_line() {
        assert_eq!(merged(&[&[100, 101], &[1, 2]]), [1, 2, 100, 101]);
    }
}
