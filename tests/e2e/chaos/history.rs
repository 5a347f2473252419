//! What was done to the recorder, and when.

use seep_common::store::cause::{LOG_CHANGED, NOT_RUNNING, NOT_STORED, RECORDER_PAUSED};
use std::fmt;

/// Boot time, ms.
pub(super) fn boot_ms() -> i64 {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::Boottime);
    now.tv_sec * 1000 + now.tv_nsec / 1_000_000
}

/// One thing that happened.
#[derive(Debug, Clone)]
pub(super) struct Happened {
    pub(super) name: String,
    pub(super) from_ms: i64,
    pub(super) to_ms: i64,
    /// Causes of gaps that it makes true.
    pub(super) causes: Vec<&'static str>,
    /// Since when a kill may have taken what was not stored; `None` for no kill.
    pub(super) took_since_ms: Option<i64>,
    /// It destroyed what a file held.
    pub(super) destroys: bool,
    /// What was sent in this stretch waited in the line until a recorder opened it.
    pub(super) unread: Option<(i64, i64)>,
}

/// Stands for the cause of a device that is away; the rest of the text is its path.
pub(super) const DEVICE_AWAY: &str = "is not there: unplugged";

/// Longest time from a reading to its place on the disk, ms (README: 5 s).
pub(super) const PROMISE_MS: i64 = 5_000;

/// Counts are stored once a minute, and then as soon as rows are.
const COUNTS_EVERY_MS: i64 = 60_000 + PROMISE_MS;

impl Happened {
    /// How long before its beginning and after its end a gap may lie that it causes,
    /// ms.
    fn reach_ms(&self, cause: &str) -> (i64, i64) {
        // A row of 1 s, a beat of 1 s at which it is noticed, and a busy machine.
        const NOTICED_MS: i64 = 2_500;
        let before_ms = if self.destroys && cause.contains(LOG_CHANGED) {
            // All that the file held.
            i64::MAX / 2
        } else if cause == NOT_RUNNING || cause == NOT_STORED || cause.contains(LOG_CHANGED) {
            // What was not stored yet, and the row before it.
            PROMISE_MS + NOTICED_MS
        } else {
            NOTICED_MS
        };
        (before_ms, NOTICED_MS)
    }
}

/// Everything that happened, in order.
#[derive(Debug, Default)]
pub(super) struct History {
    pub(super) happened: Vec<Happened>,
    /// When the wall clock was stepped, boot time, and how far it has been ahead of
    /// the machine's since then, ms.
    pub(super) steps: Vec<(i64, i64)>,
}

impl History {
    /// Note what is over now.
    pub(super) fn add(
        &mut self,
        name: String,
        from_ms: i64,
        causes: &[&'static str],
    ) -> &mut Happened {
        self.happened.push(Happened {
            name,
            from_ms,
            to_ms: boot_ms(),
            causes: causes.to_vec(),
            took_since_ms: None,
            destroys: false,
            unread: None,
        });
        self.happened.last_mut().expect("just added")
    }

    /// True when what makes this cause true covers the stretch from end to end.
    pub(super) fn makes_true(&self, cause: &str, from_ms: i64, to_ms: i64) -> bool {
        let mut reached_ms = from_ms;
        loop {
            let next = self.happened.iter().filter(|h| {
                let (before_ms, after_ms) = h.reach_ms(cause);
                // What was not stored yet has the age of the recorder's own time.
                let before_ms = before_ms.saturating_add(self.stopped_ms(reached_ms, h.from_ms));
                h.causes.iter().any(|c| cause.contains(c))
                    && h.from_ms.saturating_sub(before_ms) <= reached_ms
                    && h.to_ms + after_ms > reached_ms
            });
            let Some(end_ms) = next.map(|h| h.to_ms + h.reach_ms(cause).1).max() else {
                return false;
            };
            reached_ms = end_ms;
            if reached_ms >= to_ms {
                return true;
            }
        }
    }

    /// True when a kill took what was younger than the promise: 5 s of the recorder's
    /// own time. While it is stopped it can store nothing.
    pub(super) fn was_young(&self, ms: i64) -> bool {
        self.happened.iter().any(|h| {
            h.took_since_ms.is_some_and(|since| {
                let age_ms = since - ms - self.stopped_ms(ms, since);
                age_ms <= PROMISE_MS && ms <= h.to_ms
            })
        })
    }

    fn stopped_ms(&self, from_ms: i64, to_ms: i64) -> i64 {
        let stopped = |h: &&Happened| h.causes == STOPPED;
        let within = |h: &Happened| (h.to_ms.min(to_ms) - h.from_ms.max(from_ms)).max(0);
        self.happened.iter().filter(stopped).map(within).sum()
    }

    /// True when it was sent while no recorder read the line.
    pub(super) fn was_unread(&self, (before_ms, after_ms): (i64, i64)) -> bool {
        let mut unread = self.happened.iter().filter_map(|h| h.unread);
        unread.any(|(from_ms, to_ms)| from_ms <= before_ms && after_ms <= to_ms)
    }

    /// True when counts of the recorder that was started after this moment went with
    /// a kill or a file: they are stored once a minute.
    pub(super) fn forgot_later_counts(&self, ms: i64) -> bool {
        self.happened.iter().any(|h| {
            (h.took_since_ms.is_some() && h.from_ms > ms && h.from_ms <= ms + COUNTS_EVERY_MS)
                || (h.destroys && h.to_ms >= ms)
        })
    }

    /// How far the wall clock can have been ahead of the machine's when a reading was
    /// recorded: the recorder looks once a second, and a row lasts a second.
    pub(super) fn clock_ahead_ms(&self, t_ms: i64) -> Vec<i64> {
        const LOOK_MS: i64 = 1_000;
        const ROW_MS: i64 = 1_000;
        const BUSY_MS: i64 = 500;
        let (from, to) = (t_ms - LOOK_MS - BUSY_MS, t_ms + ROW_MS + BUSY_MS);
        let ends = self.steps.iter().skip(1).map(|s| s.0);
        let ends = ends.chain([i64::MAX]);
        let first_end = self.steps.first().map_or(i64::MAX, |s| s.0);
        let steps = self.steps.iter().zip(ends);
        let spans = steps.map(|((start, ahead), end)| (*start, end, *ahead));
        std::iter::once((i64::MIN, first_end, 0))
            .chain(spans)
            .filter(|(start, end, _)| *start <= to && *end >= from)
            .map(|span| span.2)
            .collect()
    }

    /// True while a stop, a reload or a start was under way.
    pub(super) fn was_away(&self, before_ms: i64, after_ms: i64) -> bool {
        // What the line still holds when the recorder closes it, and the time
        // until the next one has opened it.
        const AROUND_MS: i64 = 1_000;
        self.happened.iter().any(|h| {
            h.causes.contains(&NOT_RUNNING)
                && before_ms <= h.to_ms + AROUND_MS
                && after_ms >= h.from_ms - AROUND_MS
        })
    }

    /// True when counts of this moment went with a kill or a file: they are stored
    /// once a minute.
    pub(super) fn forgot_counts(&self, ms: i64) -> bool {
        self.happened.iter().any(|h| {
            (h.took_since_ms.is_some() && h.to_ms >= ms && h.from_ms <= ms + COUNTS_EVERY_MS)
                || (h.destroys && h.to_ms >= ms)
        })
    }

    /// True when a file that may have held this reading was destroyed afterwards.
    pub(super) fn was_destroyed(&self, ms: i64) -> bool {
        self.happened.iter().any(|h| h.destroys && h.to_ms >= ms)
    }
}

impl fmt::Display for History {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for h in &self.happened {
            writeln!(f, "  {}..{} ms {}", h.from_ms, h.to_ms, h.name)?;
        }
        Ok(())
    }
}

pub(super) const KILLED: [&str; 1] = [NOT_RUNNING];
pub(super) const STOPPED: [&str; 1] = [RECORDER_PAUSED];
pub(super) const CHANGED: [&str; 2] = [LOG_CHANGED, NOT_RUNNING];
pub(super) const FULL: [&str; 1] = [NOT_STORED];
