//! Errors of the thermometer: gain, lag, and what another one knows better.

use super::{Cause, Columns, ErrorKey, Family, Owner, Target, ThermometerKind};

/// Standard deviation of the lag coefficients (1 = the air follows the thermometer
/// wholly behind that lag) for an own and for another thermometer.
///
/// **Source**: lumps of rubber and steel; common practice, no source.
fn lag_sd(kind: ThermometerKind) -> [f64; 4] {
    kind.pick(
        [0.6, 0.4, 0.2, 0.05],
        [1.0, 1.0, 0.7, 0.3],
        [0.0, 0.0, 0.0, 0.0],
    )
}

impl Columns<'_> {
    pub(super) fn add_thermometer(&mut self) {
        if self.kind == ThermometerKind::None {
            return;
        }
        self.add_gain();
        self.add_lag();
        self.add_other();
    }

    /// Gain: the temperature coefficient of a pressure sensor, 0.02 % FS/K, is about
    /// 13 % of the gas law at 6 bar. A bag without height takes an unknown part of an
    /// expansion as height: half ± half. **Source**: data-sheet values, judgement.
    fn add_gain(&mut self) {
        let t = &self.rest.kelvin;
        let mean = t.iter().sum::<f64>() / t.len() as f64;
        let column: Vec<f64> = t.iter().map(|k| (k - mean) / mean).collect();
        let blind = self.is_bag() && !self.has_height();
        let own_sd = if blind { 0.15 } else { 0.03 };
        let own: Vec<f64> = t.iter().map(|k| (k - mean) / k * own_sd).collect();
        self.own(Cause::Heat, own.into_iter());
        if blind {
            let key = ErrorKey {
                family: Family::Gain,
                part: 0,
                owner: self.this(),
            };
            let target = Target::Error {
                key,
                mean: 0.5,
                sd: 0.5,
            };
            self.persistent.push((target, column));
        } else {
            let sd = self.kind.pick(0.05, 0.08, 0.0);
            self.error(Family::Gain, 0, self.this(), sd, column.clone().into_iter());
            self.error(Family::Gain, 0, Owner::All, 0.04, column.into_iter());
        }
    }

    fn add_lag(&mut self) {
        for (k, sd) in lag_sd(self.kind).into_iter().enumerate() {
            let Some(lag) = self.rest.lag_k.get(k) else {
                return;
            };
            let column = self.per_kelvin(lag);
            self.own(
                Cause::Heat,
                column.clone().into_iter().map(|x| x * 0.25 * sd),
            );
            if self.is_bag() {
                self.error(
                    Family::Lag,
                    k,
                    Owner::Bags,
                    0.7 * sd,
                    column.clone().into_iter(),
                );
            }
            self.error(Family::Lag, k, self.this(), sd, column.into_iter());
        }
    }

    fn add_other(&mut self) {
        let sd = self.kind.pick(0.1, 0.3, 0.0);
        for (name, difference) in &self.rest.other_k {
            let part = usize::from(name == "tank");
            let mean = difference.iter().sum::<f64>() / difference.len() as f64;
            let pairs = difference.iter().zip(&self.rest.kelvin);
            let column: Vec<f64> = pairs.map(|(d, t)| (d - mean) / t).collect();
            self.error(Family::Other, part, self.this(), sd, column.into_iter());
        }
    }
}
