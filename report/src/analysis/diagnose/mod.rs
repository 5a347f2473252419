//! Where the fault is: patterns over all volumes and paths, ranked by likelihood.

mod cut_out;
mod late;
mod path_rank;
mod paths;
mod patterns;
mod seen_from;
mod shared;
mod zero_drift;

pub use cut_out::{
    CutOutShift, ThermalCutOuts, cut_out_shift, tank_drift_seen_from_kpa, thermal_cut_outs,
};
pub use late::{LagGrowth, LateValves, lag_growths, late_valves};
pub use path_rank::rank_paths;
pub use paths::{PathFinding, explain_paths};
pub use patterns::{Condition, Conditional, Dated, RankedPattern};
pub use seen_from::{
    WEAR_TO_SHOW_PERCENT, late_seen_from_ms, partner_seen_from_percent, seen_from,
    shared_seen_from_percent, together_seen_from_percent, wear_seen_from_percent, wear_shown_after,
};
pub use zero_drift::{DriftPlace, ZeroDrift, drift_seen_from_kpa, zero_drifts};

use super::delivery::DeliveryTrend;

/// A compressor that delivers less than it did.
#[derive(Debug, Clone, PartialEq)]
pub struct Wear {
    /// What the runs show.
    pub trend: DeliveryTrend,
    /// Probability that the change is no accident.
    pub probability: f64,
}

/// A fall of delivery smaller than this over the log is not called wear, percent.
const LEAST_WEAR_PERCENT: f64 = 8.0;

/// A fall is believed below this one-sided p value.
const WEAR_P: f64 = 0.01;

/// The order of the deliveries is no accident below this p value.
const ORDER_P: f64 = 0.01;

/// Wear, when delivery at equal volts has fallen beyond doubt.
#[must_use]
pub fn explain_delivery(trend: &DeliveryTrend) -> Option<Wear> {
    let change = trend.ln_change?;
    // A steady creep scatters within its thirds, but falls from run to run.
    let steady = trend.order_p.filter(|p| *p < ORDER_P);
    let p = change.falls_p().min(steady.unwrap_or(1.0));
    let fell = change.value < (1.0 - LEAST_WEAR_PERCENT / 100.0).ln();
    (fell && p < WEAR_P).then(|| Wear {
        trend: trend.clone(),
        probability: 1.0 - p,
    })
}
