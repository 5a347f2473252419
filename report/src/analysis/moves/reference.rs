//! Time of one fixed move, by which months and cars compare.

use super::Direction;
use crate::analysis::air::Vessel;
use seep_common::physics::flow::shape_kpa;
use seep_common::physics::gas::{ANR_K, amount_anr_l};
use seep_common::units::STANDARD_ATMOSPHERE_KPA_ABS;

/// The move: up for a fill, down for a dump, at 20 °C and the standard atmosphere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReferenceMove {
    /// Tank pressure all along, kPa gauge.
    pub tank_kpa_gauge: f64,
    /// Corner pressure when low and when high, kPa gauge.
    pub corner_kpa_gauge: (f64, f64),
    /// Height when low and when high, mm.
    pub mm: (f64, f64),
    /// Critical pressure ratio of the path.
    pub critical_ratio: f64,
}

/// Steps of the height.
const STEPS: u32 = 100;

/// Time of the move times the conductance of its path: `K = ∫ dn/ψ`, so that a path of
/// conductance C takes `t = K/C`.
///
/// Pressure and volume go from low to high with the height, the pressure in a straight
/// line; n is the air in the corner at 20 °C and ψ the flow law of ISO 6358-1. `None`
/// where the flow would have to run uphill.
///
/// **Units**: L/bar ANR in, with C in L/(s·bar), seconds out. **Domain**: tank above the
/// corner's higher pressure for a fill, corner above the outside for a dump. **Source**:
/// ISO 6358-1.
///
/// ```
/// use seep_common::rig::VolumeModel;
/// use seep_report::analysis::{air::Vessel, moves::{Direction, ReferenceMove, reference_l_per_bar}};
/// let vessel = Vessel {
///     place: "front_left".into(),
///     volume: VolumeModel::Fixed { volume_l: 3.0 },
///     line_l: 0.0,
///     volume_uncertainty: 0.05,
///     lower_stop_mm: None,
///     lowest_ok_mm: None,
///     lowest_ok_kpa_gauge: None,
/// };
/// let reference = ReferenceMove {
///     tank_kpa_gauge: 1_000.0,
///     corner_kpa_gauge: (400.0, 500.0),
///     mm: (0.0, 0.0),
///     critical_ratio: 0.3,
/// };
/// // A choked dump empties as exp(−C·t/V): t = V/C·ln(p/p').
/// let k = reference_l_per_bar(&vessel, &reference, Direction::Dump).unwrap();
/// assert!((k - 3.0 * (601.325_f64 / 501.325).ln()).abs() < 1e-4);
/// ```
#[must_use]
pub fn reference_l_per_bar(
    vessel: &Vessel,
    reference: &ReferenceMove,
    direction: Direction,
) -> Option<f64> {
    let outside = STANDARD_ATMOSPHERE_KPA_ABS;
    let (low, high) = reference.corner_kpa_gauge;
    let at = |share: f64| {
        let between = |(a, b): (f64, f64)| a + share * (b - a);
        let kpa_abs = outside + between((low, high));
        let litres = vessel.volume_l(between(reference.mm));
        (kpa_abs, amount_anr_l(kpa_abs, litres, ANR_K))
    };
    let step = |i: u32| -> Option<f64> {
        let share = |half: u32| f64::from(2 * i + half) / f64::from(2 * STEPS);
        let moved_l = at(share(2)).1 - at(share(0)).1;
        let corner = at(share(1)).0;
        let (up, down) = match direction {
            Direction::Fill => (outside + reference.tank_kpa_gauge, corner),
            Direction::Dump => (corner, outside),
        };
        // 1 L/(s·kPa) is 100 L/(s·bar).
        (up > down && moved_l >= 0.0)
            .then(|| 100.0 * moved_l / shape_kpa(reference.critical_ratio, up, down, ANR_K))
    };
    (0..STEPS).map(step).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::rig::VolumeModel;

    fn vessel() -> Vessel {
        Vessel {
            place: "front_left".into(),
            volume: VolumeModel::Area {
                volume_at_zero_height_l: 3.0,
                effective_area_cm2: 100.0,
            },
            line_l: 0.0,
            volume_uncertainty: 0.05,
            lower_stop_mm: None,
            lowest_ok_mm: None,
            lowest_ok_kpa_gauge: None,
        }
    }

    const REFERENCE: ReferenceMove = ReferenceMove {
        tank_kpa_gauge: 1_500.0,
        corner_kpa_gauge: (400.0, 400.0),
        mm: (-20.0, 20.0),
        critical_ratio: 0.35,
    };

    /// Choked (501/1601 < 0.35), so that the flow is C·p of the tank: 0.4 L more at
    /// 501.325 kPa, from a tank at 1,601.325 kPa. Worked by hand from ISO 6358-1.
    #[test]
    fn a_choked_fill_takes_its_air_at_the_flow_of_the_tank() {
        let k = reference_l_per_bar(&vessel(), &REFERENCE, Direction::Fill).expect("downhill");
        let by_hand = 0.4 * 5.01325 / 16.01325;
        assert!((k / by_hand - 1.0).abs() < 1e-9, "{k} {by_hand}");
    }

    #[test]
    fn no_time_is_given_for_a_fill_that_the_tank_cannot_make() {
        let weak = ReferenceMove {
            tank_kpa_gauge: 380.0,
            ..REFERENCE
        };
        assert_eq!(reference_l_per_bar(&vessel(), &weak, Direction::Fill), None);
    }
}
