//! Settling after a fill or dump: the air that came or stayed is hot or cold.

use super::{Cause, Columns, Family};

/// Time constants of settling, s. **Source**: air against the wall of a bag, minutes;
/// bag and fittings, up to an hour; common practice, no source.
const SETTLING_S: [f64; 3] = [240.0, 900.0, 2700.0];
/// Sd in ln of air, corner and tank.
const CORNER_SD: [f64; 3] = [0.006, 0.004, 0.002];
const TANK_SD: [f64; 3] = [0.010, 0.008, 0.004];
/// Moves shorter than this change the temperature in proportion to their length, s.
const SHORT_MOVE_S: f64 = 4.0;
const SHORT_RUN_S: f64 = 60.0;
/// Share by which a single rest may differ.
const OWN_SHARE: f64 = 0.6;

impl Columns<'_> {
    pub(super) fn add_settling(&mut self) {
        let Some(own_move) = self.rest.last_move else {
            return;
        };
        let up = own_move.sign > 0.0;
        let (sds, short) = match (self.is_bag(), up) {
            (true, _) => (CORNER_SD, SHORT_MOVE_S),
            (false, true) => (TANK_SD, SHORT_RUN_S),
            (false, false) => (TANK_SD, SHORT_MOVE_S),
        };
        let size = own_move.sign * (1.0 - (-own_move.duration_s / short).exp());
        for (k, (tau, sd)) in SETTLING_S.into_iter().zip(sds).enumerate() {
            let times = self.rest.t_s.iter();
            let column: Vec<f64> = times
                .map(|t| size * (-(t - own_move.end_s) / tau).exp())
                .collect();
            if column.iter().all(|x| x.abs() <= 1e-3) {
                continue;
            }
            self.own(
                Cause::Settling,
                column.clone().into_iter().map(|x| x * OWN_SHARE * sd),
            );
            let part = 2 * k + usize::from(up);
            self.error(Family::Settle, part, self.this(), sd, column.into_iter());
        }
    }
}
