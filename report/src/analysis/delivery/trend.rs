//! Does the compressor deliver less than it did?

use super::super::estimate::Estimate;
use super::super::moves::{ComparedMoves, change};
use super::super::regression::regress;
use super::super::stats::{centred, mann_kendall, mean, median, normal_two_sided_p};
use super::{Run, relative_to_mean};
use seep_common::rig::SensorError;

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
    /// A barometer was recorded with every run; without one a mountain may look like
    /// wear, and the error of the change holds that.
    pub barometer: bool,
    /// The part of the error of the change that more runs do not lessen, as a
    /// logarithm, one standard deviation.
    pub known_error: f64,
    /// Logarithm of the delivery of the last third of the runs over that of the
    /// first, at equal pressure and volts; `None` with fewer than six runs.
    pub ln_change: Option<Estimate>,
    /// Two-sided p value of the order of the deliveries in time (Mann–Kendall), and
    /// no smaller than that of the whole change against `known_error`.
    pub order_p: Option<f64>,
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

/// Sound compressors deliver by so much more or less in one week than in
/// another, beside the scatter of their runs: the air is taken in warmer or colder
/// than outside. One standard deviation of the logarithm, 9 K; common practice, no
/// source.
const BETWEEN_WEEK_SD: f64 = 0.03;

/// The same where no outside temperature is recorded: 15 K from week to week.
const UNSEEN_WARMTH_SD: f64 = 0.05;

/// The same where no barometer is recorded: 1,000 m of altitude. The air taken in is
/// thinner, `ln(89.876/101.325) = −0.120` (US Standard Atmosphere 1976), and a pump with
/// 4 % dead space at 900 kPa gauge takes in less of it, `ln(0.787/0.807) = −0.025` (see
/// volumetric efficiency of a reciprocating compressor, any textbook of engineering
/// thermodynamics). How high a car is driven: common practice, no source.
const UNSEEN_ALTITUDE_SD: f64 = 0.145;

/// Back pressures that scatter less than this say nothing about their effect, kPa.
const LEAST_SPREAD_KPA: f64 = 10.0;

/// Delivery and its change over the log.
///
/// Delivery follows the density of the air taken in, `p/T` outside, falls with the
/// back pressure and, nearly in proportion, with low voltage whatever the wear. With
/// `q = Q·Ū/U·ρ̄/ρ` and the gauge pressure p of the tank, level:
/// `q = a + b·(p − p̄) + c·(t − t̄)` by least squares. Change: `ln q` of the last third
/// of the runs less that of the first, with `b·(p − p̄)` taken into account, by robust
/// regression. `None` with fewer than five runs; no change with fewer than six.
///
/// The error of the tank's sensor (span, hysteresis, quantum) is in every run alike.
#[must_use]
pub fn trend(place: &str, runs: &[Run], tank: &SensorError) -> Option<DeliveryTrend> {
    let used: Vec<&Run> = runs
        .iter()
        .filter(|r| r.anr_l_per_min.is_some_and(|q| q > 0.0))
        .collect();
    if used.len() < FEWEST {
        return None;
    }
    let volts: Option<Vec<f64>> = used.iter().map(|r| r.supply_v).collect();
    let q = comparable(&used);
    let of = |value: fn(&Run) -> f64| -> Vec<f64> { used.iter().map(|r| value(r)).collect() };
    let kpa = of(Run::back_pressure_kpa);
    let days = of(|r| r.from_ms as f64 / 86_400_000.0);
    let mut terms = vec![vec![1.0; q.len()], centred(&days)];
    // Pressure enters where it varies enough to be told from noise.
    if spread(&kpa) > LEAST_SPREAD_KPA && q.len() > FEWEST + 1 {
        terms.push(centred(&kpa));
    }
    let fit = regress(&terms, &q, &vec![1.0; q.len()])?;
    let level = Estimate {
        value: fit.values[0],
        se: fit.standard_errors[0],
        degrees_of_freedom: fit.degrees_of_freedom,
    };
    let barometer = used.iter().all(|r| r.barometer);
    let step_share = step_share(&used, tank);
    let known_error = known_error(&used).hypot(step_share);
    let of_sensor = tank.span_share().hypot(step_share);
    let logs: Vec<f64> = q.iter().map(|q| q.ln()).collect();
    let compared = ComparedMoves {
        values: &logs,
        weights: &vec![1.0; q.len()],
        covariates: std::slice::from_ref(&kpa),
        t_ms: &used.iter().map(|u| u.from_ms).collect::<Vec<_>>(),
    };
    let change = change(&compared);
    let ln_change = change
        .as_ref()
        .map(|c| c.last_less_first.with_known_error(known_error));
    let order_p = change.and_then(|c| {
        let shared = normal_two_sided_p(c.last_less_first.value / known_error);
        mann_kendall(&c.like_for_like).map(|mk| mk.p().max(shared))
    });
    Some(DeliveryTrend {
        place: place.into(),
        runs: q.len(),
        anr_l_per_min: level.with_known_error(START_HEAT_SHARE.hypot(of_sensor) * level.value),
        at_kpa_abs: mean(&of(|r| f64::midpoint(r.kpa_abs.0, r.kpa_abs.1)))?,
        barometer,
        known_error,
        ln_change,
        order_p,
        days: days.last()? - days.first()?,
        supply_v: volts.and_then(|v| thirds(&v)),
    })
}

/// Error of the rise of the tank's pressure in a run by hysteresis and quantum of its
/// sensor, as a share of the rise.
///
/// **Source**: a difference of two readings rounded to a quantum q has the standard
/// deviation q/√6 (JCGM 100:2008, 4.3.7).
fn step_share(runs: &[&Run], tank: &SensorError) -> f64 {
    let rises: Vec<f64> = runs.iter().map(|r| r.kpa_abs.1 - r.kpa_abs.0).collect();
    let rise_kpa = median(&rises).unwrap_or(0.0).max(1.0);
    let rounding_kpa = tank.quantum.unwrap_or(0.0) / 6.0_f64.sqrt();
    rounding_kpa.hypot(tank.hysteresis()) / rise_kpa
}

/// What more runs of the same log do not lessen: what was not recorded is not known.
#[must_use]
pub fn known_error(runs: &[&Run]) -> f64 {
    let unseen = |seen: bool, sd: f64| if seen { 0.0 } else { sd };
    let altitude = unseen(runs.iter().all(|r| r.barometer), UNSEEN_ALTITUDE_SD);
    let warmth = unseen(runs.iter().all(|r| r.outside_k.is_some()), UNSEEN_WARMTH_SD);
    BETWEEN_WEEK_SD.hypot(altitude).hypot(warmth)
}

/// Deliveries, ANR L/min, as they would be at the mean voltage and the mean density of
/// the intake of all these runs. A quantity not recorded with every run is left out.
#[must_use]
pub fn comparable(runs: &[&Run]) -> Vec<f64> {
    let volts: Option<Vec<f64>> = runs.iter().map(|r| r.supply_v).collect();
    let middle = volts.as_deref().and_then(mean);
    let of_volts = |r: &Run| match (middle, r.supply_v) {
        (Some(middle), Some(volts)) => middle / volts.max(6.0),
        _ => 1.0,
    };
    runs.iter()
        .zip(relative_to_mean(runs))
        .map(|(r, density)| r.anr_l_per_min.unwrap_or(f64::NAN) * of_volts(r) / density)
        .collect()
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
    use seep_common::channel::Quantity;

    fn sensor() -> SensorError {
        SensorError::usual(Quantity::GaugePressure)
    }

    fn run(day: f64, kpa: f64, q: f64) -> Run {
        let from_ms = (day * 86_400_000.0) as i64;
        Run {
            from_ms,
            to_ms: from_ms + 60_000,
            kpa_abs: (kpa - 50.0, kpa + 50.0),
            kpa_gauge: None,
            outside_kpa_abs: 100.0,
            barometer: true,
            outside_k: Some(293.15),
            ended_by: crate::analysis::delivery::RunEnd::Switch,
            gain_anr_l: Some(q),
            cooled_gain_anr_l: Some(q),
            filling: false,
            alone: true,
            anr_l_per_min: Some(q),
            supply_v: Some(13.8),
        }
    }

    /// Invented: half of the runs at 1,500 m, 84.6 kPa after ISO 2533.
    #[test]
    fn thin_air_is_no_wear() {
        let mut runs: Vec<Run> = (0..20)
            .map(|i| {
                let outside = if i < 10 { 101.3 } else { 84.6 };
                let wobble = 1.0 + 0.004 * f64::from(i % 3);
                Run {
                    outside_kpa_abs: outside,
                    ..run(f64::from(i), 1_000.0, 0.3 * outside * wobble)
                }
            })
            .collect();
        let known = trend("compressor_1", &runs, &sensor()).expect("enough");
        assert!(known.barometer);
        assert!(known.ln_change.expect("enough").value.abs() < 0.02);
        assert!(crate::analysis::diagnose::explain_delivery(&known).is_none());
        for run in &mut runs {
            run.outside_kpa_abs = 101.325;
            run.barometer = false;
        }
        let unknown = trend("compressor_1", &runs, &sensor()).expect("enough");
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
        let t = trend("compressor_1", &runs, &sensor()).expect("enough");
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
        let t = trend("compressor_1", &runs, &sensor()).expect("enough");
        let change = t.ln_change.expect("enough");
        assert!((change.value - 0.7_f64.ln()).abs() < 0.06, "{change:?}");
        assert!(change.falls_p() < 1e-3, "{change:?}");
    }

    /// The rise of a run is 100 kPa; a J1939 tank counts in steps of 8 kPa: 8/√6 = 3.3 %.
    #[test]
    fn a_coarse_sensor_widens_the_delivery() {
        let runs: Vec<Run> = (0..8)
            .map(|i| run(f64::from(i), 1_000.0, 30.0 + 0.01 * f64::from(i % 3)))
            .collect();
        let width = |quantum: Option<f64>| {
            let tank = SensorError {
                quantum,
                ..sensor()
            };
            let (low, high) = trend("compressor_1", &runs, &tank)
                .expect("enough")
                .anr_l_per_min
                .interval_95();
            high - low
        };
        let of_step = (width(Some(8.0)).powi(2) - width(None).powi(2)).sqrt();
        let expected = 2.0 * 1.96 * 30.0 * 8.0 / 6.0_f64.sqrt() / 100.0;
        assert!(
            (of_step / expected - 1.0).abs() < 0.05,
            "{of_step} {expected}"
        );
    }

    #[test]
    fn four_runs_show_no_trend() {
        let runs: Vec<Run> = (0..4).map(|i| run(f64::from(i), 1_000.0, 30.0)).collect();
        assert!(trend("compressor_1", &runs, &sensor()).is_none());
    }
}
