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
