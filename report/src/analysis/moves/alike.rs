//! Moves of one kind, where only their pressures tell what they moved.

use super::Move;

/// Moves are alike when they begin and end at pressures that differ by less than this
/// share of the change of pressure. Judgement: the air moved then differs by a third at
/// most.
const ALIKE_SHARE: f64 = 0.25;

/// Closer pressures are alike whatever the change, kPa.
const ALIKE_KPA: f64 = 3.0;

/// The largest group of moves between the same two pressures, all on the road or all
/// standing, in time order.
///
/// Without a height the pressure does not tell how much air went into lifting the car,
/// and a mix of presets and corrections that changes over the weeks looks like a path
/// that changes. Two moves between the same pressures lift it by as much.
pub(super) fn alike<'a>(moves: &[&'a Move]) -> Vec<&'a Move> {
    let like = |kind: &Move| -> Vec<&'a Move> {
        let near = moves.iter().copied().filter(|m| is_alike(kind, m));
        near.collect()
    };
    let groups = moves.iter().map(|kind| like(kind));
    groups
        .reduce(|most, group| {
            if group.len() > most.len() {
                group
            } else {
                most
            }
        })
        .unwrap_or_default()
}

fn is_alike(kind: &Move, other: &Move) -> bool {
    let step = (kind.kpa_abs.1 - kind.kpa_abs.0).abs();
    let near = (ALIKE_SHARE * step).max(ALIKE_KPA);
    let on_the_road = |m: &Move| m.driving == Some(true);
    on_the_road(kind) == on_the_road(other)
        && (kind.kpa_abs.0 - other.kpa_abs.0).abs() <= near
        && (kind.kpa_abs.1 - other.kpa_abs.1).abs() <= near
}

#[cfg(test)]
mod tests {
    use super::super::{Direction, Move, trends};
    use super::alike;

    /// Invented: without a height a correction of 20 kPa shows more air for its time
    /// than a lift of 50 kPa, since it does not lift the car.
    fn fill(day: i64, kpa_abs: (f64, f64), conductance: f64) -> Move {
        Move {
            place: "rear_left".into(),
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

    #[test]
    fn another_mix_of_moves_is_no_slower_path() {
        let moves = mixed();
        let group = alike(&moves.iter().collect::<Vec<_>>());
        assert_eq!(group.len(), 10);
        let trend = &trends(&moves, &|_, _| None)[0];
        let change = trend.ln_change.expect("enough");
        assert!(change.value.abs() < 0.05, "{change:?}");
    }

    #[test]
    fn a_path_that_halves_is_seen_among_moves_of_one_kind() {
        let mut moves = mixed();
        for m in &mut moves[11..] {
            m.conductance *= 0.5;
        }
        let change = trends(&moves, &|_, _| None)[0].ln_change.expect("enough");
        assert!((change.value - 0.5_f64.ln()).abs() < 0.1, "{change:?}");
    }
}
