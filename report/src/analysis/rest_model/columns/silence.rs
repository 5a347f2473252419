//! A step across a long silence: heat, load and friction before it are not those
//! behind it.

use super::{Cause, Columns, Family, Owner};

/// Silence from which a step is allowed, s.
const LONG_SILENCE_S: f64 = 900.0;

impl Columns<'_> {
    /// **Units**: sd in ln of air. **Source**: judgement.
    pub(super) fn add_silence(&mut self) {
        if self.rest.longest_silence_s <= LONG_SILENCE_S {
            return;
        }
        let steps = self.rest.t_s.windows(2).map(|w| w[1] - w[0]).enumerate();
        let Some((at, _)) = steps.max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0))) else {
            return;
        };
        let n = self.len();
        let column = move || (0..n).map(move |i| f64::from(u8::from(i > at)));
        let (sd, own_sd) = if self.is_bag() {
            (0.005, 0.003)
        } else {
            (0.003, 0.002)
        };
        self.own(Cause::Heat, column().map(|x| x * own_sd));
        self.error(Family::Gap, 0, self.this(), sd, column());
        if self.is_bag() {
            self.error(Family::Gap, 0, Owner::Bags, 0.005, column());
        }
    }
}
