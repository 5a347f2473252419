//! All transfers together.

use super::super::estimate::Estimate;
use super::super::robust::robust;
use super::super::volume_error::State;
use super::Transfer;
use seep_common::physics::gas::amount_anr_l;

/// Heat that one transfer still shows after settling, and another does not, as a
/// share of the air moved; common practice, no source.
const OWN_SHARE: f64 = 0.02;

/// Heat that all transfers show alike: a fill that takes a share x of the tank's
/// air cools it by 0.29·x (adiabatic, κ = 1.4), a shell that holds ten times the
/// heat of its air keeps a tenth of that for a quarter of an hour. Common practice
/// for the tenth, no source.
const HEAT_SHARE: f64 = 0.03;

/// Heat, friction and noise of a corner whose load changes, as a share of its air;
/// common practice, no source.
const LOAD_SHARE: f64 = 0.005;

/// Size of a corner for the weight of such a change, L.
const USUAL_CORNER_L: f64 = 3.0;

/// Gain of tank and corner sensors, one standard deviation; common practice, no
/// source.
const GAIN_SHARE: f64 = 0.01;

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
    /// Transfers into it.
    pub transfers: usize,
}

impl GroupVolume {
    /// Volume at height 0, L.
    #[must_use]
    pub fn volume_at_zero_l(&self) -> f64 {
        match self.area_cm2 {
            Some(area) => self.volume_l.value - area.value * self.mid_mm * L_PER_CM2_MM,
            None => self.volume_l.value,
        }
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
/// group. `None` where the transfers do not tell the groups apart.
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
        .filter(|g| count(transfers, group_of, *g) > 0)
        .collect();
    let mut columns: Vec<Vec<f64>> = Vec::new();
    for &g in &used {
        columns.push(column(transfers, group_of, g, |_| 1.0));
        if mids[g].is_finite() {
            columns.push(column(transfers, group_of, g, |s| {
                (s.mm - mids[g]) * L_PER_CM2_MM
            }));
        }
    }
    let lost: Vec<f64> = transfers.iter().map(|t| tank_l * t.lost_per_l).collect();
    let weights: Vec<f64> = (transfers.iter().zip(&lost))
        .map(|(t, lost)| {
            let sd = if t.filled {
                (tank_l * t.lost_per_l_se).hypot(OWN_SHARE * lost)
            } else {
                LOAD_SHARE * held_anr_l(t)
            };
            1.0 / (sd * sd)
        })
        .collect();
    if weights.iter().any(|w| !w.is_finite()) {
        return None;
    }
    let fit = robust(&columns, &lost, &weights)?;
    let share = tank_share.hypot(HEAT_SHARE).hypot(GAIN_SHARE);
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
            transfers: count(transfers, group_of, g),
        });
    }
    let off_share = (0..transfers.len())
        .map(|i| {
            let came: f64 = (columns.iter().zip(&fit.coefficients))
                .map(|(c, e)| c[i] * e.value)
                .sum();
            if transfers[i].filled {
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

/// Air of the corners of a transfer at the usual size, ANR L.
fn held_anr_l(transfer: &Transfer) -> f64 {
    (transfer.parts.iter())
        .map(|p| amount_anr_l(p.after.kpa_abs, USUAL_CORNER_L, p.after.kelvin))
        .sum()
}

fn count(transfers: &[Transfer], group_of: &[usize], group: usize) -> usize {
    let into = |t: &&Transfer| {
        t.parts
            .iter()
            .any(|p| group_of.get(p.circuit) == Some(&group))
    };
    transfers.iter().filter(into).count()
}

fn mid_mm(transfers: &[Transfer], group_of: &[usize], group: usize) -> f64 {
    let heights: Vec<f64> = (transfers.iter())
        .flat_map(|t| &t.parts)
        .filter(|p| group_of.get(p.circuit) == Some(&group))
        .flat_map(|p| [p.before.mm, p.after.mm])
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
                .map(|p| amount(&p.after) - amount(&p.before))
                .sum()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::Part;
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
                let moved = after.kpa_abs * at(after.mm) - before.kpa_abs * at(before.mm);
                let tank = [1_100.0, 1_100.0 - moved / 20.0];
                let per_l = |kpa| amount_anr_l(kpa, 1.0, 288.0);
                Transfer {
                    from_ms: 0,
                    settled_s: 300.0,
                    lost_per_l: (per_l(tank[0]) - per_l(tank[1])) * (1.0 + draw(-noise, noise)),
                    lost_per_l_se: per_l(0.1),
                    filled: true,
                    parts: vec![Part {
                        circuit,
                        before,
                        after,
                    }],
                }
            })
            .collect()
    }

    #[test]
    fn ideal_receivers_come_out_as_they_are() {
        let receivers = [(3.2, 104.0), (2.5, 84.0)];
        let found = solve(&ideal(&receivers, 30, 0.0), 20.0, 0.0, &[0, 1]).expect("solves");
        for (group, (zero_l, area)) in found.groups.iter().zip(receivers) {
            let group = group.expect("filled");
            assert!((group.volume_at_zero_l() / zero_l - 1.0).abs() < 1e-6);
            assert!((group.area_cm2.expect("heights").value / area - 1.0).abs() < 1e-6);
            assert_eq!(group.transfers, 15);
        }
        assert!(found.off_share.iter().all(|o| o.abs() < 1e-9));
    }

    #[test]
    fn a_wrong_transfer_does_not_carry_the_volumes_away() {
        let receivers = [(3.2, 104.0)];
        let mut all = ideal(&receivers, 30, 0.02);
        all[4].lost_per_l *= 1.5;
        let found = solve(&all, 20.0, 0.0, &[0]).expect("solves");
        let group = found.groups[0].expect("filled");
        assert!(
            (group.volume_at_zero_l() / 3.2 - 1.0).abs() < 0.02,
            "{group:?}"
        );
        assert!(found.off_share[4] < -0.3, "{:?}", found.off_share);
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
            t.lost_per_l *= 2.0;
        }
        assert!(solve(&all, 20.0, 0.0, &[0, 1]).is_none());
        let alike = solve(&all, 20.0, 0.0, &[0, 0]).expect("solves");
        let group = alike.groups[0].expect("filled");
        assert!((group.volume_at_zero_l() / 3.2 - 1.0).abs() < 1e-6);
    }
}
