//! The leak of one volume over the whole log.

use super::Estimate;

/// The leak of one volume over the whole log.
#[derive(Debug, Clone, PartialEq)]
pub struct PooledLeak {
    /// Circuit, or `tank`.
    pub place: String,
    /// Loss, ANR L/s: mean over the rests.
    pub loss_l_per_s: Estimate,
    /// Spread between rests beyond their own errors, ANR L/s.
    pub between_sd_l_per_s: f64,
    /// Fall of pressure at constant volume, kPa/h.
    pub kpa_per_h: Estimate,
    /// Fall of height at constant pressure, mm/h.
    pub mm_per_h: Option<Estimate>,
    /// Share of the air that is lost per second, 1/s.
    pub per_s: Estimate,
    /// Sonic conductance of the hole that would lose as much, L/(s·bar) ANR.
    pub equivalent_conductance: Estimate,
    /// Rests used.
    pub rests: usize,
    /// Their total length, s.
    pub seconds: f64,
    /// True when only a lower bound can be given.
    pub lower_bound: bool,
}
