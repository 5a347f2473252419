//! Columns of the hypotheses: loss per unit conductance, by measured pressure.
//!
//! `L = ∫ r/n dt` with `r = (p/p_ref)·√(293.15 K/T)·φ(p_out/p)/60000`, L ANR/s per
//! cm³/min; `n` the amount of air, L ANR. Measured p, V and T stand in L, therefore
//! the term is linear in the conductance however far the corner empties.
//! **Source**: ISO 6358-1 (flow function φ with critical ratio b).

use super::{Columns, Target, integral, loss_integral};
use crate::analysis::rest_model::hypothesis::Hypothesis;

/// Width of the threshold of a cold leak, K, and of a low one, mm.
const COLD_WIDTH_K: f64 = 0.8;
const LOW_WIDTH_MM: f64 = 2.0;
/// Difference of two corner pressures below which a cross leak fades, kPa: two
/// sensors differ by about as much at the same pressure.
const CROSS_FADE_KPA: f64 = 3.0;
/// cm³/min in L/s.
const CM3_PER_MIN: f64 = 1.0 / 60_000.0;

impl Columns<'_> {
    pub(super) fn add_leaks(&mut self) {
        self.rate = (0..self.len()).map(|i| self.leak_rate(i)).collect();
        let t = &self.rest.t_s;
        self.leak = loss_integral(t, &self.air_l, |i| self.rate[i]);
        let seep = loss_integral(t, &self.air_l, |i| self.seep_rate(i));
        self.seep_minus_hole = seep.iter().zip(&self.leak).map(|(s, l)| s - l).collect();
        for (index, hypothesis) in self.plan.hypotheses.iter().enumerate() {
            if let Some(column) = self.hypothesis(*hypothesis) {
                self.persistent.push((Target::Hypothesis(index), column));
            }
        }
    }

    fn leak_rate(&self, i: usize) -> f64 {
        let (p, outside) = (self.rest.kpa_abs[i], self.rest.outside_kpa_abs[i]);
        let reference = self.plan.reference(self.rest.volume).bar_abs;
        p / 100.0 / reference
            * (293.15 / self.rest.kelvin[i]).sqrt()
            * self.plan.flow.flow_share(p, outside)
            * CM3_PER_MIN
    }

    /// Laminar path with the same loss at the usual pressure.
    fn seep_rate(&self, i: usize) -> f64 {
        let (p, outside) = (self.rest.kpa_abs[i], self.rest.outside_kpa_abs[i]);
        let reference = self.plan.reference(self.rest.volume).bar_abs * 100.0;
        (p * p - outside * outside).max(0.0) / (reference * reference - outside * outside)
            * CM3_PER_MIN
            * 293.15
            / self.rest.kelvin[i]
    }

    fn hypothesis(&self, hypothesis: Hypothesis) -> Option<Vec<f64>> {
        let here = self.rest.volume;
        match hypothesis {
            Hypothesis::FillValve { volume } => {
                if self.volume.is_tank {
                    self.fill_valve(volume, -1.0)
                } else if volume == here {
                    self.fill_valve(volume, 1.0)
                } else {
                    None
                }
            }
            Hypothesis::CrossLeak { volume, partner } => {
                if here == volume {
                    self.cross_leak(partner)
                } else if here == partner {
                    self.cross_leak(volume)
                } else {
                    None
                }
            }
            _ if hypothesis.volume() != here => None,
            Hypothesis::Leak { .. } => Some(self.leak.clone()),
            Hypothesis::Cold { below_c, .. } => Some(
                self.weighted(|i| opening((self.rest.kelvin[i] - 273.15 - below_c) / COLD_WIDTH_K)),
            ),
            Hypothesis::Low { below_mm, .. } => self.has_height().then(|| {
                self.weighted(|i| opening((self.rest.height_mm[i] - below_mm) / LOW_WIDTH_MM))
            }),
            Hypothesis::AfterDump { .. } => {
                let dumped = self.rest.last_move.is_some_and(|m| m.sign < 0.0);
                Some(self.weighted(|_| f64::from(u8::from(dumped))))
            }
            Hypothesis::Growing { .. } => {
                Some(self.weighted(|i| (self.rest.t_s[i] - self.plan.from_s) / self.plan.span_s))
            }
            Hypothesis::Until { date, .. } => {
                (self.rest.end_s < date.at_s).then(|| self.leak.clone())
            }
            Hypothesis::Since { date, .. } => {
                (self.rest.start_s > date.at_s).then(|| self.leak.clone())
            }
        }
    }

    fn weighted(&self, weight: impl Fn(usize) -> f64) -> Vec<f64> {
        loss_integral(&self.rest.t_s, &self.air_l, |i| weight(i) * self.rate[i])
    }

    fn fill_valve(&self, corner: usize, sign: f64) -> Option<Vec<f64>> {
        let tank = self.plan.car.volumes.iter().position(|v| v.is_tank)?;
        let up = self.pressure_of(tank)?;
        let down = self.pressure_of(corner)?;
        let reference = self.plan.reference(tank).bar_abs;
        Some(integral(&self.rest.t_s, |i| {
            let share = self.plan.flow.flow_share(up[i], down[i]);
            let flow = up[i] / 100.0 / reference * share * CM3_PER_MIN;
            sign * flow * (293.15 / self.rest.kelvin[i]).sqrt() / self.air_l[i]
        }))
    }

    fn cross_leak(&self, other: usize) -> Option<Vec<f64>> {
        let theirs = self.pressure_of(other)?;
        let reference = self.plan.reference(self.rest.volume).bar_abs;
        Some(integral(&self.rest.t_s, |i| {
            let (p, o) = (self.rest.kpa_abs[i], theirs[i]);
            let (high, low) = (p.max(o), p.min(o));
            let fade = ((o - p).abs() / CROSS_FADE_KPA).min(1.0);
            let flow = high / 100.0 / reference * self.plan.flow.flow_share(high, low);
            (o - p).signum() * flow * fade * CM3_PER_MIN / self.air_l[i]
        }))
    }

    fn pressure_of(&self, volume: usize) -> Option<&[f64]> {
        if volume == self.rest.volume {
            return Some(&self.rest.kpa_abs);
        }
        self.rest.others_kpa_abs.get(volume)?.as_deref()
    }
}

/// Share by which a conditional leak is open: 1 far below its limit, 0 far above.
fn opening(above: f64) -> f64 {
    1.0 / (1.0 + above.clamp(-40.0, 40.0).exp())
}
