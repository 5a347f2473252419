//! Does the compressor deliver less than it did?

use super::super::estimate::Estimate;
use super::super::moves::{Compared, change};
use super::super::regression::{Term, regress};
use super::super::stats::{centred, mann_kendall, mean};
use super::Run;

/// Delivery over the log.
#[derive(Debug, Clone, PartialEq)]
pub struct DeliveryTrend {
    /// Compressor.
    pub place: String,
    /// Runs with a measured delivery.
    pub runs: usize,
    /// Delivery at the mean pressure of all runs, in the middle of the log, ANR L/min.
    pub anr_l_per_min: Estimate,
    /// Mean tank pressure it refers to, kPa absolute.
    pub at_kpa_abs: f64,
    /// Logarithm of the delivery of the last third of the runs over that of the
    /// first, at equal pressure and volts; `None` with fewer than six runs.
    pub ln_change: Option<Estimate>,
    /// Two-sided p value of the order of the deliveries in time (Mann–Kendall).
    pub order_p: Option<f64>,
    /// Time from first to last run, days.
    pub days: f64,
    /// The outside pressure of every run is known: what thinner air takes from the
    /// delivery is taken out.
    pub outside_known: bool,
    /// Mean supply voltage in the first and last third of the runs, V.
    pub supply_v: Option<(f64, f64)>,
}

/// A run mostly starts when a fill has just drawn the tank down to its cut-in:
/// the air in it is then colder than its shell for a minute, and seems less
/// than it is. All runs share that error of their delivery, so it widens the
/// level and not the change. Share, one standard deviation; common practice, no
/// source.
const START_HEAT_SHARE: f64 = 0.1;

/// Fewer runs show no trend.
const FEWEST: usize = 5;

/// Sound compressors deliver by so much more or less in one week than in
/// another, beside the scatter of their runs: warmth of the air taken in. One
/// standard deviation of the logarithm; common practice, no source.
const ALIKE: f64 = 0.03;

/// No compressor runs on less, V.
const LEAST_V: f64 = 6.0;

/// No road is so high, kPa absolute.
const LEAST_OUTSIDE_KPA: f64 = 30.0;

/// Delivery and its change over the log.
///
/// Delivery falls with back pressure and, nearly in proportion, with low voltage and
/// with the outside pressure, whatever the wear: both are taken out where recorded.
/// Level: `Q·Ū/U = a + b·(p − p̄) + c·(t − t̄)` by least squares.
/// Change: `ln(Q·Ū/U)` of the last third of the runs less that of the first,
/// with `b·(p − p̄)` taken into account, by robust regression. `None` with fewer
/// than five runs; no change with fewer than six.
#[must_use]
pub fn trend(place: &str, runs: &[Run]) -> Option<DeliveryTrend> {
    let used: Vec<(&Run, f64)> = runs
        .iter()
        .filter_map(|r| r.anr_l_per_min.map(|q| (r, q)))
        .filter(|(_, q)| *q > 0.0)
        .collect();
    if used.len() < FEWEST {
        return None;
    }
    let volts: Option<Vec<f64>> = used.iter().map(|u| u.0.supply_v).collect();
    let outside: Option<Vec<f64>> = used.iter().map(|u| u.0.outside_kpa_abs).collect();
    let q: Vec<f64> = used.iter().map(|u| u.1).collect();
    let q = at_mean(&q, volts.as_deref(), LEAST_V);
    // A compressor takes in a volume: the air in it is in proportion to the pressure.
    let q = at_mean(&q, outside.as_deref(), LEAST_OUTSIDE_KPA);
    let kpa: Vec<f64> = used
        .iter()
        .map(|u| (u.0.kpa_abs.0 + u.0.kpa_abs.1) / 2.0)
        .collect();
    let days: Vec<f64> = used
        .iter()
        .map(|u| u.0.from_ms as f64 / 86_400_000.0)
        .collect();
    let mut terms = vec![Term::free(vec![1.0; q.len()]), Term::free(centred(&days))];
    // Pressure enters where it varies enough to be told from noise.
    if spread(&kpa) > 10.0 && q.len() > FEWEST + 1 {
        terms.push(Term::free(centred(&kpa)));
    }
    let fit = regress(&terms, &q, &vec![1.0; q.len()])?;
    let level = Estimate {
        value: fit.values[0],
        se: fit.standard_errors[0],
        degrees_of_freedom: fit.degrees_of_freedom,
    };
    let logs: Vec<f64> = q.iter().map(|q| q.ln()).collect();
    let compared = Compared {
        values: &logs,
        weights: &vec![1.0; q.len()],
        covariates: std::slice::from_ref(&kpa),
        t_ms: &used.iter().map(|u| u.0.from_ms).collect::<Vec<_>>(),
    };
    let ln_change = change(&compared).map(|c| c.last_less_first.with_known_error(ALIKE));
    Some(DeliveryTrend {
        place: place.into(),
        runs: q.len(),
        anr_l_per_min: level.with_known_error(START_HEAT_SHARE * level.value),
        at_kpa_abs: mean(&kpa)?,
        ln_change,
        order_p: mann_kendall(&logs).map(|mk| mk.p()),
        days: days.last()? - days.first()?,
        outside_known: outside.is_some(),
        supply_v: volts.and_then(|v| thirds(&v)),
    })
}

impl DeliveryTrend {
    /// Change from the first to the last third of the runs, percent of the first.
    #[must_use]
    pub fn change_percent(&self) -> Option<Estimate> {
        let ln = self.ln_change?;
        Some(Estimate {
            value: 100.0 * ln.value.exp_m1(),
            se: 100.0 * ln.value.exp() * ln.se,
            degrees_of_freedom: ln.degrees_of_freedom,
        })
    }
}

/// Delivery as it would be at the mean of something it is in proportion to, such as
/// the supply voltage or the outside pressure; as it is where that is not known. Less
/// than `least` is no reading.
fn at_mean(q: &[f64], known: Option<&[f64]>, least: f64) -> Vec<f64> {
    let Some((values, middle)) = known.and_then(|v| Some((v, mean(v)?))) else {
        return q.to_vec();
    };
    q.iter()
        .zip(values)
        .map(|(q, value)| q * middle / value.max(least))
        .collect()
}

/// Root mean square around the mean.
fn spread(values: &[f64]) -> f64 {
    let squares: Vec<f64> = centred(values).iter().map(|v| v * v).collect();
    mean(&squares).unwrap_or(0.0).sqrt()
}

fn thirds(values: &[f64]) -> Option<(f64, f64)> {
    let third = (values.len() / 3).max(1);
    Some((
        mean(&values[..third])?,
        mean(&values[values.len() - third..])?,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(day: f64, kpa: f64, q: f64) -> Run {
        let from_ms = (day * 86_400_000.0) as i64;
        Run {
            from_ms,
            to_ms: from_ms + 60_000,
            kpa_abs: (kpa - 50.0, kpa + 50.0),
            gain_anr_l: Some(q),
            cooled_gain_anr_l: Some(q),
            filling: false,
            alone: true,
            anr_l_per_min: Some(q),
            supply_v: Some(13.8),
            outside_kpa_abs: None,
        }
    }

    /// Invented: half of the runs at 1,500 m, 84.6 kPa after ISO 2533.
    #[test]
    fn thin_air_is_no_wear() {
        let mut runs: Vec<Run> = (0..20)
            .map(|i| {
                let low = i < 10;
                let outside = if low { 101.3 } else { 84.6 };
                let wobble = 1.0 + 0.004 * f64::from(i % 3);
                Run {
                    outside_kpa_abs: Some(outside),
                    ..run(f64::from(i), 1_000.0, 0.3 * outside * wobble)
                }
            })
            .collect();
        let known = trend("compressor_1", &runs).expect("enough");
        assert!(known.outside_known);
        assert!(known.ln_change.expect("enough").value.abs() < 0.02);
        assert!(crate::analysis::diagnose::explain_delivery(&known).is_none());
        runs.iter_mut().for_each(|r| r.outside_kpa_abs = None);
        let unknown = trend("compressor_1", &runs).expect("enough");
        assert!(unknown.ln_change.expect("enough").value < -0.15);
        assert!(crate::analysis::diagnose::explain_delivery(&unknown).is_none());
    }

    /// Invented: 30 L/min less 0.01 L/min per kPa, wearing by 2 L/min in 10 days.
    #[test]
    fn wear_is_told_from_back_pressure() {
        let runs: Vec<Run> = (0..20)
            .map(|i| {
                let day = f64::from(i) * 0.5;
                let kpa = 1_000.0 + 100.0 * f64::from(i % 3);
                let wobble = if i % 2 == 0 { 0.05 } else { -0.05 };
                run(day, kpa, 40.0 - 0.01 * kpa - 0.2 * day + wobble)
            })
            .collect();
        let t = trend("compressor_1", &runs).expect("enough");
        let change = t.change_percent().expect("enough");
        let (low, high) = change.interval_95();
        // The middles of the outer thirds are 6.75 days apart.
        let truth = -0.2 * 6.75 / (t.anr_l_per_min.value + 0.1 * 6.75) * 100.0;
        assert!(low < truth && truth < high, "{low} {truth} {high}");
        assert!(change.value < 0.0);
    }

    /// Invented: a step down by 30 % in the middle of twelve runs.
    #[test]
    fn a_step_shows_in_a_dozen_runs() {
        let runs: Vec<Run> = (0..12)
            .map(|i| {
                let left = if i < 5 { 1.0 } else { 0.7 };
                let kpa = 1_060.0 + 30.0 * f64::from(i * 5 % 7) / 7.0;
                let wobble = 1.0 + 0.02 * (f64::from(i * 3 % 5) - 2.0);
                run(f64::from(i), kpa, (45.0 - 0.02 * kpa) * left * wobble)
            })
            .collect();
        let t = trend("compressor_1", &runs).expect("enough");
        let change = t.ln_change.expect("enough");
        assert!((change.value - 0.7_f64.ln()).abs() < 0.06, "{change:?}");
        assert!(change.falls_p() < 1e-3, "{change:?}");
    }

    #[test]
    fn four_runs_show_no_trend() {
        let runs: Vec<Run> = (0..4).map(|i| run(f64::from(i), 1_000.0, 30.0)).collect();
        assert!(trend("compressor_1", &runs).is_none());
    }
}
