//! Two spans of one log against each other: this week and last, before and
//! after a repair.

mod delivery;

use crate::analysis::duty::Timeline;
use crate::analysis::estimate::Estimate;
use crate::analysis::leak::{CM3_MIN_PER_L_S, PooledLeak};
use crate::analysis::moves::MoveTrend;
use crate::analysis::stats::{holm, mean, sd, student_t_two_sided_p};
use crate::digest::Digest;
use crate::findings::{NIGHT_H, measured, place_words};
use crate::judgement::Judgement;
use crate::model::{Measured, Unit};

/// One quantity in both spans.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// Place, path or compressor, in words.
    pub what: String,
    /// The quantity, in words.
    pub quantity: &'static str,
    /// In the span compared with.
    pub before: Measured,
    /// In the span reported on.
    pub now: Measured,
    /// Now minus before, with its 95 % interval; a ratio for conductances.
    pub difference: Measured,
    /// p value of no difference, over all quantities (Holm).
    pub p: f64,
    /// More of it is worse.
    pub more_is_worse: bool,
    /// The same as a person sees it, where that is another quantity.
    pub plain: Option<PlainDifference>,
}

/// A difference in the quantity that is drawn and spoken of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlainDifference {
    /// The quantity, in words.
    pub quantity: &'static str,
    /// In the span compared with.
    pub before: Measured,
    /// In the span reported on.
    pub now: Measured,
    /// Now minus before.
    pub difference: Measured,
}

impl Difference {
    /// True when the change is beyond chance, all quantities taken together.
    #[must_use]
    pub fn changed(&self) -> bool {
        self.p < 0.05
    }

    /// The quantity to draw and to speak of: a loss at rest as what is seen of it.
    #[must_use]
    pub fn shown(&self) -> PlainDifference {
        self.plain.unwrap_or(PlainDifference {
            quantity: self.quantity,
            before: self.before,
            now: self.now,
            difference: self.difference,
        })
    }

    /// True when it changed for the worse.
    #[must_use]
    pub fn worse(&self) -> bool {
        self.changed() && (self.difference.value > 0.0) == self.more_is_worse
    }
}

/// Every quantity that both spans have, the surest change first.
#[must_use]
pub fn compare(before: (&Digest, &Judgement), now: (&Digest, &Judgement)) -> Vec<Difference> {
    let mut out = losses(before.1, now.1);
    out.extend(conductances(before.1, now.1));
    out.extend(duties(before.0, now.0));
    out.extend(delivery::deliveries(before.0, now.0));
    let p: Vec<f64> = out.iter().map(|d| d.p).collect();
    for (difference, p) in out.iter_mut().zip(holm(&p)) {
        difference.p = p;
    }
    out.sort_by(|a, b| a.p.total_cmp(&b.p));
    out
}

/// Difference of two independent estimates.
///
/// **Source**: Welch's test; degrees of freedom after Satterthwaite
/// (NIST/SEMATECH e-Handbook 1.3.5.3).
fn welch(before: &Estimate, now: &Estimate) -> (Estimate, f64) {
    let (a, b) = (before.se * before.se, now.se * now.se);
    let freedom = (a + b).powi(2)
        / (a * a / before.degrees_of_freedom.max(1.0) + b * b / now.degrees_of_freedom.max(1.0));
    let difference = Estimate {
        value: now.value - before.value,
        se: (a + b).sqrt(),
        degrees_of_freedom: if freedom.is_finite() { freedom } else { 1.0 },
    };
    let p = if difference.se > 0.0 {
        student_t_two_sided_p(
            difference.value / difference.se,
            difference.degrees_of_freedom,
        )
    } else {
        1.0
    };
    (difference, p)
}

fn difference(
    what: String,
    quantity: &'static str,
    before: &Estimate,
    now: &Estimate,
    unit: Unit,
) -> Difference {
    let (change, p) = welch(before, now);
    Difference {
        what,
        quantity,
        before: measured(before, unit),
        now: measured(now, unit),
        difference: measured(&change, unit),
        p,
        more_is_worse: true,
        plain: None,
    }
}

/// The same loss as a fall of height, or of pressure where no height is recorded.
fn overnight(before: &PooledLeak, now: &PooledLeak) -> PlainDifference {
    let (before, now, unit) = match (&before.mm_per_h, &now.mm_per_h) {
        (Some(b), Some(n)) => (b, n, Unit::Mm),
        _ => (&before.kpa_per_h, &now.kpa_per_h, Unit::KpaDifference),
    };
    let (before, now) = (before.scaled(NIGHT_H), now.scaled(NIGHT_H));
    let (change, _) = welch(&before, &now);
    PlainDifference {
        quantity: match unit {
            Unit::Mm => "fall of height in ten hours",
            _ => "fall of pressure in ten hours",
        },
        before: measured(&before, unit),
        now: measured(&now, unit),
        difference: measured(&change, unit),
    }
}

fn losses(before: &Judgement, now: &Judgement) -> Vec<Difference> {
    now.leaks
        .iter()
        .filter_map(|n| {
            let b = before.leaks.iter().find(|b| b.place == n.place)?;
            Some(Difference {
                plain: Some(overnight(b, n)),
                ..difference(
                    place_words(&n.place),
                    "loss at rest",
                    &b.loss_l_per_s.scaled(CM3_MIN_PER_L_S),
                    &n.loss_l_per_s.scaled(CM3_MIN_PER_L_S),
                    Unit::AnrCm3PerMin,
                )
            })
        })
        .collect()
}

fn conductances(before: &Judgement, now: &Judgement) -> Vec<Difference> {
    now.paths
        .iter()
        .filter_map(|n| {
            let same = |b: &&MoveTrend| b.place == n.place && b.direction == n.direction;
            let b = before.paths.iter().find(same)?;
            conductance(b, n)
        })
        .collect()
}

/// A value as a share of that before, in percent.
fn of_before(value: Measured, before: f64) -> Measured {
    let share = |x: f64| 100.0 * x / before;
    Measured {
        value: share(value.value),
        low: value.low.map(share),
        high: value.high.map(share),
        unit: Unit::Percent,
        ..value
    }
}

/// The change of a path in percent, from the logarithm of the ratio. Each drive is one
/// witness, and each span has what weeks of a sound path differ by.
fn conductance(before: &MoveTrend, now: &MoveTrend) -> Option<Difference> {
    let usable = |t: &MoveTrend| t.ln_level.filter(|l| t.moves >= 3 && l.se > 0.0);
    let (was, is) = (usable(before)?, usable(now)?);
    let (change, p) = welch(&was, &is);
    let (low, high) = change.interval_95();
    let percent = |x: f64| 100.0 * x.exp_m1();
    let shown = |l: &Estimate| {
        let (low, high) = l.interval_95();
        Measured::estimate(l.value.exp(), low.exp(), high.exp(), Unit::SonicConductance)
    };
    Some(Difference {
        what: format!("{} {}", place_words(&now.place), now.direction.word()),
        quantity: "conductance",
        before: shown(&was),
        now: shown(&is),
        difference: Measured::estimate(
            percent(change.value),
            percent(low),
            percent(high),
            Unit::Percent,
        ),
        p,
        more_is_worse: false,
        plain: Some(PlainDifference {
            quantity: "air passed in the same time",
            before: of_before(shown(&was), was.value.exp()),
            now: of_before(shown(&is), was.value.exp()),
            difference: Measured::estimate(
                percent(change.value),
                percent(low),
                percent(high),
                Unit::Percent,
            ),
        }),
    })
}

fn duties(before: &Digest, now: &Digest) -> Vec<Difference> {
    now.compressors
        .iter()
        .filter_map(|n| {
            let b = before.compressors.iter().find(|b| b.place == n.place)?;
            let (was, is) = (by_hour(&b.timeline)?, by_hour(&n.timeline)?);
            let mut d = difference(place_words(&n.place), "duty", &was, &is, Unit::Percent);
            d.difference.unit = Unit::PercentPoints;
            Some(d)
        })
        .collect()
}

/// Duty as the mean over hours of at least half known time, with the spread
/// between hours as its error. `None` with fewer than three such hours.
fn by_hour(timeline: &Timeline) -> Option<Estimate> {
    const HOUR_MS: i64 = 3_600_000;
    let from = timeline.known().first()?.0;
    let to = timeline.known().last()?.1;
    let hours: Vec<f64> = (0..(to - from) / HOUR_MS)
        .map(|i| timeline.window(from + i * HOUR_MS, HOUR_MS))
        .filter(|w| w.coverage() >= 0.5)
        .filter_map(|w| w.percent())
        .collect();
    if hours.len() < 3 {
        return None;
    }
    Some(Estimate {
        value: mean(&hours)?,
        se: sd(&hours)? / (hours.len() as f64).sqrt(),
        degrees_of_freedom: (hours.len() - 1) as f64,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked example: two samples of sizes 10 and 8, means 20.1 and 23.4,
    /// standard deviations 2 and 3: t = −2.678…, ν = 11.8 (by hand).
    #[test]
    fn welch_by_hand() {
        let of = |mean: f64, sd: f64, n: f64| Estimate {
            value: mean,
            se: sd / n.sqrt(),
            degrees_of_freedom: n - 1.0,
        };
        let (d, p) = welch(&of(20.1, 2.0, 10.0), &of(23.4, 3.0, 8.0));
        assert!((d.value - 3.3).abs() < 1e-12);
        assert!((d.se - (0.4_f64 + 1.125).sqrt()).abs() < 1e-12);
        let freedom = 1.525_f64.powi(2) / (0.16 / 9.0 + 1.125_f64.powi(2) / 7.0);
        assert!((d.degrees_of_freedom - freedom).abs() < 1e-9);
        assert!(p > 0.01 && p < 0.05, "{p}");
    }
}
