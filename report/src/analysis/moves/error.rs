//! How well a conductance is known.

use super::super::volume_error::{self, State};
use super::{AmountError, ConductanceError, MoveView};

/// Temperatures of tank and corner are known this well, as a share of 293 K: no
/// thermometer stands in the air. The flow goes with the root of one, the air moved with
/// the other. Common practice, no source.
const TEMPERATURE_SHARE: f64 = 0.01;

/// Error of the air moved between two states, ANR L. The volume's error is the same for
/// every move between the same heights: it shifts a path's figures together and leaves
/// their drift alone; so does heat.
pub(super) fn amount_error(
    view: &MoveView,
    (before, after): (State, State),
    own_l: f64,
    heat_l: f64,
) -> AmountError {
    let mut shared_l: Vec<f64> = volume_error::columns(view.vessel, &[before, after])
        .iter()
        .map(|c| c[1] - c[0])
        .collect();
    shared_l.push(heat_l);
    AmountError { own_l, shared_l }
}

/// Error of a conductance by cause: of the amount moved; of the flow law's integral, by
/// `ratio_share` for one standard deviation of the critical ratio; of temperatures.
pub(super) fn conductance_error(
    moved_anr_l: f64,
    amount: &AmountError,
    ratio_share: f64,
) -> ConductanceError {
    let mut shared: Vec<f64> = amount.shared_l.iter().map(|l| l / moved_anr_l).collect();
    shared.extend([ratio_share, TEMPERATURE_SHARE]);
    ConductanceError {
        own: (amount.own_l / moved_anr_l).abs(),
        shared,
    }
}
