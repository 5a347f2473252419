//! What an error of the rig's volume does to amounts of air.
//!
//! It is the same in every rest and every move, so no number of them averages
//! it out.

use super::air::Vessel;
use seep_common::physics::gas::amount_anr_l;
use seep_common::rig::VolumeModel;

/// Points of a volume table share most of their error (same spring, same way
/// of measuring); this part of the stated uncertainty is a point's own. Common
/// practice, no source.
const OWN_SHARE: f64 = 0.1;

/// Steps in which people round a volume, L.
const ROUNDINGS_L: [f64; 10] = [1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001];

/// State of a volume at one reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// Pressure, kPa absolute.
    pub kpa_abs: f64,
    /// Temperature, K.
    pub kelvin: f64,
    /// Height, mm; `NaN` without a height channel.
    pub mm: f64,
}

/// For each independent error of the volume, one standard deviation of it as
/// amounts at the readings, ANR L. The order depends on the rig alone.
pub(crate) fn columns(vessel: &Vessel, readings: &[State]) -> Vec<Vec<f64>> {
    let u = vessel.volume_uncertainty;
    let of = |litres: &dyn Fn(f64) -> f64| -> Vec<f64> {
        readings
            .iter()
            .map(|r| {
                let mm = if r.mm.is_nan() { 0.0 } else { r.mm };
                amount_anr_l(r.kpa_abs, litres(mm), r.kelvin)
            })
            .collect()
    };
    match &vessel.volume {
        VolumeModel::Unknown => Vec::new(),
        VolumeModel::Fixed { volume_l } => vec![of(&|_| u * volume_l)],
        VolumeModel::Area {
            volume_at_zero_height_l,
            effective_area_cm2,
        } => vec![
            of(&|_| u * volume_at_zero_height_l),
            of(&|mm| u * effective_area_cm2 * mm * 1e-4),
        ],
        VolumeModel::Table {
            height_mm,
            volume_l,
        } => {
            // The line was added to the numbers that somebody rounded.
            let as_given: Vec<f64> = volume_l.iter().map(|v| v - vessel.line_l).collect();
            let rounding = rounding_l(&as_given);
            let mut out = vec![of(&|mm| u * vessel.volume_l(mm))];
            for (k, volume) in volume_l.iter().enumerate() {
                let sd = (OWN_SHARE * u * volume).hypot(rounding);
                out.push(of(&|mm| sd * share_of_point(height_mm, k, mm)));
            }
            out
        }
    }
}

/// Part that point `k` of a table has in the volume at a height.
fn share_of_point(height_mm: &[f64], k: usize, at_mm: f64) -> f64 {
    let after = height_mm.partition_point(|&h| h <= at_mm);
    let i = after.saturating_sub(1).min(height_mm.len() - 2);
    let along = (at_mm - height_mm[i]) / (height_mm[i + 1] - height_mm[i]);
    match k {
        _ if k == i => 1.0 - along,
        _ if k == i + 1 => along,
        _ => 0.0,
    }
}

/// Standard deviation of the rounding that the numbers of a table show: the
/// coarsest usual step of which all are multiples, over √12. L.
fn rounding_l(volumes_l: &[f64]) -> f64 {
    let multiple = |step: f64| {
        volumes_l
            .iter()
            .all(|v| (v / step - (v / step).round()).abs() < 1e-6)
    };
    let step = ROUNDINGS_L
        .into_iter()
        .find(|s| multiple(*s))
        .unwrap_or(0.0);
    step / 12.0_f64.sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rounding_of_a_table_is_seen_in_its_numbers() {
        let sd = |v: &[f64]| rounding_l(v) * 12.0_f64.sqrt();
        assert!((sd(&[2.55, 2.90, 3.20, 3.50, 3.85]) - 0.05).abs() < 1e-12);
        assert!((sd(&[2.5, 2.9, 3.2]) - 0.1).abs() < 1e-12);
        assert!((sd(&[2.513, 2.921]) - 0.001).abs() < 1e-12);
        assert!(sd(&[2.513_27, 2.9]).abs() < 1e-12);
    }

    #[test]
    fn the_points_around_a_height_share_its_volume() {
        let table = [-60.0, 0.0, 60.0];
        for (mm, shares) in [
            (-60.0, [1.0, 0.0, 0.0]),
            (-30.0, [0.5, 0.5, 0.0]),
            (45.0, [0.0, 0.25, 0.75]),
            (66.0, [0.0, -0.1, 1.1]),
        ] {
            for (k, share) in shares.iter().enumerate() {
                assert!(
                    (share_of_point(&table, k, mm) - share).abs() < 1e-12,
                    "{mm} {k}"
                );
            }
        }
    }
}
