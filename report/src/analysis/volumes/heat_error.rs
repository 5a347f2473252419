//! What time constants that are not known well do to the volumes.

use super::settle::WALL_FACTOR;
use super::{HeatModel, Solution, Transfer, solve};

/// Transfers of a log under each heat model, in the order of [`HeatModel::variants`].
#[derive(Debug, Clone, PartialEq)]
pub struct TransferSets {
    sets: [Vec<Transfer>; VARIANTS],
}

/// The usual model, then each time constant longer and shorter.
const VARIANTS: usize = 5;

impl HeatModel {
    /// The usual model, then each time constant longer and shorter by one standard
    /// deviation.
    #[must_use]
    pub fn variants() -> [HeatModel; VARIANTS] {
        let usual = HeatModel::default();
        let with = |wall: f64, shell: f64| HeatModel {
            wall_s: usual.wall_s * wall,
            shell_s: usual.shell_s * shell,
        };
        [
            usual,
            with(WALL_FACTOR, 1.0),
            with(1.0 / WALL_FACTOR, 1.0),
            with(1.0, WALL_FACTOR),
            with(1.0, 1.0 / WALL_FACTOR),
        ]
    }
}

impl TransferSets {
    /// Without transfers.
    #[must_use]
    pub fn new() -> Self {
        TransferSets {
            sets: std::array::from_fn(|_| Vec::new()),
        }
    }

    /// Adds a session; `of` gives its transfers under a heat model.
    pub fn add(&mut self, mut of: impl FnMut(HeatModel) -> Vec<Transfer>) {
        for (set, heat) in self.sets.iter_mut().zip(HeatModel::variants()) {
            set.extend(of(heat));
        }
    }

    /// Transfers under the usual model.
    #[must_use]
    pub fn usual(&self) -> &[Transfer] {
        &self.sets[0]
    }
}

impl Default for TransferSets {
    fn default() -> Self {
        Self::new()
    }
}

/// Returns the solution under the usual model, its errors widened by what the volumes
/// differ by under a longer or a shorter time constant, whichever is more.
///
/// `tank_l` in L, `tank_share` its standard deviation as a share.
///
/// ```
/// use seep_report::analysis::volumes::{TransferSets, solve_with_heat};
/// assert!(solve_with_heat(&TransferSets::new(), 19.0, 0.02, &[0, 1]).is_none());
/// ```
#[must_use]
pub fn solve_with_heat(
    sets: &TransferSets,
    tank_l: f64,
    tank_share: f64,
    group_of: &[usize],
) -> Option<Solution> {
    let solved = |set: &Vec<Transfer>| solve(set, tank_l, tank_share, group_of);
    let mut usual = solved(&sets.sets[0])?;
    for pair in sets.sets[1..].chunks(2) {
        let [longer, shorter] = pair else { continue };
        let (longer, shorter) = (solved(longer)?, solved(shorter)?);
        let others = longer.groups.iter().zip(&shorter.groups);
        for (group, (longer, shorter)) in usual.groups.iter_mut().zip(others) {
            let (Some(group), Some(a), Some(b)) = (group, longer, shorter) else {
                continue;
            };
            let mm = group.mid_mm;
            let volume_se_l = furthest(group.volume_l.value, a.volume_at_l(mm), b.volume_at_l(mm));
            group.volume_l = group.volume_l.with_known_error(volume_se_l);
            if let (Some(area), Some(a), Some(b)) = (&mut group.area_cm2, a.area_cm2, b.area_cm2) {
                *area = area.with_known_error(furthest(area.value, a.value, b.value));
            }
        }
    }
    Some(usual)
}

fn furthest(from: f64, a: f64, b: f64) -> f64 {
    (a - from).abs().max((b - from).abs())
}
