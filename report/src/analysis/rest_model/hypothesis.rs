//! Hypotheses of the model: the ways by which air can leave a volume at rest.

use super::Car;
use serde::{Deserialize, Serialize};

/// Prior of one condition relative to a plain leak. **Source**: judgement.
const CONDITION_PRIOR: f64 = 0.1;

/// A way by which air leaves one volume while the car is at rest.
///
/// Volumes are indices into [`Car::volumes`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Hypothesis {
    /// To the outside. Corner: bag, line and dump valve cannot be told apart; tank:
    /// check valve, drain and fittings.
    Leak {
        /// The leaking volume.
        volume: usize,
    },
    /// From the tank into a corner through its closed fill valve.
    FillValve {
        /// The corner that gains.
        volume: usize,
    },
    /// Between the two corners of one axle, from the higher pressure to the lower.
    CrossLeak {
        /// The first corner.
        volume: usize,
        /// The other corner.
        partner: usize,
    },
    /// To the outside, only while it is colder than a limit.
    Cold {
        /// The leaking volume.
        volume: usize,
        /// Number of the limit: 0, 1, 2 for the 25, 45 and 65 % quantile.
        level: usize,
        /// Half of the leak is open at this temperature, deg C.
        below_c: f64,
    },
    /// To the outside, only while the corner is lower than a limit.
    Low {
        /// The leaking volume.
        volume: usize,
        /// Number of the limit, as for [`Hypothesis::Cold`].
        level: usize,
        /// Half of the leak is open at this height, mm.
        below_mm: f64,
    },
    /// To the outside, only in rests whose last own move was a dump.
    AfterDump {
        /// The leaking volume.
        volume: usize,
    },
    /// To the outside, growing in proportion to the time since the log began.
    Growing {
        /// The leaking volume.
        volume: usize,
    },
    /// To the outside, only before a moment: something ended it.
    Until {
        /// The leaking volume.
        volume: usize,
        /// The moment.
        date: Date,
    },
    /// To the outside, only after a moment: something began it.
    Since {
        /// The leaking volume.
        volume: usize,
        /// The moment.
        date: Date,
    },
}

/// Moment between two parks at which a leak began or ended.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Date {
    /// The likeliest moment, s of log time: midway between the two parks.
    pub at_s: f64,
    /// 95 % interval, s of log time: end of a park to start of a later one.
    pub between_s: (f64, f64),
    /// Share of the prior of all moments that falls on those as likely as this one: the
    /// price of having looked for it.
    pub prior_share: f64,
}

impl Hypothesis {
    /// Returns the volume that loses air (for a passing fill valve: the corner that
    /// gains, for a cross leak: the first of the two).
    pub fn volume(self) -> usize {
        match self {
            Self::Leak { volume }
            | Self::FillValve { volume }
            | Self::CrossLeak { volume, .. }
            | Self::Cold { volume, .. }
            | Self::Low { volume, .. }
            | Self::AfterDump { volume }
            | Self::Growing { volume }
            | Self::Until { volume, .. }
            | Self::Since { volume, .. } => volume,
        }
    }

    /// Returns whether air only changes place between two volumes of the car.
    pub fn is_transfer(self) -> bool {
        matches!(self, Self::FillValve { .. } | Self::CrossLeak { .. })
    }

    /// Returns whether the hypothesis is a leak under a condition: cold, low, after
    /// a dump, growing, until or since a date.
    pub fn is_conditional(self) -> bool {
        !self.is_transfer() && !matches!(self, Self::Leak { .. })
    }

    /// Returns the moment at which the leak began or ended.
    pub fn date(self) -> Option<Date> {
        match self {
            Self::Until { date, .. } | Self::Since { date, .. } => Some(date),
            _ => None,
        }
    }

    /// Returns whether the hypothesis moves air into or out of a volume. A passing
    /// fill valve touches its corner and the tank.
    pub fn touches(self, volume: usize, car: &Car) -> bool {
        match self {
            Self::CrossLeak { partner, .. } => self.volume() == volume || partner == volume,
            Self::FillValve { .. } => self.volume() == volume || car.volumes[volume].is_tank,
            _ => self.volume() == volume,
        }
    }

    /// Returns the stable key of the hypothesis, for data output and tests:
    /// `leak:rear_left`, `fill:rear_left`, `cross:rear_left+rear_right`,
    /// `cold0:…`, `low2:…`, `dump:…`, `grow:…`, `until:…`, `since:…`.
    pub fn key(self, car: &Car) -> String {
        let name = |v: usize| car.volumes[v].name.as_str();
        match self {
            Self::Leak { volume } => format!("leak:{}", name(volume)),
            Self::FillValve { volume } => format!("fill:{}", name(volume)),
            Self::CrossLeak { volume, partner } => {
                format!("cross:{}+{}", name(volume), name(partner))
            }
            Self::Cold { volume, level, .. } => format!("cold{level}:{}", name(volume)),
            Self::Low { volume, level, .. } => format!("low{level}:{}", name(volume)),
            Self::AfterDump { volume } => format!("dump:{}", name(volume)),
            Self::Growing { volume } => format!("grow:{}", name(volume)),
            Self::Until { volume, .. } => format!("until:{}", name(volume)),
            Self::Since { volume, .. } => format!("since:{}", name(volume)),
        }
    }

    /// Prior probability relative to that of a plain leak.
    ///
    /// **Source**: judgement, MODEL table of the reference implementation.
    pub(super) fn relative_prior(self) -> f64 {
        match self {
            Self::Leak { .. } => 1.0,
            Self::FillValve { .. } | Self::CrossLeak { .. } => 0.5,
            Self::AfterDump { .. } => 0.25,
            Self::Cold { .. } | Self::Low { .. } | Self::Growing { .. } => CONDITION_PRIOR,
            Self::Until { date, .. } | Self::Since { date, .. } => {
                CONDITION_PRIOR * date.prior_share
            }
        }
    }
}

/// One way of losing air in place of the named one, with its share of the odds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Rival {
    /// The likeliest of its kind: of several limits or moments one.
    pub hypothesis: Hypothesis,
    /// Its odds over those of all ways, 0 to 1.
    pub share: f64,
}

/// What the rests say about one hypothesis.
///
/// **Units**: conductances in cm³/min of air at reference conditions (ANR, 20 °C,
/// 100 kPa) at the usual pressure of the volume.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HypothesisEstimate {
    /// The hypothesis.
    pub hypothesis: Hypothesis,
    /// Conductance, with only this hypothesis let free beside the named ones.
    pub conductance: f64,
    /// Standard error of the decision: inflated by Student's t for few rests, with
    /// the floor for errors that nobody modelled.
    pub standard_error: f64,
    /// Prior odds times Bayes factor of a leak against natural permeation, ln. For a
    /// named leak the smaller of this and the challenge by other error sizes.
    pub ln_odds: f64,
    /// Probability of the hypothesis, `1 / (1 + e^(−ln_odds))`.
    pub probability: f64,
    /// Whether the model names it: probability at least that of the settings and
    /// conductance at least the floor.
    pub named: bool,
    /// Of a named condition: all ways in which this volume may lose air, itself among
    /// them, largest share first; else empty.
    pub rivals: Vec<Rival>,
    /// Smallest conductance that would be named in 95 of 100 such logs. `None` for a
    /// named hypothesis and for a corner without height.
    pub detection_limit: Option<f64>,
}

impl HypothesisEstimate {
    /// Returns the 95 % interval of the conductance.
    pub fn interval_95(&self) -> (f64, f64) {
        let half = 1.96 * self.standard_error;
        (self.conductance - half, self.conductance + half)
    }
}
