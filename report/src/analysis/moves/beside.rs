//! What another circuit did in the same movement, where only pressures tell what was moved.

use super::Move;
use crate::analysis::stats::mean;

/// Moves of one movement begin within this of each other, ms. Common practice: a
/// controller sends the corners to their presets together, one axle at a time.
const TOGETHER_MS: u64 = 10_000;

/// A move, and by how much the logarithm of its conductance is to be lowered for what
/// its movement was.
pub(super) struct PairedMove<'a> {
    pub(super) own: &'a Move,
    pub(super) ln_offset: f64,
}

/// The moves of a path that the other corner of its axle made too, with `ln C` of that corner
/// less its mean.
///
/// Without a height the pressure does not tell how much air went into lifting the car:
/// `Δn = V·Δp/p₀` leaves `p·ΔV` out, which is several times as much while the bag rolls
/// at a nearly steady pressure, and nothing while it sticks. A large lift then looks like a slow
/// path. It does so on the other corner of the axle as well; a slow path does not. Another
/// axle is lifted by other amounts and tells nothing.
pub(super) fn beside<'a>(own: &[&'a Move], all: &[Move], mate: &str) -> Vec<PairedMove<'a>> {
    let pairs = pairs(own, all, mate);
    let logs: Vec<f64> = pairs.iter().map(|p| p.1.conductance.ln()).collect();
    let level = mean(&logs).unwrap_or(0.0);
    let offsets = pairs.iter().zip(logs);
    offsets
        .map(|((own, _), ln)| PairedMove {
            own,
            ln_offset: ln - level,
        })
        .collect()
}

/// Each move with that of the other circuit which began nearest to it.
fn pairs<'a, 'b>(own: &[&'a Move], all: &'b [Move], other: &str) -> Vec<(&'a Move, &'b Move)> {
    let apart = |a: &Move, b: &Move| a.from_ms.abs_diff(b.from_ms);
    let same_way = |m: &Move| own.first().is_some_and(|o| o.direction == m.direction);
    let theirs = || {
        let of_other = all.iter().filter(|m| m.place == other && same_way(m));
        of_other.filter(|m| m.conductance > 0.0)
    };
    let nearest = |m: &&'a Move| {
        let near = theirs().min_by_key(|t| apart(t, m))?;
        (apart(near, m) <= TOGETHER_MS).then_some((*m, near))
    };
    own.iter().filter_map(nearest).collect()
}

#[cfg(test)]
mod tests {
    use super::super::{Direction, Move, MoveTrend, trends};

    /// Invented: without a height a correction of 20 kPa shows more air for its time
    /// than a lift of 50 kPa, since it does not lift the car.
    fn fill(day: i64, kpa_abs: (f64, f64), conductance: f64) -> Move {
        Move {
            place: "front_left".into(),
            direction: Direction::Fill,
            from_ms: day * 86_400_000,
            to_ms: day * 86_400_000 + 2_000,
            open_s: 2.0,
            wired: true,
            driving: None,
            mm: None,
            kpa_abs,
            time_to_height_s: None,
            timed_by_pressure: true,
            response_ms: None,
            amount_anr_l: 1.0,
            amount_error: Default::default(),
            shape_kpa: 700.0,
            conductance,
            conductance_se: 0.03 * conductance,
            at_least: false,
            error: Default::default(),
            timing: Default::default(),
        }
    }

    fn mixed() -> Vec<Move> {
        let wobble = |day: i64| 1.0 + 0.01 * (day * 7 % 5 - 2) as f64;
        let corrections = (0..6).map(|day| fill(day, (497.0, 517.0), 0.10 * wobble(day)));
        let lifts = (6..16).map(|day| fill(day, (433.0, 485.0), 0.05 * wobble(day)));
        corrections.chain(lifts).collect()
    }

    /// The same on the other corner of the axle, a second later.
    fn mate(own: &[Move]) -> Vec<Move> {
        let beside = |m: &Move| Move {
            place: "front_right".into(),
            from_ms: m.from_ms + 1_000,
            conductance: 1.2 * m.conductance,
            ..m.clone()
        };
        own.iter().map(beside).collect()
    }

    fn trend(moves: &[Move]) -> MoveTrend {
        let trends = trends(moves, &|_, _| None, &|_| Some("front_right".into()));
        let own = trends.into_iter().find(|t| t.place == "front_left");
        own.expect("moves")
    }

    #[test]
    fn another_mix_of_moves_is_no_slower_path() {
        let own = mixed();
        let of_both = trend(&[own.clone(), mate(&own)].concat());
        assert_eq!(of_both.moves, 10);
        let change = of_both.ln_change.expect("enough");
        assert!(change.value.abs() < 0.05, "{change:?}");
    }

    #[test]
    fn a_path_that_halves_is_seen_among_moves_of_one_kind() {
        let mut own = mixed();
        let mate = mate(&own);
        for m in &mut own[11..] {
            m.conductance *= 0.5;
        }
        let change = trend(&[own, mate].concat()).ln_change.expect("enough");
        assert!((change.value - 0.5_f64.ln()).abs() < 0.1, "{change:?}");
    }

    /// Invented: from day ten on the car is lifted further between the same pressures.
    #[test]
    fn a_larger_lift_is_no_slower_path() {
        let mut own = mixed();
        for m in &mut own[10..] {
            m.conductance *= 0.4;
        }
        let both = [own.clone(), mate(&own)].concat();
        let change = trend(&both).ln_change.expect("enough");
        assert!(change.value.abs() < 0.05, "{change:?}");
    }

    #[test]
    fn a_path_that_moves_alone_cannot_be_compared() {
        assert_eq!(trend(&mixed()).ln_change, None);
        let without_mate = trends(&mixed(), &|_, _| None, &|_| None);
        assert_eq!(without_mate[0].ln_change, None);
        let mut later = mate(&mixed());
        later.iter_mut().for_each(|m| m.from_ms += 60_000);
        assert_eq!(trend(&[mixed(), later].concat()).ln_change, None);
    }
}
