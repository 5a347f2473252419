//! Nights whose decay is known in closed form. All data here is invented.

use super::*;
use crate::analysis::leak::{Closer, prepare};
use crate::analysis::segment::{Resolution, RestPoint};
use seep_common::rig::VolumeModel;

fn vessel(volume: VolumeModel) -> Vessel {
    Vessel {
        place: "rear_left".into(),
        volume,
        line_l: 0.0,
        volume_uncertainty: 0.0,
        lower_stop_mm: None,
        lowest_ok_mm: None,
        lowest_ok_kpa_gauge: None,
    }
}

/// Uniform noise between -1 and 1 from a mixed counter (SplitMix64, from memory).
fn wobble(i: usize) -> f64 {
    let mut z = (i as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    (z ^ (z >> 31)) as f64 / u64::MAX as f64 * 2.0 - 1.0
}

fn night(point: impl Fn(f64) -> (f64, f64)) -> Rest {
    let points = (0..2_880)
        .map(|i| {
            let t_s = i as f64 * 10.0;
            let (kpa_abs, mm) = point(t_s);
            RestPoint {
                t_s,
                kpa_abs: kpa_abs + 0.3 * wobble(i),
                kelvin: 293.15 + 0.05 * wobble(i + 100_000),
                mm: mm + 0.2 * wobble(i + 200_000),
                ticks: 10.0,
            }
        })
        .collect();
    Rest {
        place: "rear_left".into(),
        points,
        bridges: Vec::new(),
        after: LastMove::Unknown,
        quiet_since_s: None,
        sessions: vec![1],
        weather_unread_s: 0.0,
        resolution: Resolution::default(),
    }
}

fn fit(rest: &Rest, volume: VolumeModel) -> PlainRest {
    let vessel = vessel(volume);
    let data = prepare(rest, &vessel).expect("enough");
    plain_rest(rest, &data, &vessel, 101.325).expect("fits")
}

fn within(e: &Estimate, truth: f64) -> bool {
    let (low, high) = e.interval_95();
    low <= truth && truth <= high
}

/// A fixed volume through a choked hole: p = p₀·exp(−t/τ), τ = V/(C·p_ANR); 10 L
/// and τ = 36 000 s, the decay table of a choked leak from 701.325 kPa.
#[test]
fn a_rigid_volume_decays_exponentially() {
    let tau_s = 36_000.0;
    let rest = night(|t| (701.325 * (-t / tau_s).exp(), f64::NAN));
    let f = fit(&rest, VolumeModel::Fixed { volume_l: 10.0 });
    assert!(
        (f.per_s.value * tau_s - 1.0).abs() < 2e-3 && within(&f.per_s, 1.0 / tau_s),
        "{:?}",
        f.per_s
    );
    assert_eq!(f.bend.closer, Closer::Hole);
    assert!(f.bend.tells_the_law(), "{:?}", f.bend);
}

/// Off its stops the pressure stays and the height falls; at steady pressure no law can be
/// told. The same night without the height channel says so and sees nothing.
#[test]
fn a_sprung_corner_loses_height_not_pressure() {
    let loss_l_per_s = 0.4 / 3_600.0; // ANR L/s
    let area_cm2 = 120.0;
    let volume = VolumeModel::Area {
        volume_at_zero_height_l: 3.0,
        effective_area_cm2: area_cm2,
    };
    let per_mm = 6.0 * area_cm2 * 1e-4; // ANR L per mm at 600 kPa, 293.15 K
    let f = fit(
        &night(|t| (600.0, -loss_l_per_s * t / per_mm)),
        volume.clone(),
    );
    assert!((f.loss_l_per_s.value / loss_l_per_s - 1.0).abs() < 0.02);
    assert!(!f.lower_bound && !f.bend.tells_the_law(), "{:?}", f.bend);
    let f = fit(&night(|_| (600.0, f64::NAN)), volume);
    assert!(f.lower_bound && within(&f.loss_l_per_s, 0.0));
}

/// Laminar flow by hand: dp/dt = −k·(p² − p_out²) has p = p_out·coth(k·p_out·t + c).
#[test]
fn a_seep_along_a_thread_is_told_from_a_hole() {
    let outside = 101.325_f64;
    let c = (outside / 701.325).atanh();
    let k = 1.5e-7;
    let rest = night(|t| (outside / (k * outside * t + c).tanh(), f64::NAN));
    let f = fit(&rest, VolumeModel::Fixed { volume_l: 10.0 });
    assert_eq!(f.bend.closer, Closer::Seep);
    assert!(f.bend.tells_the_law(), "{:?}", f.bend);
}

#[test]
fn an_empty_volume_has_no_decay() {
    let volume = vessel(VolumeModel::Fixed { volume_l: 10.0 });
    let rest = night(|_| (300.0, f64::NAN));
    let mut data = prepare(&rest, &volume).expect("enough");
    data.amount_anr_l[3] = 0.0;
    assert!(plain_rest(&rest, &data, &volume, 101.325).is_none());
}
