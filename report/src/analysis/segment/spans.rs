//! When a valve was open or a compressor ran.

use seep_common::store::{Event, EventKind};

/// A stretch in which a valve was open or a compressor ran, log time, half-open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OnSpan {
    /// Opened or started, ms.
    pub from_ms: i64,
    /// Closed or stopped, ms.
    pub to_ms: i64,
    /// False when the start was not seen: it was on already when recording began.
    pub start_seen: bool,
    /// False when the end was not seen: it was still on when recording ended.
    pub end_seen: bool,
    /// True when a wired channel says so.
    pub wired: bool,
}

impl OnSpan {
    /// Length, s.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        (self.to_ms - self.from_ms) as f64 / 1000.0
    }
}

/// Spans of one valve or compressor inside one session `[start_ms, end_ms)`.
///
/// Events must be in time order. An opening without a closing lasts to the end
/// of the session and is marked so; a second opening in a row is no new span.
#[must_use]
pub fn on_spans(
    events: &[Event<i64>],
    kind: EventKind,
    place: &str,
    start_ms: i64,
    end_ms: i64,
) -> Vec<OnSpan> {
    let mut out = Vec::new();
    let mut open: Option<(i64, bool, bool)> = None;
    let mut first = true;
    // A log of many sessions has many events outside this one.
    let after = events.partition_point(|e| e.t_ms <= end_ms);
    let before = events[..after].partition_point(|e| e.t_ms < start_ms);
    let own = events[before..after]
        .iter()
        .filter(|e| e.kind == kind && e.place == place);
    for event in own {
        match (open, event.on) {
            (None, true) => open = Some((event.t_ms, !first, event.wired)),
            (Some((from_ms, start_seen, wired)), false) => {
                out.push(OnSpan {
                    from_ms,
                    to_ms: event.t_ms,
                    start_seen,
                    end_seen: true,
                    wired,
                });
                open = None;
            }
            _ => {}
        }
        first = false;
    }
    if let Some((from_ms, start_seen, wired)) = open {
        out.push(OnSpan {
            from_ms,
            to_ms: end_ms,
            start_seen,
            end_seen: false,
            wired,
        });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn event(t_ms: i64, on: bool) -> Event<i64> {
        Event {
            t_ms,
            kind: EventKind::Fill,
            place: "front_left".into(),
            on,
            wired: true,
        }
    }

    #[test]
    fn pairs_openings_with_closings_and_marks_what_was_not_seen() {
        let events = [
            event(10, true), // first word: it was open already
            event(20, false),
            event(30, true),
            event(31, true),
            event(40, false),
            event(90, true),
        ];
        let spans = on_spans(&events, EventKind::Fill, "front_left", 0, 100);
        let short: Vec<_> = spans
            .iter()
            .map(|s| (s.from_ms, s.to_ms, s.start_seen, s.end_seen))
            .collect();
        assert_eq!(
            short,
            [
                (10, 20, false, true),
                (30, 40, true, true),
                (90, 100, true, false)
            ]
        );
        assert!(on_spans(&events, EventKind::Dump, "front_left", 0, 100).is_empty());
    }
}
