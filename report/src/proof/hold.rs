//! Holding height or pressure for some hours.
//!
//! A limit speaks of the next hold. It is broken when a recorded hold broke it or when
//! the air lost must break it; it is met when the prediction interval of the next hold
//! lies within it.

use super::seen_holds::{SeenHold, seen_holds};
use super::{JudgedLimit, Outcome, PlannedHold};
use crate::analysis::at_rest::VolumeAtRest;
use crate::analysis::estimate::Estimate;
use crate::analysis::leak::PooledLeak;
use crate::analysis::segment::RestPoint;
use crate::analysis::stats::{next_value, share_interval};
use crate::digest::Digest;
use crate::judgement::Judgement;
use crate::model::{Measured, Text, Unit};
use crate::render::duration_words;
use crate::text;

/// Rest needed before a rate is carried forward: this share of the hold.
/// Common practice, no source: a rate seen for a quarter of the time.
const LEAST_SHARE: f64 = 0.25;

/// From this number of whole recorded holds on they are judged by themselves.
const FEWEST_HOLDS: usize = 3;

/// Usual absolute temperature, K, against which a cooling is a share of the pressure.
const USUAL_K: f64 = 288.15;

/// One limit at one place, and what the log knows of it.
struct Case<'a> {
    limit: &'a PlannedHold,
    by_height: bool,
    within: f64,
    leak: &'a PooledLeak,
    /// Change over the hold by lost air alone, falling positive.
    change: Estimate,
    /// Usual fall by the cooling of a night.
    swing: f64,
    seen: Vec<SeenHold>,
}

/// The next hold, against the limit both ways.
pub(super) fn judge(
    limit: &PlannedHold,
    place: &str,
    digest: &Digest,
    judgement: &Judgement,
) -> JudgedLimit {
    let by_height = limit.within_mm.is_some();
    let (unit, within) = match (limit.within_mm, limit.within_kpa) {
        (Some(mm), _) => (Unit::Mm, mm),
        (None, kpa) => (Unit::KpaDifference, kpa.unwrap_or(f64::NAN)),
    };
    let open = |why: &str, behind: String| JudgedLimit {
        place: place.into(),
        what: format!("fall over {} h", limit.hours),
        limit: Measured::exact(within, unit),
        measured: None,
        outcome: Outcome::Open(why.into()),
        behind: behind.into(),
    };
    let Some(leak) = judgement.leaks.iter().find(|l| l.place == place) else {
        return open("no rest of it was recorded", "nothing".into());
    };
    let Some(change) = change(leak, limit.hours, by_height) else {
        return open("its height is not recorded", behind(leak));
    };
    let value = |p: &RestPoint| match by_height {
        true => p.mm,
        // The pressure of an air spring follows its load.
        false if place == "tank" => p.kpa_abs,
        false => f64::NAN,
    };
    let case = Case {
        limit,
        by_height,
        within,
        leak,
        change,
        swing: swing(judgement.at_rest.volume(place), leak, by_height),
        seen: seen_holds(&digest.rests, place, limit.hours, value),
    };
    let NextHold {
        outcome,
        shown,
        behind,
    } = case.next_hold();
    let (way, shown) = match outcome {
        Outcome::Fail if shown.1 < 0.0 => ("rise", (-shown.2, -shown.1, -shown.0)),
        _ => ("fall", shown),
    };
    JudgedLimit {
        place: place.into(),
        what: format!("{way} over {} h", limit.hours),
        limit: Measured::exact(within, unit),
        measured: Some(if shown.0 < shown.2 {
            Measured::estimate(shown.1, shown.0, shown.2, unit)
        } else {
            Measured::exact((10.0 * shown.1).round() / 10.0, unit)
        }),
        outcome,
        behind,
    }
}

pub(super) fn change(leak: &PooledLeak, hours: f64, by_height: bool) -> Option<Estimate> {
    let per_h = if by_height {
        leak.mm_per_h?
    } else {
        leak.kpa_per_h
    };
    Some(per_h.scaled(hours))
}

/// Usual fall by the cooling of a night, mm or kPa: at constant volume the pressure
/// follows the absolute temperature.
fn swing(volume: Option<&VolumeAtRest>, leak: &PooledLeak, by_height: bool) -> f64 {
    let usual = volume.and_then(|v| {
        if by_height {
            return v.night_cooling_mm;
        }
        // k·p is the fall of pressure, k the share lost.
        let kpa_abs = leak.kpa_per_h.se / (3600.0 * leak.per_s.se);
        Some(kpa_abs * v.night_cooling_k? / USUAL_K)
    });
    usual.filter(|s| s.is_finite()).unwrap_or(0.0).max(0.0)
}

fn behind(leak: &PooledLeak) -> String {
    format!(
        "{} rests, {} in all",
        leak.rests,
        duration_words(leak.seconds)
    )
}

/// What is said of the next hold.
struct NextHold {
    outcome: Outcome,
    /// Low end, value and high end of the change, falling positive.
    shown: (f64, f64, f64),
    behind: Text,
}

impl Case<'_> {
    fn next_hold(&self) -> NextHold {
        self.broken()
            .or_else(|| self.by_recorded_holds())
            .unwrap_or_else(|| self.by_lost_air())
    }

    /// A recorded hold that broke the limit, whole or not.
    fn broken(&self) -> Option<NextHold> {
        let breaks = |s: &&SeenHold| s.farthest.abs() > self.within;
        let broken = self.seen.iter().filter(breaks).count();
        let worst = self
            .seen
            .iter()
            .max_by(|a, b| a.farthest.abs().total_cmp(&b.farthest.abs()))?;
        let all = self.seen.iter().filter(|s| s.whole || breaks(s)).count();
        let share = share_interval(broken, all, 0.95).filter(|_| broken > 0)?;
        Some(NextHold {
            outcome: Outcome::Fail,
            shown: (worst.farthest, worst.farthest, worst.farthest),
            behind: format!(
                "{broken} of {all} recorded holds broke it ({:.0} %, {:.0} to {:.0} %); the \
                 farthest is told",
                100.0 * broken as f64 / all as f64,
                100.0 * share.low,
                100.0 * share.high
            )
            .into(),
        })
    }

    /// Enough whole holds: what the next one does is within their scatter.
    fn by_recorded_holds(&self) -> Option<NextHold> {
        let whole = self.seen.iter().filter(|s| s.whole);
        let farthest: Vec<f64> = whole.map(|s| s.farthest).collect();
        let next = next_value(&farthest, 0.95).filter(|_| farthest.len() >= FEWEST_HOLDS)?;
        if self.loses_too_much().is_some() {
            return None;
        }
        Some(NextHold {
            outcome: self.inside(next.low, next.high),
            shown: (next.low, f64::midpoint(next.low, next.high), next.high),
            behind: format!(
                "{} whole holds recorded, none broke it; where the next will lie",
                farthest.len()
            )
            .into(),
        })
    }

    /// Too few whole holds: the air lost is carried forward, and the usual cooling of a
    /// night comes on top.
    fn by_lost_air(&self) -> NextHold {
        let next = self.next_change();
        let (low, high) = next.interval_95();
        let outcome = self.loses_too_much().unwrap_or_else(|| {
            if let Some(why) = self.too_little() {
                return Outcome::Open(why);
            }
            self.inside(low, high + self.swing)
        });
        let unit = if self.by_height {
            Unit::Mm
        } else {
            Unit::KpaDifference
        };
        let cooling = if self.swing >= 0.5 {
            let swing = Measured::exact(self.swing.round(), unit);
            text![", ", swing, " of it for the cooling of a night"]
        } else {
            Text::default()
        };
        NextHold {
            outcome,
            shown: (low, next.value, high + self.swing),
            behind: text![behind(self.leak), cooling],
        }
    }

    fn loses_too_much(&self) -> Option<Outcome> {
        let (low, high) = self.change.interval_95();
        (low > self.within || high < -self.within).then_some(Outcome::Fail)
    }

    /// Change by lost air over the next hold: the error of the mean and the spread
    /// between rests, which is known to the number of rests less one.
    ///
    /// **Source**: random-effects prediction, Higgins, Thompson, Spiegelhalter, J. R.
    /// Statist. Soc. A 172 (2009) 137, with k − 1 degrees of freedom for the spread;
    /// degrees of freedom of the sum after JCGM 100:2008, G.4 (cited from memory).
    fn next_change(&self) -> Estimate {
        let per_loss = self.change.se / self.leak.loss_l_per_s.se;
        let between = self.leak.between_sd_l_per_s * per_loss;
        if !(between.is_finite() && between > 0.0) {
            return self.change;
        }
        Estimate {
            value: self.change.value,
            se: between,
            degrees_of_freedom: self.leak.rests.saturating_sub(1).max(1) as f64,
        }
        .with_known_error(self.change.se)
    }

    fn too_little(&self) -> Option<String> {
        if !self.by_height && self.leak.lower_bound {
            let why = "off its stops a corner loses height before pressure, and its height is not recorded";
            return Some(why.into());
        }
        (self.leak.seconds < LEAST_SHARE * self.limit.hours * 3600.0).then(|| {
            format!(
                "it rested {} in all, less than a quarter of the hold",
                duration_words(self.leak.seconds)
            )
        })
    }

    fn inside(&self, low: f64, high: f64) -> Outcome {
        if low >= -self.within && high <= self.within {
            return Outcome::Pass;
        }
        Outcome::Open(
            "the next hold may break it: more or calmer holds narrow what is to be expected".into(),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn estimate(value: f64, se: f64) -> Estimate {
        Estimate {
            value,
            se,
            degrees_of_freedom: 1e6,
        }
    }

    fn leak(mm_per_h: f64, se: f64, hours: f64, between: f64) -> PooledLeak {
        PooledLeak {
            place: "rear_left".into(),
            loss_l_per_s: estimate(1e-5, 1e-6),
            between_sd_l_per_s: between,
            kpa_per_h: estimate(0.1, 0.01),
            mm_per_h: Some(estimate(mm_per_h, se)),
            per_s: estimate(6e-7, 6e-8),
            equivalent_conductance: estimate(2e-6, 2e-7),
            rests: 4,
            seconds: hours * 3600.0,
            lower_bound: false,
        }
    }

    fn outcome(leak: &PooledLeak, swing: f64, seen: &[f64]) -> Outcome {
        let limit = PlannedHold {
            place: "rear_left".into(),
            hours: 24.0,
            within_mm: Some(12.0),
            within_kpa: None,
        };
        let case = Case {
            limit: &limit,
            by_height: true,
            within: 12.0,
            leak,
            change: change(leak, 24.0, true).expect("height"),
            swing,
            seen: seen
                .iter()
                .map(|s| SeenHold {
                    farthest: *s,
                    whole: true,
                })
                .collect(),
        };
        case.next_hold().outcome
    }

    /// 0.5 mm/h is the limit of 12 mm in 24 h; 1.96 standard errors decide.
    #[test]
    fn the_whole_interval_decides() {
        let of = |mm_per_h, se| outcome(&leak(mm_per_h, se, 30.0, 0.0), 0.0, &[]);
        assert_eq!(of(0.1, 0.2), Outcome::Pass);
        assert!(matches!(of(0.1, 0.21), Outcome::Open(_)));
        assert_eq!(of(0.9, 0.2), Outcome::Fail);
        assert!(matches!(of(0.88, 0.2), Outcome::Open(_)));
        let short = leak(0.0, 0.01, 5.9, 0.0);
        assert!(matches!(outcome(&short, 0.0, &[]), Outcome::Open(_)));
    }

    /// By hand: 0.1 ± 0.05 mm/h passes; a spread of 0.15 mm/h between four rests
    /// (t of 3.18 and more) does not, nor does a cooling of 8 mm.
    #[test]
    fn spread_between_rests_and_cooling_belong_to_the_next_hold() {
        // 1e-6 ANR L/s stand for 0.05 mm/h.
        let of = |between, swing| outcome(&leak(0.1, 0.05, 30.0, between), swing, &[]);
        assert_eq!(of(0.0, 0.0), Outcome::Pass);
        assert!(matches!(of(3e-6, 0.0), Outcome::Open(_)));
        assert!(matches!(of(0.0, 8.0), Outcome::Open(_)));
    }

    #[test]
    fn recorded_holds_decide_where_there_are_enough() {
        let tight = leak(0.0, 0.01, 300.0, 0.0);
        let mut nights = vec![1.0; 14];
        assert_eq!(outcome(&tight, 0.0, &nights), Outcome::Pass);
        nights[3] = 26.0;
        nights[9] = 26.0;
        assert_eq!(outcome(&tight, 0.0, &nights), Outcome::Fail);
        // None broke it, but they scatter: the next may.
        let scatter = [0.0, 11.0, 1.0, 10.0];
        assert!(matches!(outcome(&tight, 0.0, &scatter), Outcome::Open(_)));
    }
}
