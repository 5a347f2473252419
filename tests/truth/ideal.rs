//! Ideal logs: one volume, one leak, white noise, steady temperature. Here the
//! variance of the estimated loss can be compared with the least any unbiased
//! estimator can have.

use crate::path::judge_log;
use seep_common::codec::nmea::{XdrReading, append_xdr};
use seep_common::physics::gas::amount_anr_l;
use seep_common::time::WallMs;
use seep_common::units::{ICE_POINT_K, STANDARD_ATMOSPHERE_KPA_ABS};
use seep_sample_logs::rng::Noise;
use std::path::Path;

/// Variance over the Cramér–Rao bound, and bias.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Efficiency {
    /// Logs behind it; 0: not looked at.
    pub logs: u32,
    /// Variance over the bound.
    pub ratio: f64,
    /// Standard error of that ratio, `√(2/(N−1))` of it.
    pub ratio_se: f64,
    /// Mean error over the square root of the bound.
    pub bias: f64,
}

impl Efficiency {
    /// For the table.
    pub(crate) fn words(&self) -> String {
        format!(
            "{:.2} ± {:.2} ({} logs)",
            self.ratio, self.ratio_se, self.logs
        )
    }

    /// At most a ratio; `None` when not looked at.
    pub(crate) fn met(&self, most: f64) -> Option<bool> {
        (self.logs > 1).then_some(self.ratio <= most)
    }
}

const VOLUME_L: f64 = 20.0;
const START_KPA_ABS: f64 = 900.0;
/// Decay of the absolute pressure, 1/s: a half-life of four days.
const DECAY_PER_S: f64 = 2e-6;
const NOISE_KPA: f64 = 0.4;
const EVERY_S: f64 = 10.0;
const READINGS: u32 = 1_440;
/// Steps of the numbers on the line and of the column in the log, kPa.
const STEPS_KPA: [f64; 2] = [0.1, 0.05];
const CELSIUS: f64 = 20.0;

const RIG: &str = r#"
[vehicle]
name = "Vessel of the bench (invented)"
altitude_m = 0.0
[tank]
volume_l = 20.0
[[source]]
name = "box"
kind = "nmea"
[[channel]]
name = "tank_kpa_gauge"
source = "box"
transducer = "TKP"
[[channel]]
name = "tank_c"
source = "box"
transducer = "TKT"
"#;

/// Efficiency over `logs` logs.
pub(crate) fn efficiency(seed: u64, logs: u32) -> Efficiency {
    if logs < 2 {
        return Efficiency::default();
    }
    let folder = tempfile::tempdir().expect("a scratch folder can be made");
    std::fs::write(folder.path().join("rig.toml"), RIG).expect("it takes files");
    let losses: Vec<f64> = (0..u64::from(logs))
        .filter_map(|i| estimate(seed + i, folder.path()))
        .collect();
    assert_eq!(losses.len(), logs as usize, "every ideal log gives a loss");
    let n = losses.len() as f64;
    let mean = losses.iter().sum::<f64>() / n;
    let variance = losses.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let bound = cramer_rao();
    let ratio = variance / bound;
    Efficiency {
        logs,
        ratio,
        ratio_se: ratio * (2.0 / (n - 1.0)).sqrt(),
        bias: (mean - mean_loss(START_KPA_ABS, DECAY_PER_S)) / bound.sqrt(),
    }
}

/// The loss the report gives for one ideal log, ANR L/s.
fn estimate(seed: u64, folder: &Path) -> Option<f64> {
    let path = |name: &str| folder.join(name).into_os_string();
    std::fs::write(folder.join("box.log"), sentences(seed)).expect("it takes files");
    let log = folder.join("ideal.db");
    let _ = std::fs::remove_file(&log);
    let args = [
        "seepd".into(),
        "replay".into(),
        "--rig".into(),
        path("rig.toml"),
        "--log".into(),
        path("ideal.db"),
        path("box.log"),
    ];
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = seep_daemon::main_with(args.into_iter(), &mut out, &mut err);
    assert_eq!(code, 0, "seepd: {}", String::from_utf8_lossy(&err));
    let judged = judge_log(&log);
    let fit = judged.judgement.fits.first()?;
    Some(fit.loss_l_per_s.value)
}

fn sentences(seed: u64) -> Vec<u8> {
    let mut noise = Noise::new(seed, "ideal");
    let mut out = Vec::new();
    for i in 0..READINGS {
        let t_s = f64::from(i) * EVERY_S;
        let kpa = START_KPA_ABS * (-DECAY_PER_S * t_s).exp() - STANDARD_ATMOSPHERE_KPA_ABS
            + NOISE_KPA * noise.normal();
        let reading = |kind, value, decimals, unit, name| XdrReading {
            kind,
            value: Some(value),
            decimals,
            unit: Some(unit),
            name,
        };
        let readings = [
            reading('P', kpa / 100.0, 3, 'B', "TKP"),
            reading('C', CELSIUS, 2, 'C', "TKT"),
        ];
        let unix_ms = 1_772_427_600_000 + (t_s * 1000.0) as i64;
        append_xdr(&mut out, "YX", Some(WallMs(unix_ms)), &readings).expect("short and finite");
    }
    out
}

/// Mean loss over the log, ANR L/s.
fn mean_loss(kpa_abs: f64, per_s: f64) -> f64 {
    let seconds = f64::from(READINGS - 1) * EVERY_S;
    let lost_kpa = kpa_abs * (1.0 - (-per_s * seconds).exp());
    amount_anr_l(lost_kpa, VOLUME_L, CELSIUS + ICE_POINT_K) / seconds
}

/// Cramér–Rao bound on the variance of the mean loss, (ANR L/s)²: the inverse
/// Fisher information of start pressure and decay under white noise (readings
/// and both roundings), carried to the loss by its gradient.
///
/// **Source**: Cramér 1946, Rao 1945.
fn cramer_rao() -> f64 {
    let variance = NOISE_KPA * NOISE_KPA + STEPS_KPA.iter().map(|q| q * q / 12.0).sum::<f64>();
    let mut information = [0.0_f64; 3];
    for i in 0..READINGS {
        let t_s = f64::from(i) * EVERY_S;
        let by_start = (-DECAY_PER_S * t_s).exp();
        let by_decay = -t_s * START_KPA_ABS * by_start;
        information[0] += by_start * by_start / variance;
        information[1] += by_start * by_decay / variance;
        information[2] += by_decay * by_decay / variance;
    }
    let [a, b, c] = information;
    let determinant = a * c - b * b;
    let (dp, dk) = (1e-3, 1e-9);
    let slope = |f: &dyn Fn(f64) -> f64, d: f64| (f(d) - f(-d)) / (2.0 * d);
    let by_start = slope(&|d| mean_loss(START_KPA_ABS + d, DECAY_PER_S), dp);
    let by_decay = slope(&|d| mean_loss(START_KPA_ABS, DECAY_PER_S + d), dk);
    (c * by_start * by_start - 2.0 * b * by_start * by_decay + a * by_decay * by_decay)
        / determinant
}

#[cfg(test)]
mod tests {
    use super::*;

    /// For a straight line the bound on the slope is 12σ²/(N(N²−1)Δt²); a slow
    /// decay is nearly one.
    #[test]
    fn the_bound_of_a_slow_decay_is_that_of_a_line() {
        let n = f64::from(READINGS);
        let variance = NOISE_KPA * NOISE_KPA + 0.01 / 12.0 + 0.0025 / 12.0;
        let slope = 12.0 * variance / (n * (n * n - 1.0) * EVERY_S * EVERY_S);
        let per_kpa = amount_anr_l(1.0, VOLUME_L, CELSIUS + ICE_POINT_K);
        let expected = slope * per_kpa * per_kpa;
        assert!((cramer_rao() / expected - 1.0).abs() < 0.02);
    }
}
