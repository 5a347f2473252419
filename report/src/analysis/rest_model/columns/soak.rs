//! Heat of drives that fades while the car is parked.

use super::{Cause, Columns, Family, Owner, ThermometerKind};

impl Columns<'_> {
    /// Heat soak: rises with 600 s while driving, decays with 900, 2,700, 7,200 and
    /// 18,000 s. **Units**: sd in K of air. **Source**: engine, brakes, exhaust; 1 to
    /// 8 K seen; judgement.
    pub(super) fn add_soak(&mut self) {
        let sd = self.kind.pick(0.8, 3.0, 3.0);
        let own_sd = self.kind.pick(0.4, 1.2, 1.5);
        for k in 0..self.rest.soak.len() {
            let column = self.per_kelvin(&self.rest.soak[k]);
            self.own(Cause::Heat, column.clone().into_iter().map(|x| x * own_sd));
            if self.is_bag() && self.kind != ThermometerKind::Own {
                self.error(
                    Family::Soak,
                    k,
                    Owner::Bags,
                    2.0,
                    column.clone().into_iter(),
                );
            }
            self.error(Family::Soak, k, self.this(), sd, column.into_iter());
        }
    }
}
