//! A leak against the detection limit the report claims.

use crate::case::Case;
use crate::coverage::true_rate;
use crate::path::Judged;
use seep_report::analysis::conditions::named_from_l_per_s;
use seep_report::analysis::leak::{CM3_MIN_PER_L_S, LeakFit, TemperatureUse};
use seep_sample_logs::truth::Truth;

/// A leak and the limit claimed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LimitPoint {
    /// True mean loss over the rests (those in which it was open, for a
    /// conditional leak), ANR cm³/min, without its sign.
    pub true_cm3_min: f64,
    /// Limit claimed, ANR cm³/min.
    pub limit_cm3_min: f64,
    /// The limit is claimed for the volume: it is no lower bound.
    pub two_sided: bool,
    /// For a conditional leak, the loss from which its condition would be named,
    /// ANR cm³/min.
    pub named_from_cm3_min: Option<f64>,
    /// Enough rests of both sorts for a conditional leak, and a temperature for
    /// one in the cold.
    pub enough: bool,
    /// The most a corner's pressure fell relatively over an open rest of five
    /// hours or more while its height fell, percent.
    pub pressure_fell_percent: Option<f64>,
}

impl LimitPoint {
    /// Times the limit.
    pub(crate) fn ratio(&self) -> f64 {
        self.true_cm3_min / self.limit_cm3_min
    }

    /// A conditional leak is large enough to be named with its condition.
    pub(crate) fn can_be_named(&self) -> bool {
        self.named_from_cm3_min
            .is_some_and(|least| self.true_cm3_min >= least)
    }

    /// For the list of cars.
    pub(crate) fn words(&self) -> String {
        format!(
            "{:.2} cm3/min, limit {:.2}{}{}{}",
            self.true_cm3_min,
            self.limit_cm3_min,
            self.named_from_cm3_min
                .map_or(String::new(), |cm3| format!(", named from {cm3:.2}")),
            if self.two_sided {
                ""
            } else {
                ", lower bound only"
            },
            if self.enough {
                ""
            } else {
                ", too few rests of both sorts or no temperature"
            }
        )
    }
}

/// Losses below this are not worth a word to the report: kPa a day.
const FLOOR_KPA_PER_DAY: f64 = 5.0;

/// Rests of either sort that a condition needs.
const FEWEST: usize = 4;

/// The point of a leak; `None` when its volume never rested.
pub(crate) fn point(case: Case, place: &str, judged: &Judged, truth: &Truth) -> Option<LimitPoint> {
    let pooled = judged.judgement.leaks.iter().find(|l| l.place == place)?;
    let own: Vec<(&LeakFit, f64)> = judged
        .judgement
        .fits
        .iter()
        .filter(|f| f.place == place)
        .map(|f| (f, true_rate(f, judged, truth).abs()))
        .collect();
    let most = own.iter().map(|o| o.1).fold(0.0, f64::max);
    let conditional = matches!(case, Case::ColdLeak | Case::AfterDump);
    let open: Vec<&(&LeakFit, f64)> = own
        .iter()
        .filter(|o| !conditional || o.1 > 0.3 * most)
        .collect();
    let rate = open.iter().map(|o| o.1).sum::<f64>() / open.len().max(1) as f64;
    let limit = if conditional {
        2.0 * 1.645 * mean_error(&open)
    } else {
        pooled.loss_l_per_s.detection_limit()
    };
    let per_kpa = pooled.kpa_per_h.se / pooled.loss_l_per_s.se;
    let floor = FLOOR_KPA_PER_DAY / 24.0 / per_kpa;
    // Without a temperature a leak in the cold and the cooling itself are one.
    let blind = case == Case::ColdLeak
        && own
            .iter()
            .all(|o| o.0.temperature == TemperatureUse::Assumed);
    let both = open.len() >= FEWEST && own.len() - open.len() >= FEWEST;
    let enough = !conditional || (both && !blind);
    let shares: Vec<(f64, &LeakFit)> = own.iter().map(|(f, rate)| (rate / most, *f)).collect();
    let named_from = named_from_l_per_s(&shares).filter(|_| conditional);
    Some(LimitPoint {
        true_cm3_min: rate * CM3_MIN_PER_L_S,
        limit_cm3_min: limit.max(floor) * CM3_MIN_PER_L_S,
        named_from_cm3_min: named_from.map(|l| l.max(floor) * CM3_MIN_PER_L_S),
        two_sided: !pooled.lower_bound,
        enough,
        pressure_fell_percent: fell(place, truth),
    })
}

/// Error of the mean over the open rests, ANR L/s: of each, and what they share.
fn mean_error(open: &[&(&LeakFit, f64)]) -> f64 {
    let weight = |f: &LeakFit| f.without_shared_errors().se.powi(-2);
    let total: f64 = open.iter().map(|o| weight(o.0)).sum();
    let shared = |pick: &dyn Fn(&LeakFit) -> f64| {
        let sum: f64 = open.iter().map(|o| weight(o.0) * pick(o.0)).sum();
        (sum / total).powi(2)
    };
    let errors = open.iter().map(|o| o.0.shared_errors_l_per_s.len()).max();
    let rig: f64 = (0..errors.unwrap_or(0))
        .map(|k| shared(&|f| f.shared_errors_l_per_s.get(k).copied().unwrap_or(0.0)))
        .sum();
    let recurring: f64 = (0..3).map(|k| shared(&|f| f.recurring_l_per_s[k])).sum();
    (total.recip() + rig + recurring).sqrt()
}

/// Fall of the absolute pressure while the height fell by 5 mm or more.
fn fell(place: &str, truth: &Truth) -> Option<f64> {
    truth
        .rests
        .iter()
        .filter(|r| r.end_ms - r.start_ms > 5 * 3_600_000)
        .filter_map(|r| r.volumes.get(place))
        .filter(|v| v.mm.is_some_and(|mm| mm[0] - mm[1] > 5.0))
        .map(|v| 100.0 * (v.kpa_gauge[0] - v.kpa_gauge[1]) / (v.kpa_gauge[0] + 100.0))
        .max_by(f64::total_cmp)
}
