//! How well a conductance is known.

use super::super::volume_error::{self, State};
use super::MoveView;

/// Uncertainty of the open time: delay of the valve, tick length, s.
const OPEN_TIME_SE_S: f64 = 0.02;

/// The air is taken to be as warm after the move as before. What the move
/// heated or cooled is mostly gone by then; this share of the air moved is in
/// doubt: a fill or dump of a share x of the air changes its temperature by
/// about 0.29·x (adiabatic, κ = 1.4), of which the inner skin keeps a fifth for
/// some minutes. Common practice for the fifth, no source.
const HEAT_SHARE: f64 = 0.06;

/// What goes into the error of a conductance.
pub(super) struct ErrorParts {
    /// Conductance, L/(s·bar), and as much of it as stands for 1 ANR L moved.
    pub(super) conductance: f64,
    pub(super) per_litre: f64,
    /// Standard error of the air moved from noise, ANR L.
    pub(super) noise_anr_l: f64,
    /// Time open, s, in how many pulses.
    pub(super) open_s: f64,
    pub(super) pulses: usize,
    /// Change of the flow law's integral by one standard deviation of the
    /// critical ratio, as a fraction.
    pub(super) ratio_share: f64,
}

/// Standard error of a conductance, L/(s·bar).
///
/// The volume's error is the same for every move between the same heights: it
/// shifts a path's figures together and leaves their drift alone.
pub(super) fn conductance_se(
    parts: &ErrorParts,
    view: &MoveView,
    before: State,
    after: State,
) -> f64 {
    let volume: f64 = volume_error::columns(view.vessel, &[before, after])
        .iter()
        .map(|c| (c[1] - c[0]).powi(2))
        .sum();
    let amount = parts.noise_anr_l.hypot(volume.sqrt()) * parts.per_litre;
    let time = OPEN_TIME_SE_S * (parts.pulses as f64).sqrt() / parts.open_s;
    let shares = time.hypot(HEAT_SHARE).hypot(parts.ratio_share);
    amount.hypot(parts.conductance * shares)
}
