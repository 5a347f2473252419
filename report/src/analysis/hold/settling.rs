//! Disturbances that look like a leak for some minutes: settling after a move, creep.

use super::input::{AirSpring, Conditions};

/// One disturbance: its course in time and the standard deviation of its size in ln of
/// air.
struct Disturbance {
    tau_s: f64,
    corner_sd: f64,
    tank_sd: f64,
}

/// Air that a move has heated or cooled goes back to the temperature of its walls.
///
/// The two fast terms: gas against its wall within a minute; a fill that raises the
/// absolute pressure by a tenth heats the air by 2.8 % without heat flow (isentropic,
/// κ = 1.4), a run of the compressor by more. The three slow terms are those of the
/// model of a car at rest (bag, wall and fittings; common practice, no source).
const SETTLING: [Disturbance; 5] = [
    Disturbance {
        tau_s: 20.0,
        corner_sd: 0.03,
        tank_sd: 0.05,
    },
    Disturbance {
        tau_s: 75.0,
        corner_sd: 0.012,
        tank_sd: 0.02,
    },
    Disturbance {
        tau_s: 240.0,
        corner_sd: 0.006,
        tank_sd: 0.010,
    },
    Disturbance {
        tau_s: 900.0,
        corner_sd: 0.004,
        tank_sd: 0.008,
    },
    Disturbance {
        tau_s: 2700.0,
        corner_sd: 0.002,
        tank_sd: 0.004,
    },
];

/// Creep of a bag's rubber, ln of volume per decade of time since the move.
/// **Source**: 0.1 to 1 % per decade, common practice, no source; the value is that of
/// the model of a car at rest for all bags together.
const CREEP_SD: f64 = 0.004;
/// Time at which creep is taken to begin, s.
const CREEP_FROM_S: f64 = 60.0;

/// A column of the fit and the standard deviation of its coefficient.
pub(super) struct SettlingColumn {
    pub(super) values: Vec<f64>,
    pub(super) sd: f64,
}

/// Returns the columns of a hold: how each disturbance goes on at the times given.
///
/// **Units**: s; values have no unit, `sd` is in ln of air.
pub(super) fn columns(t_s: &[f64], conditions: &Conditions) -> Vec<SettlingColumn> {
    let age = conditions.since_move_s.unwrap_or(0.0).max(0.0);
    let tank = conditions.spring == AirSpring::No;
    let mut out: Vec<SettlingColumn> = SETTLING
        .iter()
        .map(|d| SettlingColumn {
            values: t_s.iter().map(|t| (-(t + age) / d.tau_s).exp()).collect(),
            sd: if tank { d.tank_sd } else { d.corner_sd },
        })
        .collect();
    if !tank {
        let decades = |t: &f64| ((t + age) / CREEP_FROM_S).ln_1p() / std::f64::consts::LN_10;
        out.push(SettlingColumn {
            values: t_s.iter().map(|t| -decades(t)).collect(),
            sd: CREEP_SD,
        });
    }
    out
}
