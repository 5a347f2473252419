//! How the paths of a circuit change over the log.

use super::{Direction, Move};
use crate::analysis::stats::{mann_kendall, median, theil_sen};

/// Moves of one circuit and direction, and how their conductance drifts.
#[derive(Debug, Clone, PartialEq)]
pub struct MoveTrend {
    /// Circuit.
    pub place: String,
    /// Up or down.
    pub direction: Direction,
    /// Moves measured.
    pub moves: usize,
    /// True when the heights of all moves are known; without them the volume is
    /// taken as constant, and conductances hold for comparing like moves only.
    pub by_height: bool,
    /// Median conductance, L/(s·bar).
    pub median_conductance: f64,
    /// Median of the first and of the last third, L/(s·bar).
    pub first_last_third: (f64, f64),
    /// Time a move of the median size takes at the median driving pressure with
    /// the conductance of the first and of the last third, s.
    pub reference_time_s: (f64, f64),
    /// Drift of the conductance, percent a day, with its 95 % interval.
    pub drift_percent_per_day: Option<(f64, f64, f64)>,
    /// Two-sided p value of the trend (Mann–Kendall).
    pub trend_p: Option<f64>,
    /// Median scatter of one conductance around the trend, as a fraction.
    pub scatter: f64,
}

/// Fewer moves show no trend.
const FEWEST: usize = 6;

/// Trend of every circuit and direction that has measured moves.
#[must_use]
pub fn trends(moves: &[Move]) -> Vec<MoveTrend> {
    let mut keys: Vec<(String, Direction)> = moves
        .iter()
        .map(|m| (m.place.clone(), m.direction))
        .collect();
    keys.sort();
    keys.dedup();
    keys.into_iter()
        .filter_map(|(place, direction)| {
            let own: Vec<&Move> = moves
                .iter()
                .filter(|m| m.place == place && m.direction == direction && m.conductance > 0.0)
                .collect();
            trend(place, direction, &own)
        })
        .collect()
}

fn trend(place: String, direction: Direction, own: &[&Move]) -> Option<MoveTrend> {
    let conductances: Vec<f64> = own.iter().map(|m| m.conductance).collect();
    let median_conductance = median(&conductances)?;
    let third = (own.len() / 3).max(1);
    let first = median(&conductances[..third.min(conductances.len())])?;
    let last = median(&conductances[conductances.len().saturating_sub(third)..])?;
    let reference = |c: f64| {
        let amounts: Vec<f64> = own.iter().map(|m| m.amount_anr_l.abs()).collect();
        let shapes: Vec<f64> = own.iter().map(|m| m.shape_kpa).collect();
        let (amount, shape) = (median(&amounts)?, median(&shapes)?);
        Some(amount / (c / 100.0 * shape))
    };
    let days: Vec<f64> = own
        .iter()
        .map(|m| m.from_ms as f64 / 86_400_000.0)
        .collect();
    let logs: Vec<f64> = conductances.iter().map(|c| c.ln()).collect();
    let enough = own.len() >= FEWEST;
    let slope = enough.then(|| theil_sen(&days, &logs, 0.95)).flatten();
    let percent = |per_day: f64| 100.0 * (per_day.exp() - 1.0);
    Some(MoveTrend {
        scatter: scatter(&days, &logs, slope.as_ref().map_or(0.0, |s| s.slope)),
        place,
        direction,
        moves: own.len(),
        by_height: own.iter().all(|m| m.mm.is_some()),
        median_conductance,
        first_last_third: (first, last),
        reference_time_s: (reference(first)?, reference(last)?),
        drift_percent_per_day: slope.as_ref().map(|s| {
            (
                percent(s.slope),
                percent(s.interval.low),
                percent(s.interval.high),
            )
        }),
        trend_p: enough
            .then(|| mann_kendall(&logs))
            .flatten()
            .map(|mk| mk.p()),
    })
}

/// Median absolute deviation around the trend, scaled to a standard deviation.
fn scatter(days: &[f64], logs: &[f64], slope: f64) -> f64 {
    let flat: Vec<f64> = days.iter().zip(logs).map(|(d, l)| l - slope * d).collect();
    let Some(middle) = median(&flat) else {
        return 0.0;
    };
    let off: Vec<f64> = flat.iter().map(|f| (f - middle).abs()).collect();
    1.4826 * median(&off).unwrap_or(0.0)
}
