//! Raising and lowering, often enough and fast enough.

use super::{Cycle, JudgedLimit, Outcome};
use crate::analysis::moves::{Direction, Move};
use crate::model::{Measured, Unit};

/// Fills and dumps of one place; one judgement per limited direction.
pub(super) fn judge(limit: &Cycle, place: &str, moves: &[Move]) -> Vec<JudgedLimit> {
    let count = |direction| own(moves, place, direction).count();
    let cycles = count(Direction::Fill).min(count(Direction::Dump));
    [
        (Direction::Fill, limit.fill_under_s),
        (Direction::Dump, limit.dump_under_s),
    ]
    .into_iter()
    .filter_map(|(direction, under_s)| {
        Some(one_way(limit, place, moves, direction, under_s?, cycles))
    })
    .collect()
}

/// Moves that arrived before the next one began; the others have no time.
fn own<'a>(
    moves: &'a [Move],
    place: &'a str,
    direction: Direction,
) -> impl Iterator<Item = f64> + 'a {
    moves
        .iter()
        .filter(move |m| m.place == place && m.direction == direction)
        .filter_map(|m| m.time_to_height_s)
}

fn one_way(
    limit: &Cycle,
    place: &str,
    moves: &[Move],
    direction: Direction,
    under_s: f64,
    cycles: usize,
) -> JudgedLimit {
    let times: Vec<f64> = own(moves, place, direction).collect();
    let slowest = times.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let slow = times.iter().filter(|t| **t >= under_s).count();
    let outcome = if slow > 0 {
        Outcome::Fail
    } else if cycles < limit.times {
        Outcome::Open(format!("{cycles} of {} cycles recorded", limit.times))
    } else {
        Outcome::Pass
    };
    let behind = if slow > 0 {
        format!("{slow} of {} too slow", times.len())
    } else if times.is_empty() {
        "none timed".into()
    } else {
        format!(
            "{} timed in {cycles} cycles; at least {:.0} % of all stay below",
            times.len(),
            (100.0 * sure_share(times.len())).floor()
        )
    };
    JudgedLimit {
        place: place.into(),
        what: format!("slowest {}", direction.word()),
        limit: Measured::exact(under_s, Unit::Seconds),
        measured: slowest
            .is_finite()
            .then(|| Measured::exact((slowest * 100.0).round() / 100.0, Unit::Seconds)),
        outcome,
        behind: behind.into(),
    }
}

/// Lower 95 % bound of the share that passes when all `n` passed.
///
/// **Source**: Clopper–Pearson with no failure, `α^(1/n)` with α = 0.05
/// (NIST/SEMATECH e-Handbook 7.2.4.1; from memory).
fn sure_share(n: usize) -> f64 {
    0.05_f64.powf(1.0 / n as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moved(direction: Direction, seconds: f64) -> Move {
        Move {
            place: "rear_left".into(),
            direction,
            from_ms: 0,
            to_ms: 1,
            open_s: seconds,
            driving: None,
            wired: true,
            mm: Some((0.0, 30.0)),
            kpa_abs: (500.0, 500.0),
            time_to_height_s: Some(seconds),
            timed_by_pressure: false,
            response_ms: None,
            amount_anr_l: 1.0,
            amount_error: Default::default(),
            shape_kpa: 500.0,
            conductance: 0.1,
            conductance_se: 0.001,
            at_least: false,
            error: Default::default(),
            timing: Default::default(),
        }
    }

    fn fill(times: &[f64], demanded: usize) -> Outcome {
        let moves: Vec<Move> = times
            .iter()
            .flat_map(|t| [moved(Direction::Fill, *t), moved(Direction::Dump, 1.0)])
            .collect();
        let limit = Cycle {
            place: "rear_left".into(),
            times: demanded,
            fill_under_s: Some(6.0),
            dump_under_s: None,
        };
        judge(&limit, "rear_left", &moves)[0].outcome.clone()
    }

    #[test]
    fn one_slow_fill_breaks_it_and_too_few_leave_it_open() {
        assert_eq!(fill(&[5.0; 10], 10), Outcome::Pass);
        assert!(matches!(fill(&[5.0; 9], 10), Outcome::Open(_)));
        assert_eq!(fill(&[5.0, 6.1, 5.0], 10), Outcome::Fail);
    }

    /// 59 passes of 59 prove 95 % with 95 % confidence: the usual sample size
    /// for that claim (from memory).
    #[test]
    fn fifty_nine_passes_prove_ninety_five_percent() {
        assert!(sure_share(59) >= 0.95 && sure_share(58) < 0.95);
    }
}
