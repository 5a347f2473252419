use super::super::input::Readings;
use super::super::tests::recorded;
use super::simulate::{SimulatedVessel, pressures};
use super::*;
use seep_common::physics::flow::shape_kpa;

/// Pressure of an isothermal volume that empties through a hole, kPa absolute:
/// `dp/dt = -ψ(p)/τ` of ISO 6358 by Runge and Kutta in steps of at most 10 ms.
fn vented_kpa_abs(tau_s: f64, b: f64, outside_kpa_abs: f64, start_kpa_abs: f64, t_s: f64) -> f64 {
    let steps = (t_s / 0.01).ceil().max(1.0);
    let h = t_s / steps;
    let slope = |p: f64| -shape_kpa(b, p, outside_kpa_abs, 293.15) / tau_s;
    let mut p = start_kpa_abs;
    for _ in 0..steps as usize {
        let k1 = slope(p);
        let k2 = slope(p + 0.5 * h * k1);
        let k3 = slope(p + 0.5 * h * k2);
        let k4 = slope(p + h * k3);
        p += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
    }
    p
}

/// While choked, `p = p₀·e^(-t/τ)` exactly (ISO 6358: the flow goes as p).
#[test]
fn the_reference_of_these_tests_solves_the_choked_law() {
    let p = vented_kpa_abs(10.0, 0.3, 100.0, 800.0, 8.0);
    assert!((p - 800.0 * (-0.8_f64).exp()).abs() < 1e-9, "{p}");
}

/// Against an independent integration: isothermal, through the critical ratio.
#[test]
fn a_volume_with_warm_walls_empties_isothermally() {
    let vessel = SimulatedVessel {
        outlet: Outlet::Hole {
            per_s: 0.1,
            critical_ratio: 0.3,
        },
        start_kpa_abs: 800.0,
        outside_kpa_abs: 101.325,
        heat_s: 1e-5,
    };
    let t: Vec<f64> = (0..30).map(f64::from).collect();
    let mut p = vec![0.0; t.len()];
    pressures(&vessel, &t, &mut p);
    for (t, p) in t.iter().zip(&p) {
        let expected = vented_kpa_abs(10.0, 0.3, 101.325, 800.0, *t);
        assert!((p - expected).abs() < 0.02, "{t}: {p} {expected}");
    }
}

/// 7.67 to 0.03 bar gauge, recorded by others; its chamber leaks through a porous wall.
///
/// SciPy 1.17.1 (`solve_ivp` LSODA, `least_squares`), the same law and readings: rate
/// 0.17402 /s, drag 325.5 kPa, heat 0.715 s, residual 0.329 kPa.
#[test]
fn a_recorded_blow_down_is_followed_through_both_regimes() {
    let Some(all) = recorded("hold_blowdown.csv") else {
        return;
    };
    let last = &all.kpa_abs[all.kpa_abs.len() - 300..];
    let empty = crate::analysis::stats::mean(last).expect("some");
    let seen = fit(&all, empty).expect("a curve");
    println!("{seen:?}");
    let Outlet::Gap { per_s, drag_kpa } = seen.outlet else {
        panic!("{seen:?}")
    };
    assert!((per_s / 0.174_02 - 1.0).abs() < 0.01, "{seen:?}");
    assert!((drag_kpa / 325.5 - 1.0).abs() < 0.03, "{seen:?}");
    assert!(seen.follows && seen.residual_kpa < 0.5, "{seen:?}");
    let (above, below) = seen.residual_by_regime_kpa;
    assert!(
        above.expect("readings") < 1.5 && below.expect("readings") < 0.4,
        "{seen:?}"
    );
    assert!(seen.other_residual_kpa.expect("a hole") > 5.0 * seen.residual_kpa);
}

/// Through a hole, by ISO 6358, with noise: the law and its size.
#[test]
fn a_hole_is_told_from_a_gap() {
    let t_s: Vec<f64> = (0..400).map(|i| 0.1 * f64::from(i)).collect();
    let noise = |t: f64| 0.1 * (37.0 * t).sin();
    let kpa_abs = t_s
        .iter()
        .map(|t| vented_kpa_abs(12.0, 0.35, 101.325, 800.0, (t - 3.0).max(0.0)) + noise(*t))
        .collect();
    let readings = Readings {
        t_s,
        kpa_abs,
        volume_l: Vec::new(),
    };
    let seen = fit(&readings, 101.325).expect("a curve");
    let Outlet::Hole {
        per_s,
        critical_ratio,
    } = seen.outlet
    else {
        panic!("{seen:?}")
    };
    assert!(
        (per_s * 12.0 - 1.0).abs() < 0.01 && (critical_ratio - 0.35).abs() < 0.02,
        "{seen:?}"
    );
    assert!(
        seen.follows && (seen.begins_s - 3.2).abs() < 0.3,
        "{seen:?}"
    );
    // 289.5 kPa: 12 s · ln(800/289.5) after the valve opened.
    assert!(
        (seen.knee_s.expect("crossed") - 15.2).abs() < 0.4,
        "{seen:?}"
    );
}
