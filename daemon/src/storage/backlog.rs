//! The backlog of commands: bounded, and every row it gives up is counted.

use crate::session::StorageCommand;
use seep_common::store::cause::NOT_STORED;
use seep_common::store::{Batch, Gap};
use seep_common::time::BootMs;
use std::collections::VecDeque;

/// Commands not yet carried out. Holds at most so many values of readings; when
/// the log cannot be written for longer than that lasts, the oldest rows go,
/// and a gap and a count say so.
#[derive(Debug)]
pub(crate) struct Backlog {
    commands: VecDeque<StorageCommand>,
    cells: usize,
    most_cells: usize,
    lost: Lost,
}

/// Rows given up, not yet told to the log.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Lost {
    /// How many.
    pub ticks: u64,
    /// First and last.
    pub span_ms: Option<(BootMs, BootMs)>,
}

impl Backlog {
    /// An empty one for at most so many values.
    pub(crate) fn new(most_cells: usize) -> Self {
        Backlog {
            commands: VecDeque::new(),
            cells: 0,
            most_cells,
            lost: Lost::default(),
        }
    }

    /// Takes a command; makes room when there is none.
    pub(crate) fn push(&mut self, command: StorageCommand) {
        if let StorageCommand::Store(batch) = &command {
            self.cells += cells(batch);
        }
        self.commands.push_back(command);
        while self.cells > self.most_cells && self.give_up_oldest() {}
    }

    /// The next command.
    pub(crate) fn pop(&mut self) -> Option<StorageCommand> {
        let command = self.commands.pop_front()?;
        if let StorageCommand::Store(batch) = &command {
            self.cells -= cells(batch);
        }
        Some(command)
    }

    /// A command that could not be carried out goes back to the front.
    pub(crate) fn put_back(&mut self, command: StorageCommand) {
        if let StorageCommand::Store(batch) = &command {
            self.cells += cells(batch);
        }
        self.commands.push_front(command);
        while self.cells > self.most_cells && self.give_up_oldest() {}
    }

    /// Rows that wait.
    pub(crate) fn ticks(&self) -> usize {
        let of = |o: &StorageCommand| match o {
            StorageCommand::Store(batch) => batch.ticks.len(),
            _ => 0,
        };
        self.commands.iter().map(of).sum()
    }

    /// True when nothing waits.
    pub(crate) fn is_empty(&self) -> bool {
        self.commands.is_empty()
    }

    /// What was given up since the last call.
    pub(crate) fn take_lost(&mut self) -> Lost {
        std::mem::take(&mut self.lost)
    }

    /// Drop the readings of the oldest rows; everything else of them is kept.
    fn give_up_oldest(&mut self) -> bool {
        let full = self.commands.iter_mut().find_map(|o| match o {
            StorageCommand::Store(batch) if !batch.ticks.is_empty() => Some(batch),
            _ => None,
        });
        let Some(batch) = full else {
            return false;
        };
        self.cells -= cells(batch);
        let (Some(first), Some(last)) = (batch.ticks.first(), batch.ticks.last()) else {
            return false;
        };
        self.lost.add(&Lost {
            ticks: batch.ticks.len() as u64,
            span_ms: Some((first.t_ms, last.t_ms)),
        });
        batch.ticks = Vec::new();
        true
    }
}

impl Lost {
    /// More was given up.
    pub(crate) fn add(&mut self, more: &Lost) {
        self.ticks += more.ticks;
        self.span_ms = match (self.span_ms, more.span_ms) {
            (Some(a), Some(b)) => Some((a.0.min(b.0), a.1.max(b.1))),
            (a, b) => a.or(b),
        };
    }

    /// The gap that tells it.
    pub(crate) fn gap(&self) -> Option<Gap<BootMs>> {
        self.span_ms.map(|(from_t_ms, to_t_ms)| Gap {
            from_t_ms,
            to_t_ms: to_t_ms.plus(1),
            cause: NOT_STORED.into(),
            what: None,
        })
    }
}

fn cells(batch: &Batch<BootMs>) -> usize {
    batch.ticks.iter().map(|t| t.counts.len() + 2).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::tick::Tick;

    fn store(from: i64, n: i64) -> StorageCommand {
        StorageCommand::Store(Batch {
            ticks: (from..from + n)
                .map(|t| Tick {
                    t_ms: BootMs(t),
                    counts: vec![Some(1); 8],
                })
                .collect(),
            ..Batch::default()
        })
    }

    #[test]
    fn order_is_kept_and_an_order_can_go_back() {
        let mut backlog = Backlog::new(1_000);
        backlog.push(store(0, 2));
        backlog.push(store(2, 3));
        let first = backlog.pop().expect("one");
        backlog.put_back(first);
        assert_eq!(backlog.ticks(), 5);
        assert!(matches!(backlog.pop(), Some(StorageCommand::Store(b)) if b.ticks.len() == 2));
        assert_eq!(backlog.take_lost(), Lost::default());
    }

    #[test]
    fn what_does_not_fit_is_the_oldest_and_is_told() {
        let mut backlog = Backlog::new(100);
        for i in 0..5 {
            backlog.push(store(i * 10, 4)); // 40 values each
        }
        assert_eq!(backlog.ticks(), 8);
        let lost = backlog.take_lost();
        assert_eq!(lost.ticks, 12);
        let gap = lost.gap().expect("a gap");
        assert_eq!((gap.from_t_ms, gap.to_t_ms), (BootMs(0), BootMs(24)));
        assert_eq!(gap.cause, NOT_STORED);
        assert_eq!(backlog.take_lost().gap(), None);
    }
}
