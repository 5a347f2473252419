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
}

/// Stands for the cause of a device that is away; the rest of the text is its path.
pub(super) const DEVICE_AWAY: &str = "is not there: unplugged";

/// Longest time from a reading to its place on the disk, ms (README: 5 s).
pub(super) const PROMISE_MS: i64 = 5_000;

/// Everything that happened, in order.
#[derive(Debug, Default)]
pub(super) struct History(pub(super) Vec<Happened>);

impl History {
    /// Note what is over now.
    pub(super) fn add(&mut self, name: String, from_ms: i64, causes: &[&'static str]) -> usize {
        self.0.push(Happened {
            name,
            from_ms,
            to_ms: boot_ms(),
            causes: causes.to_vec(),
            took_since_ms: None,
            destroys: false,
        });
        self.0.len() - 1
    }

    /// True when something happened around a stretch that makes this cause true.
    pub(super) fn makes_true(&self, cause: &str, from_ms: i64, to_ms: i64) -> bool {
        // What a change destroys was stored a while before, and what is noticed
        // is noticed with the next commit.
        const SLACK_MS: i64 = PROMISE_MS + 1_000;
        self.0.iter().any(|h| {
            h.from_ms <= to_ms + SLACK_MS
                && h.to_ms >= from_ms - SLACK_MS
                && h.causes.iter().any(|c| cause.contains(c))
        })
    }

    /// True when a kill took what was younger than the promise. Time in which the
    /// recorder stood still, or said that the disk is full, does not count.
    pub(super) fn was_young(&self, ms: i64) -> bool {
        self.0.iter().any(|h| {
            h.took_since_ms.is_some_and(|since| {
                let age_ms = since - ms - self.held_up_ms(ms, since);
                age_ms <= PROMISE_MS && ms <= h.to_ms
            })
        })
    }

    fn held_up_ms(&self, from_ms: i64, to_ms: i64) -> i64 {
        let held_up = |h: &&Happened| h.causes == STOPPED || h.causes == FULL;
        let within = |h: &Happened| (h.to_ms.min(to_ms) - h.from_ms.max(from_ms)).max(0);
        self.0.iter().filter(held_up).map(within).sum()
    }

    /// True while a stop, a reload or a start was under way.
    pub(super) fn was_away(&self, before_ms: i64, after_ms: i64) -> bool {
        // What the line still holds when the recorder closes it, and the time
        // until the next one has opened it.
        const AROUND_MS: i64 = 1_000;
        self.0.iter().any(|h| {
            h.causes.contains(&NOT_RUNNING)
                && before_ms <= h.to_ms + AROUND_MS
                && after_ms >= h.from_ms - AROUND_MS
        })
    }

    /// True when counts of this moment went with a kill or a file: they are stored
    /// once a minute.
    pub(super) fn forgot_counts(&self, ms: i64) -> bool {
        const EVERY_MS: i64 = 60_000 + PROMISE_MS;
        self.0.iter().any(|h| {
            (h.took_since_ms.is_some() && h.to_ms >= ms && h.from_ms <= ms + EVERY_MS)
                || (h.destroys && h.to_ms >= ms)
        })
    }

    /// True when a file that may have held this reading was destroyed afterwards.
    pub(super) fn was_destroyed(&self, ms: i64) -> bool {
        self.0.iter().any(|h| h.destroys && h.to_ms >= ms)
    }
}

impl fmt::Display for History {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for h in &self.0 {
            writeln!(f, "  {}..{} ms {}", h.from_ms, h.to_ms, h.name)?;
        }
        Ok(())
    }
}

pub(super) const KILLED: [&str; 1] = [NOT_RUNNING];
pub(super) const STOPPED: [&str; 1] = [RECORDER_PAUSED];
pub(super) const CHANGED: [&str; 2] = [LOG_CHANGED, NOT_RUNNING];
pub(super) const FULL: [&str; 1] = [NOT_STORED];
