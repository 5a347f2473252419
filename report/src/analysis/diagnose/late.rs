//! Valves that answer later than they did, whatever their flow.

use super::super::estimate::Estimate;
use super::super::moves::{ComparedMoves, Direction, Move, MoveTrend, change};
use super::super::stats::{median, sd};

/// Valves of one circuit that got late.
#[derive(Debug, Clone, PartialEq)]
pub struct LateValves {
    /// Circuit.
    pub place: String,
    /// Which valves.
    pub directions: Vec<Direction>,
    /// Median response in the first third of the moves, and what it is in the
    /// last third by the growth found, ms, of the valve that changed most.
    pub first_last_ms: (f64, f64),
    /// Growth from the first to the last third, of the valves together, ms.
    pub growth_ms: Estimate,
    /// Time between readings of the coil, ms: responses are not told more finely.
    pub raster_ms: f64,
    /// Moves with a measured response.
    pub moves: usize,
    /// One-sided p value of that growth.
    pub p: f64,
}

/// How the response of a circuit's valves grew, and the moves behind it.
#[derive(Debug, Clone, PartialEq)]
pub struct LagGrowth {
    /// Circuit.
    pub place: String,
    /// One valve, or both together.
    pub direction: Option<Direction>,
    /// Growth from the first to the last third, ms.
    pub growth_ms: Estimate,
    /// Moves with a measured response.
    pub moves: usize,
}

/// Responses that grew by less than this are not called late, ms.
pub(super) const LEAST_MS: f64 = 25.0;

/// Growth is believed below this one-sided p value; all circuits are looked at.
pub(super) const GROWTH_P: f64 = 1e-3;

/// The same for one of two valves when both together show nothing.
const ALONE_P: f64 = 1e-4;

/// Sound valves differ by this from one part of a log to the other beside the
/// scatter of their drives: a coil of copper 25 K warmer has 10 % more resistance
/// (0.39 % per kelvin), and the alternator adds as much in volts, which shifts
/// the 30 to 50 ms that a valve of this size takes by about 5 ms. One standard
/// deviation, ms; common practice, no source.
const ALIKE_MS: f64 = 5.0;

/// Responses are not told apart more finely than this, ms.
const LEAST_SCATTER_MS: f64 = 1.0;

/// Moves needed of a sort.
const FEWEST: usize = 6;

/// A path that passes less than this share of its first flow also moves the
/// pressure later, whatever its valve does; the air it does not.
const KEPT_FLOW: f64 = 0.92;

/// That it does must be this sure, one-sided p value.
const LOST_FLOW_P: f64 = 0.05;

/// Circuits whose valves answer later and later while their flow is kept.
#[must_use]
pub fn late_valves(places: &[String], moves: &[Move], trends: &[MoveTrend]) -> Vec<LateValves> {
    let late = |place: &String| {
        let growths = lag_growths(place, moves, trends);
        let sure = |g: &&LagGrowth| {
            let alone = growths.len() > 1 && g.direction.is_some();
            let p = if alone { ALONE_P } else { GROWTH_P };
            g.growth_ms.value > LEAST_MS && g.growth_ms.scaled(-1.0).falls_p() < p
        };
        // Both together, the last entry, say more than one; a single bad coil
        // shows alone.
        let found = growths.iter().rev().find(sure)?;
        named(found, &growths, moves)
    };
    places.iter().filter_map(late).collect()
}

/// Growth of the response of the fill valve, of the dump valve and, where both
/// are known, of both together: wiring and supply are the same for both.
///
/// Moves on the road and standing have levels of their own, since bumps and the
/// alternator change the response. Drives are compared, not moves ([`change`]).
#[must_use]
pub fn lag_growths(place: &str, moves: &[Move], trends: &[MoveTrend]) -> Vec<LagGrowth> {
    let mut out = Vec::new();
    let mut all: Vec<Vec<ValveResponse>> = Vec::new();
    let raster_s = raster_s(place, moves);
    for direction in [Direction::Fill, Direction::Dump] {
        if !keeps_flow(place, direction, trends) {
            continue;
        }
        let sorts: Vec<Vec<ValveResponse>> = [false, true]
            .map(|driving| sort(place, direction, driving, moves))
            .into_iter()
            .filter(|s| s.len() >= FEWEST)
            .collect();
        out.extend(growth(place, Some(direction), &sorts, raster_s));
        all.extend(sorts);
    }
    if out.len() > 1 {
        out.extend(growth(place, None, &all, raster_s));
    }
    out
}

fn keeps_flow(place: &str, direction: Direction, trends: &[MoveTrend]) -> bool {
    let own = |t: &&MoveTrend| t.place == place && t.direction == direction;
    let by_pressure = trends.iter().find(own).filter(|t| !t.by_height);
    // By height a start does not depend on the flow; by pressure it does, and where the
    // flow cannot be compared nothing tells a late valve from a slow path.
    by_pressure.is_none_or(|t| {
        let keeps = |c: &Estimate| c.value > KEPT_FLOW.ln();
        let kept = |c: &Estimate| keeps(c) || c.falls_p() > LOST_FLOW_P;
        t.ln_change.as_ref().is_some_and(kept) && t.ln_pace_change.as_ref().is_some_and(keeps)
    })
}

/// When a valve was told to open, ms, and how long it took, ms.
type ValveResponse = (i64, f64);

/// Responses of one valve, on the road or standing, in time order.
fn sort(place: &str, direction: Direction, driving: bool, moves: &[Move]) -> Vec<ValveResponse> {
    moves
        .iter()
        .filter(|m| m.place == place && m.direction == direction)
        .filter(|m| (m.driving == Some(true)) == driving)
        .filter_map(|m| Some((m.from_ms, m.response_ms?)))
        .collect()
}

/// Time between readings of the coils, s. Where a controller keeps time with the readings
/// it shifts all responses of a stretch alike, by any part of the raster, so no number of
/// moves averages it out.
fn raster_s(place: &str, moves: &[Move]) -> f64 {
    let own = moves.iter().filter(|m| m.place == place && m.wired);
    own.map(|m| m.timing.raster_s).fold(0.0, f64::max)
}

/// Growth that sorts of moves have in common; each weighs by its scatter.
fn growth(
    place: &str,
    direction: Option<Direction>,
    sorts: &[Vec<ValveResponse>],
    raster_s: f64,
) -> Option<LagGrowth> {
    let scatters: Vec<f64> = sorts
        .iter()
        .map(|s| sd(&s.iter().map(|r| r.1).collect::<Vec<_>>()).map(|sd| sd.max(LEAST_SCATTER_MS)))
        .collect::<Option<_>>()?;
    let mut all: Vec<(ValveResponse, usize)> = sorts
        .iter()
        .enumerate()
        .flat_map(|(i, sort)| sort.iter().map(move |r| (*r, i)))
        .collect();
    all.sort_by_key(|(r, _)| r.0);
    // The first sort needs no column: the level stands for it.
    let of_sort = |sort: usize| {
        all.iter()
            .map(|(_, s)| f64::from(u8::from(*s == sort)))
            .collect()
    };
    let raster_ms = 1000.0 * raster_s / 12.0_f64.sqrt();
    let found = change(&ComparedMoves {
        values: &all.iter().map(|(r, _)| r.1).collect::<Vec<_>>(),
        weights: &all
            .iter()
            .map(|(_, s)| scatters[*s].powi(-2))
            .collect::<Vec<_>>(),
        covariates: &(1..sorts.len()).map(of_sort).collect::<Vec<_>>(),
        t_ms: &all.iter().map(|(r, _)| r.0).collect::<Vec<_>>(),
    })?;
    Some(LagGrowth {
        place: place.into(),
        direction,
        growth_ms: found
            .last_less_first
            .with_known_error(ALIKE_MS.hypot(raster_ms)),
        moves: all.len(),
    })
}

/// In which of the valves it shows.
fn named(found: &LagGrowth, growths: &[LagGrowth], moves: &[Move]) -> Option<LateValves> {
    let half = |g: &&LagGrowth| match (found.direction, g.direction) {
        (_, None) => false,
        (Some(one), Some(other)) => one == other,
        (None, Some(_)) => g.growth_ms.value > 0.5 * found.growth_ms.value,
    };
    let own: Vec<&LagGrowth> = growths.iter().filter(half).collect();
    let most = own
        .iter()
        .max_by(|a, b| a.growth_ms.value.total_cmp(&b.growth_ms.value))?;
    let responses: Vec<f64> = moves
        .iter()
        .filter(|m| m.place == found.place && Some(m.direction) == most.direction)
        .filter_map(|m| m.response_ms)
        .collect();
    let first = median(&responses[..responses.len() / 3])?;
    Some(LateValves {
        place: found.place.clone(),
        directions: own.iter().filter_map(|g| g.direction).collect(),
        first_last_ms: (first, first + most.growth_ms.value),
        growth_ms: found.growth_ms,
        raster_ms: 1000.0 * raster_s(&found.place, moves),
        moves: found.moves,
        p: found.growth_ms.scaled(-1.0).falls_p(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moves(late_from: usize, lag_ms: f64) -> Vec<Move> {
        (0..48)
            .map(|i| Move {
                place: "front_left".into(),
                direction: if i % 2 == 0 {
                    Direction::Fill
                } else {
                    Direction::Dump
                },
                from_ms: i as i64 * 3_600_000,
                to_ms: i as i64 * 3_600_000 + 3_000,
                open_s: 3.0,
                wired: true,
                driving: None,
                mm: None,
                kpa_abs: (500.0, 560.0),
                time_to_height_s: None,
                timed_by_pressure: true,
                response_ms: Some(
                    120.0
                        + [4.0, -6.0, 9.0, -3.0, 1.0][i % 5]
                        + if i >= late_from { lag_ms } else { 0.0 },
                ),
                amount_anr_l: 2.0,
                amount_error: Default::default(),
                shape_kpa: 700.0,
                conductance: 0.1,
                conductance_se: 0.002,
                at_least: false,
                error: Default::default(),
                timing: Default::default(),
            })
            .collect()
    }

    #[test]
    fn valves_that_answer_later_are_named() {
        let places = ["front_left".to_string()];
        let found = late_valves(&places, &moves(24, 80.0), &[]);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].directions, [Direction::Fill, Direction::Dump]);
        assert!((found[0].first_last_ms.1 - found[0].first_last_ms.0 - 80.0).abs() < 15.0);
        assert_eq!(late_valves(&places, &moves(48, 80.0), &[]), []);
        assert_eq!(late_valves(&places, &moves(24, 10.0), &[]), []);
    }

    /// Invented: 20 ms of growth in noise of 40 ms is no growth; 80 ms is.
    #[test]
    fn growth_is_told_from_scatter() {
        let noisy = |grown_ms: f64| -> Vec<Move> {
            let mut all = moves(24, grown_ms);
            for (i, m) in all.iter_mut().enumerate() {
                let noise = 40.0 * ((i * 7919 % 13) as f64 - 6.0) / 6.0;
                m.response_ms = m.response_ms.map(|ms| ms + noise);
            }
            all
        };
        let places = ["front_left".to_string()];
        assert_eq!(late_valves(&places, &noisy(20.0), &[]), []);
        let found = late_valves(&places, &noisy(80.0), &[]);
        let (low, high) = found[0].growth_ms.interval_95();
        assert!(low < 80.0 && 80.0 < high, "{found:?}");
    }

    #[test]
    fn a_path_that_lost_its_flow_is_not_called_late() {
        let own = moves(24, 80.0).into_iter().enumerate();
        let own = own.map(|(i, m)| Move {
            conductance: if i < 24 { 0.1 } else { 0.05 },
            ..m
        });
        let mate = moves(24, 0.0).into_iter().map(|m| Move {
            place: "front_right".into(),
            ..m
        });
        let both: Vec<Move> = own.chain(mate).collect();
        let slow =
            crate::analysis::moves::trends(&both, &|_, _| None, &|_| Some("front_right".into()));
        assert!(slow.iter().any(|t| t.ln_change.is_some()));
        assert_eq!(
            late_valves(&["front_left".to_string()], &moves(24, 80.0), &slow),
            []
        );
    }
}
