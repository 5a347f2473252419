//! Everything a log holds, for comparing two logs.

use seep_common::store::{ClockRow, Event, Gap, Notice, Reader, Session, StoredChannel};
use seep_common::time::LogMs;
use std::collections::BTreeMap;
use std::path::Path;

/// Everything a log holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Contents {
    /// Sessions in the order recorded.
    pub sessions: Vec<Session>,
    /// Channels and what their columns mean.
    pub channels: Vec<StoredChannel>,
    /// Clock rows.
    pub clock: Vec<ClockRow>,
    /// Valve and compressor changes.
    pub events: Vec<Event>,
    /// Gaps.
    pub gaps: Vec<Gap>,
    /// Notices.
    pub notices: Vec<Notice>,
    /// Log times of the ticks, ms.
    pub t_ms: Vec<i64>,
    /// Bits of the readings, one vector per channel, so that silence equals silence.
    pub readings: Vec<Vec<u32>>,
    /// Counts by source and name.
    pub counters: BTreeMap<(String, String), i64>,
}

impl Contents {
    /// Read a log whole.
    ///
    /// # Panics
    /// When it cannot be read.
    #[must_use]
    pub fn of(log: &Path) -> Self {
        const ALL: (LogMs, LogMs) = (LogMs::MIN, LogMs::MAX);
        let reader = Reader::open(log).expect("a log");
        let channels = reader.channels().expect("channels");
        let names: Vec<&str> = channels.iter().map(|c| c.name.as_str()).collect();
        let columns = reader.columns(&names, ALL.0, ALL.1).expect("ticks");
        let bits = |column: &Vec<f32>| column.iter().map(|v| v.to_bits()).collect();
        let counters = reader.counters(ALL.0, ALL.1).expect("counters");
        Contents {
            sessions: reader.sessions().expect("sessions"),
            clock: reader.clock_rows().expect("clock"),
            events: reader.events(ALL.0, ALL.1).expect("events"),
            gaps: reader.gaps(ALL.0, ALL.1).expect("gaps"),
            notices: reader.notices(ALL.0, ALL.1).expect("notices"),
            readings: columns.values.iter().map(bits).collect(),
            t_ms: columns.t_ms,
            counters: counters
                .into_iter()
                .map(|c| ((c.source, c.name), c.count))
                .collect(),
            channels,
        }
    }

    /// Take a count away; `0` when there is none.
    pub fn take_count(&mut self, source: &str, name: &str) -> i64 {
        let key = (source.to_string(), name.to_string());
        self.counters.remove(&key).unwrap_or(0)
    }
}
