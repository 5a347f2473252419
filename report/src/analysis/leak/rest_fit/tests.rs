//! The three nights that a pressure gauge confuses. All data here is invented.

use super::*;
use crate::analysis::leak::prepare;
use crate::analysis::segment::RestPoint;
use seep_common::rig::VolumeModel;

fn vessel(volume: VolumeModel) -> Vessel {
    Vessel {
        place: "rear_left".into(),
        volume,
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

fn night(point: impl Fn(f64) -> (f64, f64, f64)) -> Rest {
    let points = (0..2_880)
        .map(|i| {
            let t_s = i as f64 * 10.0;
            let (kpa_abs, kelvin, mm) = point(t_s);
            RestPoint {
                t_s,
                kpa_abs: kpa_abs + 0.3 * wobble(i),
                kelvin: kelvin + 0.05 * wobble(i + 100_000),
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
    }
}

fn fit(rest: &Rest, vessel: &Vessel) -> LeakFit {
    let data = prepare(rest, vessel).expect("enough");
    fit_rest(rest, &data, vessel, 101.325, true).expect("fits")
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
    let rest = night(|t| (701.325 * (-t / tau_s).exp(), 293.15, f64::NAN));
    let f = fit(&rest, &vessel(VolumeModel::Fixed { volume_l: 10.0 }));
    let decay = f.decay.expect("decays").per_s;
    assert!(
        (decay.value * tau_s - 1.0).abs() < 2e-3,
        "{}",
        decay.value * tau_s
    );
    // C = V/(τ·1 bar) in L/(s·bar).
    let c = 10.0 / tau_s;
    assert!(
        (f.conductance.value / c - 1.0).abs() < 0.01,
        "{:?}",
        f.conductance
    );
    assert_eq!(f.law, LeakLaw::Orifice);
}

/// Off its stops the pressure stays and the height falls.
#[test]
fn a_sprung_corner_loses_height_not_pressure() {
    let loss_l_per_s = 0.4 / 3_600.0; // ANR L/s
    let area_cm2 = 120.0;
    let volume = VolumeModel::Area {
        volume_at_zero_height_l: 3.0,
        effective_area_cm2: area_cm2,
    };
    let per_mm = 6.0 * area_cm2 * 1e-4; // ANR L per mm at 600 kPa, 293.15 K
    let rest = night(|t| (600.0, 293.15, -loss_l_per_s * t / per_mm));
    let f = fit(&rest, &vessel(volume.clone()));
    assert!(
        within(&f.loss_l_per_s, loss_l_per_s),
        "{:?}",
        f.loss_l_per_s
    );
    assert!((f.loss_l_per_s.value / loss_l_per_s - 1.0).abs() < 0.02);
    assert!(!f.lower_bound);
    // The same night without the height channel says so and sees nothing.
    let blind = night(|_| (600.0, 293.15, f64::NAN));
    let f = fit(&blind, &vessel(volume));
    assert!(f.lower_bound);
    assert!(within(&f.loss_l_per_s, 0.0));
}

/// 15 K colder in the morning: pressure falls in a rigid volume, height in a
/// sprung one, and nothing leaks.
#[test]
fn a_cold_night_is_no_leak() {
    let kelvin = |t: f64| 293.15 - 15.0 * (t / 28_800.0);
    let rigid = night(|t| (800.0 * kelvin(t) / 293.15, kelvin(t), f64::NAN));
    let f = fit(&rigid, &vessel(VolumeModel::Fixed { volume_l: 19.0 }));
    assert!(within(&f.loss_l_per_s, 0.0), "{:?}", f.loss_l_per_s);
    let (v0, area) = (3.0, 120.0);
    let sprung = night(|t| {
        let volume_l = v0 * kelvin(t) / 293.15;
        (600.0, kelvin(t), (volume_l - v0) / (area * 1e-4))
    });
    let volume = VolumeModel::Area {
        volume_at_zero_height_l: v0,
        effective_area_cm2: area,
    };
    let f = fit(&sprung, &vessel(volume));
    assert!(within(&f.loss_l_per_s, 0.0), "{:?}", f.loss_l_per_s);
}

/// Air that was just filled cools for a while; that is not a leak either.
#[test]
fn settling_after_a_fill_is_fitted_not_blamed() {
    let mut rest = night(|t| (600.0 * (1.0 + 0.02 * (-t / 240.0).exp()), 293.15, f64::NAN));
    rest.quiet_since_s = Some(-5.0);
    rest.after = LastMove::Fill;
    let f = fit(&rest, &vessel(VolumeModel::Fixed { volume_l: 3.0 }));
    assert!(f.settling_s.is_some());
    assert!(within(&f.loss_l_per_s, 0.0), "{:?}", f.loss_l_per_s);
}

#[test]
fn a_seep_along_a_thread_is_told_from_a_hole() {
    // Far down towards the outside pressure the two laws part.
    let rest = night(|t| {
        let ratio = (700.0 - 101.325) / (700.0 + 101.325) * (-t / 9_000.0_f64).exp();
        (101.325 * (1.0 + ratio) / (1.0 - ratio), 293.15, f64::NAN)
    });
    let f = fit(&rest, &vessel(VolumeModel::Fixed { volume_l: 3.0 }));
    assert_eq!(f.law, LeakLaw::Laminar);
    assert!(!f.law_undecided);
}
