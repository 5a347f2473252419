//! What the compressor ran for: leaks or moves.

use super::super::duty::Timeline;
use super::super::estimate::Estimate;
use super::super::moves::{Direction, Move};
use super::{Ledger, VolumeEntry};

/// Share of the compressor's air that leaks took, percent; the rest went into moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeakShare {
    /// Percent.
    pub percent: Estimate,
}

/// Leaks of all volumes over what leaks and dumps took together: what corners lose is
/// filled up again. `None` where neither took anything.
///
/// **Units**: percent.
#[must_use]
pub fn leak_share(ledger: &Ledger) -> Option<LeakShare> {
    let spring = |v: &&VolumeEntry| v.place != "tank";
    let leaked: f64 = ledger.volumes.iter().map(|v| v.leaked.value.max(0.0)).sum();
    let leaked_se = root_of_squares(ledger.volumes.iter().map(|v| v.leaked.se));
    let springs = || ledger.volumes.iter().filter(spring);
    let vented: f64 = springs().map(|v| v.went.value).sum();
    let vented_se = root_of_squares(springs().map(|v| v.went.se));
    let all = leaked + vented;
    // d(l/(l+v)) = (v·dl − l·dv)/(l+v)².
    let se = (vented * leaked_se).hypot(leaked * vented_se) / all.powi(2);
    (all > 0.0).then(|| LeakShare {
        percent: Estimate {
            value: 100.0 * leaked / all,
            se: 100.0 * se,
            degrees_of_freedom: 1e9,
        },
    })
}

fn root_of_squares(values: impl Iterator<Item = f64>) -> f64 {
    values.map(|v| v * v).sum::<f64>().sqrt()
}

/// A demand counts until the first run behind it has ended; a stretch without demand
/// must be this long, s.
const SHORTEST_S: f64 = 1_800.0;

/// `100·T/(T + t)`: time on load over all known time of stretches in which no corner
/// was filled and no fill waited to be made up for: what the compressor runs for leaks
/// alone. `None` without such a stretch.
///
/// **Units**: percent. **Source**: U.S. Department of Energy, Compressed Air Tip Sheet 3,
/// "Minimize Compressed Air Leaks": leakage (%) = T·100/(T + t), on-load over total
/// time without demand (from memory).
#[must_use]
pub fn idle_load_percent(timeline: &Timeline, moves: &[Move]) -> Option<f64> {
    let fills: Vec<&Move> = moves
        .iter()
        .filter(|m| m.direction == Direction::Fill)
        .collect();
    let (mut on_ms, mut all_ms) = (0, 0);
    for known in timeline.known() {
        let inside = fills
            .iter()
            .filter(|m| m.to_ms > known.0 && m.from_ms < known.1);
        let mut from = known.0;
        let mut stretches = Vec::new();
        for fill in inside {
            stretches.push((from, fill.from_ms));
            let made_up = timeline.runs().iter().find(|r| r.1 > fill.to_ms);
            from = made_up.map_or(known.1, |r| r.1).max(fill.to_ms);
        }
        stretches.push((from, known.1));
        for (from, to) in stretches.into_iter().filter(|s| s.1 > s.0) {
            if ((to - from) as f64) < 1000.0 * SHORTEST_S {
                continue;
            }
            all_ms += to - from;
            let runs = timeline.runs().iter();
            on_ms += runs
                .map(|r| (r.1.min(to) - r.0.max(from)).max(0))
                .sum::<i64>();
        }
    }
    (all_ms > 0).then(|| 100.0 * on_ms as f64 / all_ms as f64)
}
