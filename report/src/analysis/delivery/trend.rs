//! Does the compressor deliver less than it did?

use super::super::estimate::Estimate;
use super::super::regression::{Term, regress};
use super::super::stats::mean;
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
    /// Change over the whole log, percent of the delivery at its start.
    pub change_percent: Estimate,
    /// Time from first to last run, days.
    pub days: f64,
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

/// Delivery and its change over the log.
///
/// Model: `Q·Ū/U = a + b·(p − p̄) + c·(t − t̄)`: delivery falls with back pressure
/// and, nearly in proportion, with low voltage whatever the wear, so both are
/// taken out before a change in time is believed. `None` with fewer than five
/// runs.
#[must_use]
pub fn trend(place: &str, runs: &[Run]) -> Option<DeliveryTrend> {
    let used: Vec<(&Run, f64)> = runs
        .iter()
        .filter_map(|r| r.anr_l_per_min.map(|q| (r, q)))
        .collect();
    if used.len() < FEWEST {
        return None;
    }
    let volts: Option<Vec<f64>> = used.iter().map(|u| u.0.supply_v).collect();
    let q = at_mean_volts(
        &used.iter().map(|u| u.1).collect::<Vec<_>>(),
        volts.as_deref(),
    );
    let kpa: Vec<f64> = used
        .iter()
        .map(|u| (u.0.kpa_abs.0 + u.0.kpa_abs.1) / 2.0)
        .collect();
    let days: Vec<f64> = used
        .iter()
        .map(|u| u.0.from_ms as f64 / 86_400_000.0)
        .collect();
    let span_days = days.last()? - days.first()?;
    let mut terms = vec![Term::free(vec![1.0; q.len()]), Term::free(centred(&days))];
    // Pressure enters where it varies enough to be told from noise.
    if spread(&kpa) > 10.0 && q.len() > FEWEST + 1 {
        terms.push(Term::free(centred(&kpa)));
    }
    let weights: Vec<f64> = vec![1.0; q.len()];
    let fit = regress(&terms, &q, &weights)?;
    let level = Estimate {
        value: fit.values[0],
        se: fit.standard_errors[0],
        degrees_of_freedom: fit.degrees_of_freedom,
    };
    let slope = Estimate {
        value: fit.values[1],
        se: fit.standard_errors[1],
        degrees_of_freedom: fit.degrees_of_freedom,
    };
    let at_start = level.value - slope.value * span_days / 2.0;
    Some(DeliveryTrend {
        place: place.into(),
        runs: q.len(),
        anr_l_per_min: level.with_known_error(START_HEAT_SHARE * level.value),
        at_kpa_abs: mean(&kpa)?,
        change_percent: slope.scaled(100.0 * span_days / at_start),
        days: span_days,
        supply_v: volts.and_then(|v| thirds(&v)),
    })
}

/// Delivery as it would be at the mean voltage of all runs.
fn at_mean_volts(q: &[f64], volts: Option<&[f64]>) -> Vec<f64> {
    let Some((volts, middle)) = volts.and_then(|v| Some((v, mean(v)?))) else {
        return q.to_vec();
    };
    q.iter()
        .zip(volts)
        .map(|(q, u)| q * middle / u.max(6.0))
        .collect()
}

fn centred(values: &[f64]) -> Vec<f64> {
    let middle = mean(values).unwrap_or(0.0);
    values.iter().map(|v| v - middle).collect()
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
            alone: true,
            anr_l_per_min: Some(q),
            supply_v: Some(13.8),
        }
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
        let (low, high) = t.change_percent.interval_95();
        let truth = -0.2 * 9.5 / (t.anr_l_per_min.value + 0.2 * 9.5 / 2.0) * 100.0;
        assert!(low < truth && truth < high, "{low} {truth} {high}");
        assert!(high < 0.0);
    }

    #[test]
    fn four_runs_show_no_trend() {
        let runs: Vec<Run> = (0..4).map(|i| run(f64::from(i), 1_000.0, 30.0)).collect();
        assert!(trend("compressor_1", &runs).is_none());
    }
}
