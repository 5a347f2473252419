//! The service manager's watchdog, fed only while every task makes progress.

use crate::source::live::Heartbeat;
use std::time::{Duration, Instant};

/// A task that stands still for this long is stuck.
const STUCK: Duration = Duration::from_secs(40);

/// Looks at the progress of every task.
#[derive(Debug)]
pub(crate) struct Watchdog {
    seen: Vec<(u64, Instant)>,
}

impl Watchdog {
    /// For so many sources and the storage thread.
    pub(crate) fn new(sources: usize) -> Self {
        Watchdog {
            seen: vec![(0, Instant::now()); sources + 1],
        }
    }

    /// True while all go on. A source that takes no part (`live` false) never
    /// beats and is not waited for.
    pub(crate) fn all_go_on(&mut self, beat: &Heartbeat, live: &[bool], storage: u64) -> bool {
        let now = Instant::now();
        let sources = live.iter().enumerate();
        let beats: Vec<Option<u64>> = sources
            .map(|(i, &live)| live.then(|| beat.of(i)))
            .chain([Some(storage)])
            .collect();
        let mut good = true;
        for (seen, beat) in self.seen.iter_mut().zip(beats) {
            match beat {
                Some(beat) if beat == seen.0 => good &= now - seen.1 < STUCK,
                Some(beat) => *seen = (beat, now),
                None => {}
            }
        }
        good
    }
}
