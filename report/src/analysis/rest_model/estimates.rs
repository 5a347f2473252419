//! Results of the model: volumes, parks, states and error sizes.

use super::hypothesis::{Hypothesis, HypothesisEstimate};
use super::parts::RestParts;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// Everything the model says about one car.
///
/// **Units**: every conductance in cm³/min ANR at the usual pressure of its volume
/// ([`VolumeEstimate::reference_kpa_abs`]); times s of log time.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct RestModelFit {
    /// Every hypothesis that the log can speak about, named ones first, by falling
    /// odds.
    pub hypotheses: Vec<HypothesisEstimate>,
    /// One entry per volume with at least one rest, in the order of the volumes.
    pub volumes: Vec<VolumeEstimate>,
    /// One entry per park and volume, in the order of parks.
    pub rests: Vec<ParkEstimate>,
    /// Learnt size of each family of persistent errors.
    pub error_sizes: Vec<ErrorSize>,
    /// Named once but explained as well by larger errors without it.
    pub withdrawn: Vec<Hypothesis>,
    /// Rests with readings that are not finite, left out: indices into
    /// [`super::Car::rests`].
    pub unusable_rests: Vec<usize>,
    /// Every rest of the parks in which some volume rested longest, taken apart.
    pub longest_parks: Vec<RestParts>,
}

impl RestModelFit {
    /// Returns the named hypotheses, by falling odds.
    pub fn named(&self) -> impl Iterator<Item = &HypothesisEstimate> {
        self.hypotheses.iter().filter(|h| h.named)
    }

    /// Returns the result of one volume.
    pub fn volume(&self, volume: usize) -> Option<&VolumeEstimate> {
        self.volumes.iter().find(|v| v.volume == volume)
    }
}

/// Loss of one volume to the outside over all rests.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct VolumeEstimate {
    /// Index into [`super::Car::volumes`].
    pub volume: usize,
    /// Usual pressure at the start of its rests, kPa absolute, at least 150.
    pub reference_kpa_abs: f64,
    /// Usual amount of air at the start of its rests, L ANR.
    pub reference_anr_l: f64,
    /// Conductance from which a loss is worth naming.
    pub floor: f64,
    /// Pooled conductance of all loss, with what passes into other volumes.
    pub pooled: f64,
    /// Standard error of [`Self::pooled`], with volume uncertainty and the floor for
    /// errors that nobody modelled.
    pub pooled_standard_error: f64,
    /// Largest conductance that the pooled value and each single odd rest leave
    /// possible, one-sided 95 %.
    pub upper_bound: f64,
    /// Rests that clearly lose more than the pooled value, by index into
    /// [`RestModelFit::rests`].
    pub odd_losing_rests: Vec<usize>,
    /// Rests that clearly gained air, and that clearly lost air: as many gains as
    /// losses are moves that nobody recorded.
    pub clear_gains_and_losses: (usize, usize),
    /// Kish number of rests behind the pooled value.
    pub effective_rests: f64,
    /// Usual size of its own errors over the expected one.
    pub usual_unrest: f64,
    /// Standard deviation of the leak between rests beyond their errors.
    pub spread: f64,
    /// Loss in some rests only, where the rests show it.
    pub two_states: Option<TwoStates>,
}

impl VolumeEstimate {
    /// Returns the 95 % interval of the pooled conductance.
    pub fn interval_95(&self) -> (f64, f64) {
        let half = 1.96 * self.pooled_standard_error;
        (self.pooled - half, self.pooled + half)
    }

    /// Converts a conductance to the share of the air lost in 12 h at the usual
    /// pressure.
    ///
    /// Equation: `share = c · 720 min / (1000 · n)`.
    pub fn share_in_12_h(&self, conductance: f64) -> f64 {
        conductance * 0.72 / self.reference_anr_l
    }
}

/// Two states of one volume: rests that leak beside rests that hold.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TwoStates {
    /// Log-likelihood gain over one state, less the grid's Occam factor, nats.
    pub gain_nats: f64,
    /// Conductance of the leaking state beyond the pooled value.
    pub conductance: f64,
    /// Share of the rests that leak.
    pub share: f64,
    /// Probability of the leaking state of each rest, by index into
    /// [`RestModelFit::rests`].
    pub leaking: Vec<(usize, f64)>,
    /// Rests that leak (p > 0.95) and that hold (p < 0.05).
    pub leaking_and_tight: (usize, usize),
    /// Whether the model names the intermittent loss.
    pub named: bool,
}

/// Loss of one volume in one park, with the disturbances known from all others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ParkEstimate {
    /// Index into [`super::Car::volumes`].
    pub volume: usize,
    /// Number of the park.
    pub park: usize,
    /// Rests of the volume within the park: indices into [`super::Car::rests`].
    pub rests: Vec<usize>,
    /// First reading, s.
    pub start_s: f64,
    /// Last reading, s.
    pub end_s: f64,
    /// Length of the rests together, s.
    pub duration_s: f64,
    /// Conductance to the outside: of a hole that loses the air that left.
    pub conductance: f64,
    /// The same by the model alone, which holds every leak for a hole.
    pub model_conductance: f64,
    /// Standard error of [`Self::model_conductance`].
    pub model_standard_error: f64,
    /// Standard error with the floor for errors that nobody modelled and 6 % of the
    /// value.
    pub standard_error: f64,
    /// What the named leaks predict for this park.
    pub predicted: f64,
    /// What the named transfers take out of this volume.
    pub transferred: f64,
    /// Mean flow over that at the usual pressure: `conductance · flow_factor` is the
    /// mean loss of this park in cm³/min ANR.
    pub flow_factor: f64,
    /// Size of the park's own errors over the expected one.
    pub unrest: f64,
    /// Standardised difference from the volume's other rests.
    pub z: f64,
    /// Longest silence, s.
    pub longest_silence_s: f64,
}

impl ParkEstimate {
    /// Returns the 95 % interval of the conductance.
    pub fn interval_95(&self) -> (f64, f64) {
        let half = 1.96 * self.standard_error;
        (self.conductance - half, self.conductance + half)
    }
}

/// Learnt size of one family of persistent errors, over its usual size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ErrorSize {
    /// Family: `lag`, `soak`, `sun`, `day`, `settle`, `creep`, `visco`, `other`,
    /// `gap`.
    pub family: Cow<'static, str>,
    /// Volume; `None` for the part that all corners share.
    pub volume: Option<usize>,
    /// Factor on the usual size.
    pub factor: f64,
}
