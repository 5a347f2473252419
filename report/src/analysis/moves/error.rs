//! How well a conductance is known.

use super::super::volume_error::{self, State};
use super::sensors::ReadingsOff;
use super::{AmountError, ConductanceError, MoveView};
use seep_common::physics::gas::amount_anr_l;

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
    sensors: &[ReadingsOff],
    own_l: f64,
    heat_l: f64,
) -> AmountError {
    let mut shared_l: Vec<f64> = volume_error::columns(view.vessel, &[before, after])
        .iter()
        .map(|c| c[1] - c[0])
        .collect();
    let moved_l = |off: &ReadingsOff| amount_l(view, after, off) - amount_l(view, before, off);
    let as_read = moved_l(&ReadingsOff::default());
    shared_l.extend(sensors.iter().map(|off| moved_l(off) - as_read));
    shared_l.push(heat_l);
    AmountError { own_l, shared_l }
}

/// Air in the corner with its sensors off, ANR L.
fn amount_l(view: &MoveView, at: State, off: &ReadingsOff) -> f64 {
    let gauge = at.kpa_abs - view.ambient_kpa_abs;
    let volume_l = view.vessel.volume_l(at.mm * (1.0 + off.mm));
    amount_anr_l(at.kpa_abs + off.corner * gauge, volume_l, at.kelvin)
}

/// Error of a conductance by cause: of the amount moved; of the flow law's integral, by
/// `ratio_share` for one standard deviation of the critical ratio and by `flow_shares`
/// for one of each sensor; of temperatures.
pub(super) fn conductance_error(
    moved_anr_l: f64,
    amount: &AmountError,
    ratio_share: f64,
    flow_shares: &[f64],
) -> ConductanceError {
    let mut shared: Vec<f64> = amount.shared_l.iter().map(|l| l / moved_anr_l).collect();
    // The error of a sensor is in the air moved and in the flow law at once.
    let heat = shared.len() - 1;
    let of_sensors = &mut shared[heat - flow_shares.len()..heat];
    for (share, of_flow) in of_sensors.iter_mut().zip(flow_shares) {
        *share -= of_flow;
    }
    shared.extend([ratio_share, TEMPERATURE_SHARE]);
    ConductanceError {
        own: (amount.own_l / moved_anr_l).abs(),
        shared,
    }
}
