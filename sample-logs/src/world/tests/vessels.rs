//! Filling and emptying vessels of fixed volume.

use super::{make_adiabatic, make_isothermal, vessel};
use crate::world::{Air, LeakLaw, Restriction, World};

/// A 10 L vessel at 901 325 Pa with an ideal nozzle of 1 mm to the outside.
fn leaking_vessel() -> World {
    let mut world = World::new(&vessel(10.0));
    // C of an ideal 1 mm nozzle, Cd 1, for ρ0 = p0/(R T0).
    let nozzle = 0.01 / (64.101_193_256_93 * 1e5);
    world.leaks[0].law = LeakLaw::Orifice(Restriction {
        c: nozzle,
        b: 0.528_281_787_717_174_2,
    });
    world.corners[0].air = Air::at(901_325.0, 293.15, 0.01);
    world.tank.place_k = 293.15;
    world
}

fn pass(world: &mut World, seconds: f64, dt_s: f64) {
    for _ in 0..(seconds / dt_s).round() as usize {
        world.step(None, dt_s);
    }
}

/// Reference: p = p0·exp(−t/τ), τ = 64.101 193 s, for a 10 L vessel behind an
/// ideal 1 mm nozzle (blow-down formulas as published at aefarrell.github.io and
/// in Bar-Meir, Fundamentals of Compressible Flow, chapter 11).
#[test]
fn with_fast_heat_a_choked_leak_tends_to_the_exponential() {
    let table = [(1.0, 887_373.139), (10.0, 771_134.315), (30.0, 564_452.308)];
    let mut error_before = f64::INFINITY;
    for dt_s in [0.02, 0.01, 0.005] {
        let mut worst: f64 = 0.0;
        for (t_s, pa) in table {
            let mut world = leaking_vessel();
            make_isothermal(&mut world);
            pass(&mut world, t_s, dt_s);
            worst = worst.max((world.corners[0].pa() / pa - 1.0).abs());
        }
        // Not taken from the formula: the error is that of the step, and halves with it.
        assert!(worst < 1e-4, "step {dt_s}: {worst}");
        assert!(worst < 0.6 * error_before, "step {dt_s}: {worst}");
        error_before = worst;
    }
}

/// Reference: p = p0·(1 + (κ−1)/2·t/τ)^(−2κ/(κ−1)), same sources.
#[test]
fn without_heat_a_choked_leak_follows_the_adiabatic_blow_down() {
    for (t_s, pa, kelvin) in [
        (1.0, 881_883.038, 291.329_23),
        (10.0, 726_907.450, 275.678_90),
        (30.0, 481_799.497, 245.115_80),
    ] {
        let mut world = leaking_vessel();
        make_adiabatic(&mut world);
        pass(&mut world, t_s, 0.005);
        assert!((world.corners[0].pa() / pa - 1.0).abs() < 2e-4, "{t_s} s");
        let found_k = world.corners[0].air.kelvin();
        assert!((found_k - kelvin).abs() < 0.02, "{t_s} s: {found_k} K");
    }
}

/// With the car's own heat exchange the pressure lies between both limits, and
/// comes back towards the isothermal one when the flow has ended.
#[test]
fn with_ordinary_heat_it_lies_between_and_recovers() {
    let mut world = leaking_vessel();
    pass(&mut world, 10.0, 0.005);
    let pa = world.corners[0].pa();
    assert!(pa > 726_907.0 && pa < 771_134.0, "{pa}");
    let cold_k = world.corners[0].air.kelvin();
    assert!(cold_k < 290.0, "{cold_k}");
    world.leaks.clear();
    pass(&mut world, 40.0, 0.05);
    let warmer = world.corners[0].air.kelvin();
    assert!(warmer > cold_k + 2.0, "{cold_k} to {warmer} K");
    pass(&mut world, 3_600.0, 1.0);
    assert!((world.corners[0].air.kelvin() - 293.15).abs() < 0.1);
}

/// Reference: charge of a 10 L vessel from a constant source through
/// C = 1 L/(s·bar); closed form of ISO 6358 integrated over an isothermal
/// volume, t = V/(C·p0)·(1−b)·(asin x_b − asin x_a), linear while choked.
#[test]
fn charging_takes_the_time_of_the_closed_form() {
    for (source_kpa, b, from_kpa, to_kpa, seconds) in [
        (800.0, 0.3, 300.0, 600.0, 4.136_114_900_825),
        (800.0, 0.3, 100.0, 600.0, 6.637_557_313_538),
        (800.0, 0.5, 300.0, 600.0, 3.867_993_877_991),
        (1_100.0, 0.35, 400.0, 700.0, 2.829_067_767_265),
    ] {
        let mut scenario = vessel(10.0);
        (scenario.circuits[0].fill_c, scenario.circuits[0].fill_b) = (1.0, b);
        let mut world = World::new(&scenario);
        make_isothermal(&mut world);
        // A source that does not fall: a very large tank.
        world.tank.m3 = 1e6;
        world.tank.air = Air::at(source_kpa * 1e3, 293.15, 1e6);
        world.corners[0].air = Air::at(from_kpa * 1e3, 293.15, 0.01);
        world.corners[0].fill.drive(true);
        let dt_s = 0.001;
        let mut t_s = 0.0;
        let mut before = from_kpa * 1e3;
        while world.corners[0].pa() < to_kpa * 1e3 {
            before = world.corners[0].pa();
            world.step(None, dt_s);
            t_s += dt_s;
        }
        let rise = world.corners[0].pa() - before;
        t_s -= dt_s * (world.corners[0].pa() - to_kpa * 1e3) / rise;
        assert!(
            (t_s / seconds - 1.0).abs() < 1e-3,
            "{source_kpa} {b}: {t_s}"
        );
    }
}

/// Reference: vent of 10 L through C = 1 L/(s·bar), b 0.3, to 101.325 kPa:
/// 800 to 400 kPa takes 10·ln 2 s; 600 to 200 kPa, which leaves the choked range
/// at 337.75 kPa, 11.055 274 s.
#[test]
fn venting_takes_the_time_of_the_closed_form() {
    for (from_kpa, to_kpa, seconds) in [
        (800.0, 400.0, 6.931_471_805_599),
        (600.0, 200.0, 11.055_274_44),
    ] {
        let mut scenario = vessel(10.0);
        (scenario.circuits[0].dump_c, scenario.circuits[0].dump_b) = (1.0, 0.3);
        let mut world = World::new(&scenario);
        make_isothermal(&mut world);
        world.corners[0].air = Air::at(from_kpa * 1e3, 293.15, 0.01);
        world.corners[0].dump.drive(true);
        let dt_s = 0.001;
        let mut t_s = 0.0;
        while world.corners[0].pa() > to_kpa * 1e3 {
            world.step(None, dt_s);
            t_s += dt_s;
        }
        assert!((t_s / seconds - 1.0).abs() < 1e-3, "{from_kpa}: {t_s}");
        assert!(world.corners[0].dumped_kg > 0.0);
    }
}

/// A leak told as so many ANR cm³/min passes just that at its reference state.
#[test]
fn a_leak_has_the_rate_it_was_told() {
    use crate::scenario::Law;
    use crate::world::{anr_litres, law_for};
    for law in [Law::Orifice, Law::Laminar] {
        let leak = law_for(law, 0.5, 25.0, 500e3);
        let kg_s = leak.flow(601_325.0, 293.15, 101_325.0, 293.15);
        assert!((anr_litres(kg_s) * 60_000.0 - 25.0).abs() < 1e-9);
        assert!(leak.flow(101_325.0, 293.15, 601_325.0, 293.15) < 0.0);
    }
}

/// A motor that runs too long is cut out and comes back cooler.
#[test]
fn the_thermal_switch_opens_and_closes() {
    let mut world = World::new(&vessel(5.0));
    world.compressors[0].wanted = true;
    let mut t_s = 0.0;
    while !world.compressors[0].tripped {
        world.step(None, 1.0);
        t_s += 1.0;
        assert!(t_s < 7_200.0, "it never trips");
    }
    assert!(t_s > 300.0 && world.compressors[0].motor_c() > 114.0);
    let delivered = world.delivered_kg[0];
    while world.compressors[0].tripped {
        world.step(None, 1.0);
        t_s += 1.0;
        assert!(t_s < 20_000.0, "it never closes");
    }
    assert!((world.delivered_kg[0] - delivered).abs() < 1e-12);
    assert!(world.compressors[0].motor_c() < 81.0);
}

/// More back pressure, less voltage, thinner air: less delivery.
#[test]
fn delivery_falls_with_back_pressure_voltage_and_altitude() {
    let mut compressor = World::new(&vessel(5.0)).compressors[0];
    compressor.wanted = true;
    let at = |tank_pa, outside_pa, volts| compressor.delivery(tank_pa, outside_pa, 293.15, volts).0;
    let best = at(101_325.0, 101_325.0, 13.5);
    let litres_min = best / crate::world::REFERENCE_DENSITY * 60_000.0;
    assert!((litres_min - 46.0 * 1.013_25).abs() < 1e-9, "{litres_min}");
    assert!(at(1_001_325.0, 101_325.0, 13.5) < 0.7 * best);
    assert!(at(101_325.0, 101_325.0, 11.5) < 0.9 * best);
    assert!(at(79_501.0, 79_501.0, 13.5) < 0.8 * best);
    assert!(at(3_000_000.0, 101_325.0, 13.5).abs() < 1e-15);
}
