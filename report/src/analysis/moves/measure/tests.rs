//! A fill and a dump of known conductance. All data here is invented.

use super::super::cluster;
use super::*;
use crate::analysis::segment::OnSpan;
use seep_common::channel::Quantity;
use seep_common::physics::flow::shape_kpa;
use seep_common::rig::{SensorError, VolumeModel};

const C_L_PER_S_BAR: f64 = 0.12;
const VOLUME_L: f64 = 3.0;
const TANK_KPA_ABS: f64 = 1_000.0;

/// Corner pressure with the valve open from 30 s to 33 s, 20 ms apart, by small
/// steps of dn = C·ψ·dt at constant temperature.
fn corner(fill: bool) -> (Vec<i64>, Vec<f32>) {
    let mut p = 450.0;
    let mut t_ms = Vec::new();
    let mut kpa = Vec::new();
    for i in 0..7_500_i64 {
        let t = i * 20;
        t_ms.push(t);
        kpa.push(p as f32);
        for k in 0..20 {
            let now = t + k;
            if (30_000..33_000).contains(&now) {
                let q = if fill {
                    shape_kpa(0.3, TANK_KPA_ABS, p, 293.15)
                } else {
                    -shape_kpa(0.3, p, 101.325, 293.15)
                };
                p += C_L_PER_S_BAR / 100.0 * q * 0.001 / VOLUME_L * 100.0;
            }
        }
    }
    (t_ms, kpa)
}

/// A height that stands, but for its noise.
fn standing(i: usize) -> f32 {
    [0.0, 0.1, 0.2][i % 3]
}

/// The same with a height that stays where it is, or follows the fill.
fn with_height(fill: bool, mm: Option<fn(usize) -> f32>) -> Option<Move> {
    let (t_ms, kpa) = corner(fill);
    let heights: Vec<f32> = match mm {
        Some(mm) => (0..t_ms.len()).map(mm).collect(),
        None => vec![f32::NAN; t_ms.len()],
    };
    let tank: Vec<f32> = vec![TANK_KPA_ABS as f32; t_ms.len()];
    let corner = Series::new(&t_ms, &kpa, 0.0);
    let tank = Series::new(&t_ms, &tank, 0.0);
    let empty = Series::default();
    let vessel = Vessel {
        place: "front_left".into(),
        volume: VolumeModel::Area {
            volume_at_zero_height_l: VOLUME_L,
            effective_area_cm2: 100.0,
        },
        line_l: 0.0,
        volume_uncertainty: 0.0,
        lower_stop_mm: None,
        lowest_ok_mm: None,
        lowest_ok_kpa_gauge: None,
    };
    let span = OnSpan {
        from_ms: 30_000,
        to_ms: 33_000,
        start_seen: true,
        end_seen: true,
        wired: true,
    };
    let (fills, dumps) = if fill {
        (vec![span], vec![])
    } else {
        (vec![], vec![span])
    };
    let openings = cluster(&fills, &dumps, 0, 150_000);
    let view = MoveView {
        vessel: &vessel,
        corner_kpa_abs: corner,
        tank_kpa_abs: tank,
        mm: Series::new(&t_ms, &heights, 0.0),
        kelvin: empty,
        coils: [empty; 2],
        kmh: empty,
        sensors: MoveSensors {
            corner: SensorError::usual(Quantity::GaugePressure),
            tank: SensorError::usual(Quantity::GaugePressure),
            mm: SensorError::usual(Quantity::Height),
        },
        ambient_kpa_abs: 101.325,
        critical_ratio: 0.3,
        height_tolerance_mm: 3.0,
        pressure_tolerance_kpa: 10.0,
    };
    measure(&view, &openings[0])
}

#[test]
fn a_move_with_a_stuck_height_is_not_measured() {
    assert!(with_height(true, Some(|_| -11.7)).is_none());
    assert!(with_height(true, Some(standing)).is_some());
}

/// The air of this corner stays as warm as it was; what the report takes off for the heat
/// of a move makes 1.5 % here.
#[test]
fn fill_and_dump_give_back_their_conductance() {
    for fill in [true, false] {
        let m = with_height(fill, Some(standing)).expect("measured");
        assert!(
            (m.conductance / C_L_PER_S_BAR - 1.0).abs() < 0.02,
            "{} {}",
            m.direction.word(),
            m.conductance
        );
        assert!(m.conductance_se > 0.0 && !m.at_least);
        assert!((m.amount_anr_l > 0.0) == fill);
    }
}

#[test]
fn without_a_height_it_is_a_bound() {
    let m = with_height(true, None).expect("measured");
    assert!(m.at_least && m.conductance < C_L_PER_S_BAR, "{m:?}");
}

#[test]
fn time_to_pressure_ends_where_the_tolerance_begins() {
    let m = with_height(true, None).expect("measured");
    let t = m.time_to_height_s.expect("arrived");
    assert!(m.timed_by_pressure);
    assert!(t > 2.0 && t < 3.0, "{t}");
}
