//! Valve pulses that belong together.

use super::super::segment::OnSpan;
use super::Direction;

/// Pulses of one valve that make one move.
#[derive(Debug, Clone, PartialEq)]
pub struct Opening {
    /// Up or down.
    pub direction: Direction,
    /// Pulses in order.
    pub spans: Vec<OnSpan>,
    /// Nothing else moves this circuit before this log time, ms.
    pub quiet_until_ms: i64,
    /// Nothing else moved this circuit after this log time, ms.
    pub quiet_since_ms: i64,
}

impl Opening {
    /// First opening, ms.
    #[must_use]
    pub fn from_ms(&self) -> i64 {
        self.spans.first().map_or(0, |s| s.from_ms)
    }

    /// Last closing, ms.
    #[must_use]
    pub fn to_ms(&self) -> i64 {
        self.spans.last().map_or(0, |s| s.to_ms)
    }
}

/// Pulses closer than this are one move, ms: a controller that approaches a
/// height in steps makes one move of them. Common practice, no source.
const JOIN_MS: i64 = 4_000;

/// Group the fill and dump pulses of one circuit into moves, in time order.
/// Pulses whose start or end was not seen cannot be measured and are left out,
/// but still bound the quiet time of their neighbours.
#[must_use]
pub fn cluster(
    fills: &[OnSpan],
    dumps: &[OnSpan],
    session_start_ms: i64,
    session_end_ms: i64,
) -> Vec<Opening> {
    let mut pulses: Vec<(Direction, OnSpan)> = fills
        .iter()
        .map(|s| (Direction::Fill, *s))
        .chain(dumps.iter().map(|s| (Direction::Dump, *s)))
        .collect();
    pulses.sort_by_key(|p| p.1.from_ms);
    let mut groups: Vec<Opening> = Vec::new();
    for (direction, span) in pulses {
        match groups.last_mut() {
            Some(last) if last.direction == direction && span.from_ms - last.to_ms() < JOIN_MS => {
                last.spans.push(span);
            }
            _ => groups.push(Opening {
                direction,
                spans: vec![span],
                quiet_until_ms: session_end_ms,
                quiet_since_ms: session_start_ms,
            }),
        }
    }
    for i in 1..groups.len() {
        groups[i].quiet_since_ms = groups[i - 1].to_ms();
        groups[i - 1].quiet_until_ms = groups[i].from_ms();
    }
    groups.retain(|g| g.spans.iter().all(|s| s.start_seen && s.end_seen));
    groups
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(from_ms: i64, to_ms: i64) -> OnSpan {
        OnSpan {
            from_ms,
            to_ms,
            start_seen: true,
            end_seen: true,
            wired: true,
        }
    }

    #[test]
    fn steps_towards_a_height_are_one_move() {
        let fills = [span(1_000, 2_000), span(3_000, 3_500), span(60_000, 61_000)];
        let dumps = [span(30_000, 31_000)];
        let groups = cluster(&fills, &dumps, 0, 100_000);
        assert_eq!(groups.len(), 3);
        assert_eq!(groups[0].spans.len(), 2);
        assert_eq!(groups[0].quiet_until_ms, 30_000);
        assert_eq!(groups[1].direction, Direction::Dump);
        assert_eq!(groups[1].quiet_since_ms, 3_500);
        assert_eq!(groups[2].quiet_until_ms, 100_000);
    }

    #[test]
    fn a_pulse_cut_off_by_the_end_is_not_measured() {
        let mut cut = span(60_000, 61_000);
        cut.end_seen = false;
        let groups = cluster(&[span(1_000, 2_000), cut], &[], 0, 61_000);
        assert_eq!(groups.len(), 1);
        assert_eq!(groups[0].quiet_until_ms, 60_000);
    }
}
