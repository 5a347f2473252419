use super::*;
use crate::physics::flow::{FlowPath, IdealNozzle};
use crate::physics::gas::IdealGas;
use proptest::prelude::*;

fn close(got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs(),
        "got {got}, want {want}"
    );
}

/// Computed from ISO 6358: 10 L and 1e-8 m³/(s·Pa) give 10 s exactly with
/// ρ0·R·T0 = p0; with ρ0 = 1.185 kg/m³ the mass balance of an ideal nozzle of
/// that conductance gives 10.02846 s for R 287.05 and 9.99538 s for R 288.
#[test]
fn time_constant() {
    close(choked_time_constant_s(10.0, 1.0, 293.15), 10.0, 1e-15);
    for (specific_constant_j_per_kg_k, seconds) in [(287.05, 10.028_46), (288.0, 9.995_38)] {
        let gas = IdealGas {
            specific_constant_j_per_kg_k,
            heat_capacity_ratio: 1.4,
        };
        let mut hole = IdealNozzle {
            gas,
            ..IdealNozzle::round_mm(1.0, 1.0)
        };
        hole.area_mm2 /= hole.conductance_l_per_s_bar();
        let tank = Blowdown::through(&hole, 10.0, 700.0, 293.15);
        close(tank.tau_s, seconds, 1e-6);
    }
    close(
        choked_conductance_l_per_s_bar(10.0, 10.0, 250.0),
        choked_time_constant_s(10.0, 10.0, 250.0),
        1e-15,
    );
}

/// Computed: 701.325 kPa absolute, τ = 36000 s.
#[test]
fn choked_decay_table() {
    for (hours, pa) in [
        (1.0, 634_585.1),
        (2.0, 574_196.3),
        (4.0, 470_112.2),
        (8.0, 315_125.6),
        (12.0, 211_235.0),
    ] {
        let got = 1000.0 * choked_kpa_abs(701.325, 36_000.0, hours * 3600.0);
        assert!((got - pa).abs() <= 0.05 + 1e-6, "{hours} h: {got}");
    }
    close(half_life_s(36_000.0), 24_953.298_5, 2e-9);
}

/// California ARB vapour-recovery procedure TP-201.3, published: a 2 inch water
/// column must not fall below P = 2·exp(-K/V) in 5 min, so τ = 300 s·V/K. The
/// table for K = 500.887 is computed.
#[test]
fn decay_of_a_published_leak_procedure() {
    for (gallons, inches) in [
        (500.0, 0.7345),
        (550.0, 0.8045),
        (600.0, 0.8679),
        (1000.0, 1.2120),
        (2000.0, 1.5569),
        (5000.0, 1.8094),
        (10_000.0, 1.9023),
        (25_000.0, 1.9603),
    ] {
        let tau_s = 300.0 * gallons / 500.887;
        let got = choked_kpa_abs(2.0, tau_s, 300.0);
        assert!((got - inches).abs() < 6e-5, "{gallons}: {got}");
        close(choked_time_s(tau_s, 2.0, got), 300.0, 1e-12);
    }
    close(300.0 * 1000.0 / 500.887, 598.94, 1e-5);
}

/// Charge from a constant supply, computed in closed form and checked against a
/// numerical integration of ISO 6358 (scipy): 10 L, C = 1 L/(s·bar).
#[test]
fn charge_table() {
    for (supply, b, from, to, seconds) in [
        (800.0, 0.3, 300.0, 600.0, 4.136_114_900_825),
        (800.0, 0.3, 100.0, 600.0, 6.637_557_313_538),
        (800.0, 0.3, 100.0, 800.0, 12.745_574_287_564),
        (800.0, 0.5, 300.0, 600.0, 3.867_993_877_991),
        (1100.0, 0.35, 400.0, 700.0, 2.829_067_767_265),
    ] {
        let t = charge_time_s(10.0, b, supply, from, to).expect("reachable");
        close(t, seconds, 1e-12);
        close(charged_kpa_abs(10.0, b, supply, from, t), to, 1e-9);
        // A tenth less conductance takes a ninth more time.
        let slower = choked_time_constant_s(10.0, 0.9, 293.15);
        let t_slower = charge_time_s(slower, b, supply, from, to).expect("reachable");
        close(t_slower / t, 1.111_111_1, 1e-7);
    }
}

/// Venting to 101.325 kPa, computed and checked against a numerical
/// integration (scipy): 10 L, C = 1 L/(s·bar).
#[test]
fn vent_table() {
    for (b, from, to, seconds, digits) in [
        (0.3, 800.0, 400.0, 6.931_471_805_599, 1e-12),
        (0.3, 600.0, 200.0, 11.055_274_44, 1e-9),
        (0.5, 300.0, 150.0, 6.992_040_77, 1e-9),
    ] {
        let t = vent_time_s(10.0, b, 101.325, from, to).expect("reachable");
        close(t, seconds, digits);
        close(vented_kpa_abs(10.0, b, 101.325, from, t), to, 1e-9);
    }
    close(101.325 / 0.3, 337.75, 1e-15);
}

/// With b = 0 a vent never chokes and `dp/dt = -√(p² - p_a²)/τ`, so
/// `t = τ·(acosh(p_i/p_a) - acosh(p/p_a))`: solved by hand.
#[test]
fn a_vent_that_never_chokes() {
    let acosh = |p: f64| (p / 101.325).acosh();
    for (from, to) in [(600.0, 200.0), (600.0, 101.325), (110.0, 102.0)] {
        let t = vent_time_s(10.0, 0.0, 101.325, from, to).expect("reachable");
        close(t, 10.0 * (acosh(from) - acosh(to)), 1e-12);
        close(vented_kpa_abs(10.0, 0.0, 101.325, from, t), to, 1e-9);
    }
    close(vented_kpa_abs(10.0, 0.0, 101.325, 600.0, 0.0), 600.0, 1e-15);
}

#[test]
fn moves_against_the_flow_have_no_time() {
    assert_eq!(vent_time_s(10.0, 0.3, 101.325, 200.0, 300.0), None);
    assert_eq!(vent_time_s(10.0, 0.3, 101.325, 200.0, 100.0), None);
    assert_eq!(charge_time_s(10.0, 0.3, 800.0, 300.0, 200.0), None);
    assert_eq!(charge_time_s(10.0, 0.3, 800.0, 300.0, 801.0), None);
    assert_eq!(charge_time_s(10.0, 0.3, 800.0, 300.0, 300.0), Some(0.0));
}

/// Computed (R 287.05, k 1.4): 10 L, 1 mm, 293.15 K, 901.325 kPa.
#[test]
fn blowdown_table() {
    let gas = IdealGas {
        specific_constant_j_per_kg_k: 287.05,
        heat_capacity_ratio: 1.4,
    };
    let hole = IdealNozzle {
        gas,
        ..IdealNozzle::round_mm(1.0, 1.0)
    };
    let tank = Blowdown::through(&hole, 10.0, 901.325, 293.15);
    close(tank.tau_s, 64.101_193_256_93, 1e-12);
    close(half_life_s(tank.tau_s), 44.431_56, 1e-6);
    let knee = 101.325 / crate::physics::flow::critical_pressure_ratio(1.4);
    close(tank.isothermal_time_s(knee), 99.190_65, 1e-6);
    for (t, isothermal, adiabatic, kelvin) in [
        (1.0, 887_373.139, 881_883.038, 291.329_23),
        (10.0, 771_134.315, 726_907.450, 275.678_90),
        (30.0, 564_452.308, 481_799.497, 245.115_80),
    ] {
        close(1000.0 * tank.isothermal_kpa_abs(t), isothermal, 1e-9);
        close(1000.0 * tank.adiabatic_kpa_abs(t), adiabatic, 1e-9);
        close(tank.adiabatic_k(t), kelvin, 3e-8);
        close(tank.adiabatic_time_s(tank.adiabatic_kpa_abs(t)), t, 1e-12);
    }
}

/// Data of an open textbook exercise (0.85 m³, 10 mm, R 286.5, 293 K, 600 to
/// 100 kPa), results computed.
#[test]
fn blowdown_of_a_large_tank() {
    let gas = IdealGas {
        specific_constant_j_per_kg_k: 286.5,
        heat_capacity_ratio: 1.4,
    };
    let hole = IdealNozzle {
        gas,
        ..IdealNozzle::round_mm(10.0, 1.0)
    };
    let tank = Blowdown::through(&hole, 850.0, 600.0, 293.0);
    close(tank.tau_s, 54.552_247, 1e-8);
    let knee = 100.0 / crate::physics::flow::critical_pressure_ratio(1.4);
    close(knee, 189.293, 2e-6);
    close(tank.isothermal_time_s(knee), 62.933, 1e-5);
    close(tank.adiabatic_time_s(knee), 48.869, 1e-5);
}

/// The closed form must solve its own rate law: dp/dt = -a(p² - pa²).
#[test]
fn laminar_form_solves_its_rate_law() {
    for (start, outside) in [(700.0, 100.0), (120.0, 100.0), (60.0, 100.0), (700.0, 0.0)] {
        let (a, t, h) = (2e-7, 9000.0, 1.0);
        let p = laminar_kpa_abs(start, outside, a, t);
        let slope = (laminar_kpa_abs(start, outside, a, t + h)
            - laminar_kpa_abs(start, outside, a, t - h))
            / (2.0 * h);
        close(slope, -a * (p * p - outside * outside), 1e-6);
        close(
            laminar_time_s(start, p, outside, a).expect("reached"),
            t,
            1e-9,
        );
    }
    assert_eq!(laminar_time_s(700.0, 90.0, 100.0, 1e-7), None);
    assert_eq!(laminar_time_s(700.0, 800.0, 100.0, 1e-7), None);
}

fn fill(b: f64, other: OtherSide) -> Transfer {
    Transfer {
        path: FlowPath::new(1.0, b).expect("valid"),
        other,
        t_k: 293.15,
    }
}

const fn air(kpa_abs: f64, volume_l: f64) -> AirState {
    AirState { kpa_abs, volume_l }
}

/// The quadrature against the closed forms for a fixed volume.
#[test]
fn transfer_agrees_with_the_closed_forms() {
    let charge = fill(0.3, OtherSide::Constant(800.0));
    for to in [600.0, 800.0] {
        let want = charge_time_s(10.0, 0.3, 800.0, 100.0, to).expect("reachable");
        let got = charge
            .time_s(air(100.0, 10.0), air(to, 10.0))
            .expect("reachable");
        close(got, want, 1e-7);
    }
    let vent = fill(0.3, OtherSide::Constant(101.325));
    for to in [200.0, 101.325] {
        let want = vent_time_s(10.0, 0.3, 101.325, 600.0, to).expect("reachable");
        let got = vent
            .time_s(air(600.0, 10.0), air(to, 10.0))
            .expect("reachable");
        close(got, want, 1e-7);
    }
}

/// A huge tank is a constant supply; a small one takes longer, then runs out.
#[test]
fn transfer_from_a_falling_tank() {
    let (low, high) = (air(400.0, 3.0), air(500.0, 4.0));
    let constant = fill(0.3, OtherSide::Constant(900.0))
        .time_s(low, high)
        .expect("reachable");
    let tank = |litres| fill(0.3, OtherSide::Tank(air(900.0, litres))).time_s(low, high);
    close(tank(1e9).expect("reachable"), constant, 1e-6);
    assert!(tank(6.0).expect("reachable") > 1.02 * constant);
    // 8 ANR litres out of 1.5 L leave 367 kPa: the corner cannot reach 500.
    assert_eq!(tank(1.5), None);
}

/// Exponents other than 0.5 and cracking pressures, against a fine midpoint sum.
#[test]
fn transfer_with_exponent_and_cracking_pressure() {
    let path = FlowPath::new(0.8, 0.25)
        .and_then(|p| p.with_exponent(0.56))
        .and_then(|p| p.with_cracking_kpa(12.0))
        .expect("valid");
    let line = Transfer {
        path,
        other: OtherSide::Constant(800.0),
        t_k: 283.15,
    };
    let got = line
        .time_s(air(200.0, 5.0), air(750.0, 5.0))
        .expect("reachable");
    let steps = 200_000;
    let dp = 550.0 / f64::from(steps);
    let sum: f64 = (0..steps)
        .map(|i| {
            let p = 200.0 + (f64::from(i) + 0.5) * dp;
            let litres = crate::physics::gas::amount_anr_l(dp, 5.0, 283.15);
            litres / path.anr_l_per_s(800.0, p, 283.15)
        })
        .sum();
    close(got, sum, 1e-6);
    assert_eq!(line.time_s(air(200.0, 5.0), air(790.0, 5.0)), None);
}

proptest! {
    #[test]
    fn vent_inverts(
        b in 0.0..0.98_f64, outside in 70.0..104.0_f64, over in 0.0..1000.0_f64, share in 0.001..1.0_f64,
    ) {
        let from = outside + over;
        let to = outside + over * share;
        let t = vent_time_s(7.0, b, outside, from, to).expect("in domain");
        let back = vented_kpa_abs(7.0, b, outside, from, t);
        prop_assert!((back - to).abs() <= 1e-6 * to, "{} {}", back, to);
    }

    #[test]
    fn charge_inverts(
        b in 0.0..0.98_f64, from in 90.0..700.0_f64, over in 1.0..500.0_f64, share in 0.0..0.999_f64,
    ) {
        let supply = from + over;
        let to = from + over * share;
        let t = charge_time_s(7.0, b, supply, from, to).expect("in domain");
        let back = charged_kpa_abs(7.0, b, supply, from, t);
        prop_assert!((back - to).abs() <= 1e-6 * to, "{} {}", back, to);
    }

    /// Half-way stops do not change how long a vent takes.
    #[test]
    fn vent_times_add(b in 0.0..0.98_f64, from in 150.0..900.0_f64, to in 100.0..150.0_f64, s in 0.0..1.0_f64) {
        let middle = to + s * (from - to);
        let whole = vent_time_s(1.0, b, 100.0, from, to).expect("in domain");
        let parts = vent_time_s(1.0, b, 100.0, from, middle).expect("in domain")
            + vent_time_s(1.0, b, 100.0, middle, to).expect("in domain");
        prop_assert!((whole - parts).abs() <= 1e-9 * (1.0 + whole));
    }
}
