//! Slow behaviour of the rubber: creep, relaxation, stretch.

use super::{Cause, Columns, Family, Owner};

const TWELVE_HOURS_S: f64 = 43_200.0;
/// Age assumed where no levelling is known, s.
const UNKNOWN_AGE_S: f64 = 86_400.0;

impl Columns<'_> {
    /// Creep `−log10(1 + t/60 s)` since levelling, relaxation behind the bag's own
    /// pressure (Voigt elements, 400, 5,000, 40,000 s), stretch with pressure, and
    /// the common-mode tail of all of them.
    ///
    /// **Units**: sd in ln of volume per decade, per relative pressure, per bar, per
    /// 12 h. **Source**: creep of rubber 0.1 to 1 % per decade, common practice; the
    /// rest judgement.
    pub(super) fn add_rubber(&mut self) {
        if !self.is_bag() {
            return;
        }
        self.add_stretch();
        self.add_creep();
        self.add_relaxation();
        let start = self.rest.t_s[0];
        let times = self.rest.t_s.iter();
        let tail: Vec<f64> = times.map(|t| -(t - start) / TWELVE_HOURS_S).collect();
        self.error(Family::Common, 0, Owner::Bags, 0.0025, tail.into_iter());
    }

    fn add_stretch(&mut self) {
        let p = &self.rest.kpa_abs;
        let mean = p.iter().sum::<f64>() / p.len() as f64;
        let column: Vec<f64> = p.iter().map(|p| -(p - mean) / 100.0).collect();
        self.error(Family::Beta, 0, self.this(), 0.006, column.into_iter());
    }

    fn add_creep(&mut self) {
        let start = self.rest.t_s[0];
        let times = self.rest.t_s.iter();
        let column: Vec<f64> = times
            .map(|t| {
                let age = self
                    .rest
                    .levelled_s
                    .map_or(t - start + UNKNOWN_AGE_S, |l| t - l);
                -(1.0 + age.max(0.0) / 60.0).log10()
            })
            .collect();
        let column = from_start(&column, 1.0);
        self.own(Cause::Creep, column.clone().into_iter().map(|x| x * 0.0007));
        self.error(
            Family::Creep,
            0,
            Owner::Bags,
            0.004,
            column.clone().into_iter(),
        );
        self.error(Family::Creep, 0, self.this(), 0.002, column.into_iter());
    }

    fn add_relaxation(&mut self) {
        for k in 0..self.rest.creep.len() {
            let column = from_start(&self.rest.creep[k], -1.0);
            self.own(Cause::Creep, column.clone().into_iter().map(|x| x * 0.0015));
            self.error(
                Family::Visco,
                k,
                Owner::Bags,
                0.005,
                column.clone().into_iter(),
            );
            self.error(Family::Visco, k, self.this(), 0.004, column.into_iter());
        }
    }
}

fn from_start(values: &[f64], sign: f64) -> Vec<f64> {
    let start = values.first().copied().unwrap_or_default();
    values.iter().map(|x| sign * (x - start)).collect()
}
