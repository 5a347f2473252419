//! The three nights that a pressure gauge confuses. All data here is invented.

use super::*;
use crate::analysis::fit;
use crate::analysis::leak::prepare;
use crate::analysis::segment::{Resolution, RestPoint};
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
        weather_unread_s: 0.0,
        resolution: Resolution::default(),
    }
}

fn fit(rest: &Rest, vessel: &Vessel) -> LeakFit {
    let data = prepare(rest, vessel).expect("enough");
    fit_rest(rest, &data, vessel, 101.325).expect("fits")
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
    assert!(
        (f.per_s.value * tau_s - 1.0).abs() < 0.01 && within(&f.per_s, 1.0 / tau_s),
        "{:?}",
        f.per_s
    );
    // The exponential itself, fitted to the same amounts, says the same.
    let data = prepare(&rest, &vessel(VolumeModel::Fixed { volume_l: 10.0 })).expect("enough");
    let direct = fit::decay(&data.t_s, &data.amount_anr_l, None).expect("decays");
    assert!((direct.values[1] * tau_s - 1.0).abs() < 2e-3);
    // C = V/(τ·1 bar) in L/(s·bar).
    let c = 10.0 / tau_s;
    assert!(
        (f.equivalent_conductance.value / c - 1.0).abs() < 0.01,
        "{:?}",
        f.equivalent_conductance
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

/// The same seep's law at 0 °C: the gap passes more of the thinner, denser air,
/// by (T0/T)·(μ0/μ). The loss is told as it was, cold.
#[test]
fn a_seep_is_seen_through_its_temperature() {
    let (cold_k, volume_l, outside) = (273.15, 3.0, 101.325);
    let law = seep_common::physics::leak::LeakLaw::LaminarSeep {
        g_l_per_s_kpa2: 2.5e-10,
    };
    let around = seep_common::physics::leak::Surroundings {
        volume_l,
        t_k: cold_k,
        outside_kpa_abs: outside,
    };
    let rest = night(|t| {
        (
            law.pressure_after_kpa_abs(700.0, &around, t),
            cold_k,
            f64::NAN,
        )
    });
    let f = fit(&rest, &vessel(VolumeModel::Fixed { volume_l }));
    let middle = law.pressure_after_kpa_abs(700.0, &around, 14_400.0);
    let truth = law.outflow_anr_l_per_s(middle, &around);
    assert!(
        (f.loss_l_per_s.value / truth - 1.0).abs() < 0.05,
        "{:?} {truth}",
        f.loss_l_per_s
    );
}

/// A reading that never leaves one count says: nothing moved by more than a
/// count. Not: nothing moved.
#[test]
fn a_reading_that_never_changes_has_an_interval() {
    let mut rest = night(|_| (600.0, 293.15, f64::NAN));
    for p in &mut rest.points {
        (p.kpa_abs, p.kelvin) = (600.0, 293.15);
    }
    rest.resolution = Resolution {
        kpa: 0.5,
        mm: 0.1,
        kelvin: 0.1,
    };
    let f = fit(&rest, &vessel(VolumeModel::Fixed { volume_l: 10.0 }));
    // Half a kPa of 10 L over 8 h, in ANR L/s, over √12, at both ends.
    let count = 0.5 * 10.0 / 100.0 / 28_800.0 / 12.0_f64.sqrt() * 2.0_f64.sqrt();
    assert!(f.loss_l_per_s.value.abs() < 1e-9);
    assert!(f.loss_l_per_s.se >= count, "{} {count}", f.loss_l_per_s.se);
}

/// A temperature that bends like the leak it hides: the bend alone must not
/// say which is which. With the coupling of sensor and air in doubt the interval
/// is wide enough for both stories, wider than where nothing bends.
#[test]
fn a_bend_alone_does_not_tell_temperature_from_loss() {
    let kelvin = |t: f64| 293.15 - 12.0 * (1.0 - (-t / 12_000.0).exp());
    let steady = night(|_| (800.0, 293.15, f64::NAN));
    // A spring whose height is not recorded may take any part of the swing as
    // pressure; a tank all of it, within a few percent.
    for (place, couplings) in [("rear_left", [0.85, 1.15]), ("tank", [0.97, 1.03])] {
        let vessel = Vessel {
            place: place.into(),
            ..vessel(VolumeModel::Fixed { volume_l: 19.0 })
        };
        let calm = fit(&steady, &vessel).loss_l_per_s.se;
        for coupling in couplings {
            let air = |t: f64| 293.15 + coupling * (kelvin(t) - 293.15);
            let rest = night(|t| (800.0 * air(t) / 293.15, kelvin(t), f64::NAN));
            let loss = fit(&rest, &vessel).loss_l_per_s;
            assert!(within(&loss, 0.0), "{place} {coupling}: {loss:?}");
            assert!(loss.se > 1.5 * calm, "{place} {coupling}: {loss:?} {calm}");
        }
    }
}
