//! All transfers together.

use super::super::estimate::Estimate;
use super::super::robust::robust;
use super::super::stats::median;
use super::super::volume_error::State;
use super::Transfer;
use seep_common::physics::gas::amount_anr_l;

/// What one transfer is off by beside noise, as a share of the air moved: a bag that is
/// no cylinder, friction, a load that was not quite still. Common practice, no source.
const OWN_SHARE: f64 = 0.02;

/// The same of a corner whose load changes, as a share of its air; common practice, no
/// source.
const LOAD_SHARE: f64 = 0.005;

/// Size of a corner for the weight of such a change, L.
const USUAL_CORNER_L: f64 = 3.0;

/// Gain of tank and corner sensors, one standard deviation; common practice, no
/// source.
const GAIN_SHARE: f64 = 0.01;

/// Each group of circuits is in this many fills at least, and there are so many more
/// fills than groups: loads that change tell the ratio of volume and area, and with
/// too few fills the scale that fits them best is zero.
const LEAST_FILLS: usize = 3;

/// 1 cm² · 1 mm in L.
const L_PER_CM2_MM: f64 = 1e-4;

/// Volume of one circuit, or of the circuits of an axle taken as alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupVolume {
    /// Height at which the volume is given, mm; `NaN` without a height.
    pub mid_mm: f64,
    /// Volume there, L.
    pub volume_l: Estimate,
    /// Effective area, cm²; `None` without a height.
    pub area_cm2: Option<Estimate>,
    /// Fills of it.
    pub fills: usize,
}

impl GroupVolume {
    /// Volume at a height, L.
    #[must_use]
    pub fn volume_at_l(&self, mm: f64) -> f64 {
        match self.area_cm2 {
            Some(area) => self.volume_l.value + area.value * (mm - self.mid_mm) * L_PER_CM2_MM,
            None => self.volume_l.value,
        }
    }

    /// Volume at height 0, L.
    #[must_use]
    pub fn volume_at_zero_l(&self) -> f64 {
        self.volume_at_l(0.0)
    }

    /// Half width of the 95 % interval of the volume, as a share of it.
    #[must_use]
    pub fn relative_half_width(&self) -> f64 {
        let (low, high) = self.volume_l.interval_95();
        ((high - low) / 2.0 / self.volume_l.value).abs()
    }
}

/// Volumes and what each transfer is off by.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// By group; `None` where no transfer went.
    pub groups: Vec<Option<GroupVolume>>,
    /// Air that came into the corners by these volumes less what the tank lost,
    /// as a share of the latter, where a load changed of the corner's air; one per
    /// transfer.
    pub off_share: Vec<f64>,
}

/// Solves for the volumes of groups of circuits; `group_of` gives each circuit's
/// group. `None` where the transfers do not tell the groups apart, or with too few fills.
///
/// `tank_l` in L, `tank_share` its standard deviation as a share.
///
/// **Source**: conservation of the amount of an ideal gas; Huber's M-estimator
/// (see `robust`).
///
/// ```
/// use seep_report::analysis::volumes::solve;
/// assert!(solve(&[], 19.0, 0.02, &[0, 1]).is_none());
/// ```
#[must_use]
pub fn solve(
    transfers: &[Transfer],
    tank_l: f64,
    tank_share: f64,
    group_of: &[usize],
) -> Option<Solution> {
    let groups = group_of.iter().map(|g| g + 1).max()?;
    let mids: Vec<f64> = (0..groups)
        .map(|g| mid_mm(transfers, group_of, g))
        .collect();
    let used: Vec<usize> = (0..groups)
        .filter(|g| transfers.iter().any(|t| has_group(t, group_of, *g)))
        .collect();
    let fills = transfers.iter().filter(|t| t.loss.is_some());
    let few = |g: &usize| fill_count(transfers, group_of, *g) < LEAST_FILLS;
    if fills.count() < used.len() + LEAST_FILLS || used.iter().any(few) {
        return None;
    }
    let mut columns: Vec<Vec<f64>> = Vec::new();
    for &g in &used {
        columns.push(column(transfers, group_of, g, |_| 1.0));
        if mids[g].is_finite() {
            columns.push(column(transfers, group_of, g, |s| {
                (s.mm - mids[g]) * L_PER_CM2_MM
            }));
        }
    }
    let lost: Vec<f64> = (transfers.iter())
        .map(|t| t.loss.map_or(0.0, |loss| tank_l * loss.per_l))
        .collect();
    let weights: Vec<f64> = (transfers.iter())
        .map(|t| standard_error(t, tank_l).powi(-2))
        .collect();
    if weights.iter().any(|w| !w.is_finite()) {
        return None;
    }
    let fit = robust(&columns, &lost, &weights)?;
    let share = tank_share.hypot(heat_share(transfers)).hypot(GAIN_SHARE);
    let known = |e: &Estimate| e.with_known_error(share * e.value.abs());
    let mut values = fit.coefficients.iter();
    let mut out = vec![None; groups];
    for &g in &used {
        out[g] = Some(GroupVolume {
            mid_mm: mids[g],
            volume_l: known(values.next()?),
            area_cm2: if mids[g].is_finite() {
                Some(known(values.next()?))
            } else {
                None
            },
            fills: fill_count(transfers, group_of, g),
        });
    }
    let off_share = (0..transfers.len())
        .map(|i| {
            let came: f64 = (columns.iter().zip(&fit.coefficients))
                .map(|(c, e)| c[i] * e.value)
                .sum();
            if transfers[i].loss.is_some() {
                came / lost[i] - 1.0
            } else {
                came / held_anr_l(&transfers[i])
            }
        })
        .collect();
    Some(Solution {
        groups: out,
        off_share,
    })
}

/// One standard deviation of a transfer's balance, ANR L.
fn standard_error(transfer: &Transfer, tank_l: f64) -> f64 {
    let own = match &transfer.loss {
        Some(loss) => (tank_l * loss.se_per_l).hypot(OWN_SHARE * tank_l * loss.per_l),
        None => LOAD_SHARE * held_anr_l(transfer),
    };
    (transfer.parts.iter())
        .flat_map(|p| [p.before, p.after])
        .map(|s| s.share_se * usual_anr_l(&s.state))
        .fold(own, f64::hypot)
}

/// What the tank's heat may change in all fills alike, as a share.
fn heat_share(transfers: &[Transfer]) -> f64 {
    let shares: Vec<f64> = (transfers.iter())
        .filter_map(|t| t.loss)
        .map(|loss| (loss.heat_se_per_l / loss.per_l).abs())
        .collect();
    median(&shares).unwrap_or(0.0)
}

/// Air of the corners of a transfer at the usual size, ANR L.
fn held_anr_l(transfer: &Transfer) -> f64 {
    let after = |p: &super::Part| usual_anr_l(&p.after.state);
    transfer.parts.iter().map(after).sum()
}

fn usual_anr_l(state: &State) -> f64 {
    amount_anr_l(state.kpa_abs, USUAL_CORNER_L, state.kelvin)
}

fn fill_count(transfers: &[Transfer], group_of: &[usize], group: usize) -> usize {
    let of = |t: &&Transfer| t.loss.is_some() && has_group(t, group_of, group);
    transfers.iter().filter(of).count()
}

fn has_group(transfer: &Transfer, group_of: &[usize], group: usize) -> bool {
    let of = |p: &super::Part| group_of.get(p.circuit) == Some(&group);
    transfer.parts.iter().any(of)
}

fn mid_mm(transfers: &[Transfer], group_of: &[usize], group: usize) -> f64 {
    let heights: Vec<f64> = (transfers.iter())
        .flat_map(|t| &t.parts)
        .filter(|p| group_of.get(p.circuit) == Some(&group))
        .flat_map(|p| [p.before.state.mm, p.after.state.mm])
        .collect();
    heights.iter().sum::<f64>() / heights.len() as f64
}

/// Change of `Σ factor·p/T` in a group's circuits, ANR L per unit.
fn column(
    transfers: &[Transfer],
    group_of: &[usize],
    group: usize,
    factor: impl Fn(&State) -> f64,
) -> Vec<f64> {
    let amount = |s: &State| factor(s) * amount_anr_l(s.kpa_abs, 1.0, s.kelvin);
    (transfers.iter())
        .map(|t| {
            (t.parts.iter())
                .filter(|p| group_of.get(p.circuit) == Some(&group))
                .map(|p| amount(&p.after.state) - amount(&p.before.state))
                .sum()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::{Loss, Part, SettledState};
    use super::*;

    /// A tank of 20 L and receivers of `V = V0 + A·h`: what comes to rest at one
    /// temperature is in proportion to pressure times volume.
    ///
    /// **Source**: ideal gas at one temperature, `p₁V₁ + p₂V₂` is kept (Boyle).
    fn ideal(receivers: &[(f64, f64)], fills: usize, noise: f64) -> Vec<Transfer> {
        let mut random = super::super::super::stats::SplitMix64::new(7);
        let mut draw = |low: f64, high: f64| {
            low + (high - low) * (random.next_u64() >> 11) as f64 / (1u64 << 53) as f64
        };
        (0..fills)
            .map(|i| {
                let circuit = i % receivers.len();
                let (zero_l, area) = receivers[circuit];
                let at = |mm: f64| zero_l + area * mm * 1e-4;
                let state = |kpa_abs, mm| State {
                    kpa_abs,
                    kelvin: 288.0,
                    mm,
                };
                let before = state(draw(200.0, 500.0), draw(-60.0, 0.0));
                let after = state(before.kpa_abs + draw(50.0, 300.0), draw(0.0, 60.0));
                let exact = |state| SettledState {
                    state,
                    share_se: 0.0,
                };
                let moved = after.kpa_abs * at(after.mm) - before.kpa_abs * at(before.mm);
                let tank = [1_100.0, 1_100.0 - moved / 20.0];
                let per_l = |kpa| amount_anr_l(kpa, 1.0, 288.0);
                Transfer {
                    from_ms: 0,
                    settled_s: 300.0,
                    loss: Some(Loss {
                        per_l: (per_l(tank[0]) - per_l(tank[1])) * (1.0 + draw(-noise, noise)),
                        se_per_l: per_l(0.1),
                        heat_se_per_l: 0.0,
                    }),
                    parts: vec![Part {
                        circuit,
                        before: exact(before),
                        after: exact(after),
                    }],
                }
            })
            .collect()
    }

    fn scale_loss(transfer: &mut Transfer, factor: f64) {
        if let Some(loss) = &mut transfer.loss {
            loss.per_l *= factor;
        }
    }

    #[test]
    fn ideal_receivers_come_out_as_they_are() {
        let receivers = [(3.2, 104.0), (2.5, 84.0)];
        let found = solve(&ideal(&receivers, 30, 0.0), 20.0, 0.0, &[0, 1]).expect("solves");
        for (group, (zero_l, area)) in found.groups.iter().zip(receivers) {
            let group = group.expect("filled");
            assert!((group.volume_at_zero_l() / zero_l - 1.0).abs() < 1e-6);
            assert!((group.area_cm2.expect("heights").value / area - 1.0).abs() < 1e-6);
            assert_eq!(group.fills, 15);
        }
        assert!(found.off_share.iter().all(|o| o.abs() < 1e-9));
    }

    #[test]
    fn a_wrong_transfer_does_not_carry_the_volumes_away() {
        let receivers = [(3.2, 104.0)];
        let mut all = ideal(&receivers, 30, 0.02);
        scale_loss(&mut all[4], 1.5);
        let found = solve(&all, 20.0, 0.0, &[0]).expect("solves");
        let group = found.groups[0].expect("filled");
        assert!(
            (group.volume_at_zero_l() / 3.2 - 1.0).abs() < 0.02,
            "{group:?}"
        );
        assert!(found.off_share[4] < -0.3, "{:?}", found.off_share);
    }

    #[test]
    fn loads_without_enough_fills_give_no_volume() {
        let mut all = ideal(&[(3.2, 104.0)], 20, 0.02);
        for t in &mut all[3..] {
            t.loss = None;
        }
        assert!(solve(&all, 20.0, 0.0, &[0]).is_none());
        let lone = ideal(&[(3.2, 104.0), (2.5, 84.0)], 20, 0.02);
        let one_side: Vec<Transfer> = (lone.into_iter())
            .filter(|t| t.loss.is_some() && t.parts[0].circuit == 0)
            .chain(all)
            .map(|mut t| {
                if t.loss.is_none() {
                    t.parts[0].circuit = 1;
                }
                t
            })
            .collect();
        assert!(solve(&one_side, 20.0, 0.0, &[0, 1]).is_none());
    }

    #[test]
    fn corners_only_ever_filled_together_are_not_told_apart() {
        let mut all = ideal(&[(3.2, 104.0)], 20, 0.0);
        for t in &mut all {
            let twin = Part {
                circuit: 1,
                ..t.parts[0]
            };
            t.parts.push(twin);
            scale_loss(t, 2.0);
        }
        assert!(solve(&all, 20.0, 0.0, &[0, 1]).is_none());
        let alike = solve(&all, 20.0, 0.0, &[0, 0]).expect("solves");
        let group = alike.groups[0].expect("filled");
        assert!((group.volume_at_zero_l() / 3.2 - 1.0).abs() < 1e-6);
    }
}
