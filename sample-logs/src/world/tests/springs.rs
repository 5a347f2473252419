//! Springs under load: stiffness, stops, friction, and what a leak looks like.

use super::{make_adiabatic, make_isothermal, still_car};
use crate::scenario::{Fault, FaultKind, Scenario};
use crate::world::World;

fn pass(world: &mut World, seconds: f64, dt_s: f64) {
    for _ in 0..(seconds / dt_s).round() as usize {
        world.step(None, dt_s);
    }
}

fn frictionless() -> Scenario {
    let mut scenario = still_car();
    scenario.vehicle.anti_roll_n_mm = 0.0;
    for c in &mut scenario.circuits {
        (c.friction_n, c.taper_percent, c.curve_percent) = (0.0, 0.0, 0.0);
    }
    scenario
}

/// Handbook formula of the gas spring at constant area: rate = n·p·A²/V, with
/// n = 1.4 when no heat passes and n = 1 when it passes freely.
#[test]
fn stiffness_is_that_of_a_gas_spring() {
    for (exponent, isothermal) in [(1.4, false), (1.0, true)] {
        let mut world = World::new(&frictionless());
        if isothermal {
            make_isothermal(&mut world);
        } else {
            make_adiabatic(&mut world);
        }
        pass(&mut world, 5.0, 0.01);
        let c = &world.corners[0];
        let (before_m, area) = (c.height_m, c.spring.area(c.height_m));
        let rate = exponent * c.pa() * area * area / c.m3();
        world.corners[0].extra_kg = 2.0;
        pass(&mut world, 10.0, 0.01);
        let sunk = before_m - world.corners[0].height_m;
        let expected = 2.0 * 9.806_65 / rate;
        assert!(
            (sunk / expected - 1.0).abs() < 0.01,
            "{exponent}: {sunk} {expected}"
        );
    }
}

#[test]
fn force_balances_load_and_friction_holds_within_its_band() {
    let mut scenario = still_car();
    scenario.vehicle.anti_roll_n_mm = 0.0;
    let mut world = World::new(&scenario);
    world.corners[2].extra_kg = 60.0;
    pass(&mut world, 60.0, 0.01);
    for c in &world.corners {
        let force = (c.pa() - world.weather.pa) * c.spring.area(c.height_m);
        assert!(
            (force - c.weight_n()).abs() <= c.spring.friction_n + 1.0,
            "{force}"
        );
    }
    assert!(world.corners[2].height_m < -0.005);
    // A load below the friction moves nothing.
    let before_m = world.corners[0].height_m;
    world.corners[0].extra_kg = 2.0;
    pass(&mut world, 10.0, 0.01);
    assert!((world.corners[0].height_m - before_m).abs() < 1e-9);
}

#[test]
fn an_empty_spring_rests_on_its_stop() {
    let mut world = World::new(&still_car());
    for corner in &mut world.corners {
        corner.dump.drive(true);
    }
    pass(&mut world, 120.0, 0.005);
    for corner in &world.corners {
        let stop_m = corner.spring.lower_stop_m;
        assert!(
            (corner.height_m - stop_m).abs() < 0.004,
            "{}",
            corner.height_m
        );
        assert!(corner.pa() - world.weather.pa < 3_000.0);
    }
}

/// The unit of truth is air: off its stops a leaking spring keeps its pressure
/// and loses height; on its stop it keeps its height and loses pressure.
#[test]
fn a_leak_shows_as_height_off_the_stops_and_as_pressure_on_them() {
    let mut scenario = frictionless();
    scenario.faults = vec![Fault::leak(FaultKind::CornerLeak, "rear_right", 4.0)];
    let mut world = World::new(&scenario);
    pass(&mut world, 5.0, 0.01);
    let (pa, height_m) = (world.corners[3].pa(), world.corners[3].height_m);
    pass(&mut world, 8.0 * 3600.0, 5.0);
    let c = &world.corners[3];
    assert!((c.pa() / pa - 1.0).abs() < 0.005, "{pa} {}", c.pa());
    assert!(c.height_m < height_m - 0.02, "{height_m} {}", c.height_m);

    world.leaks.last_mut().expect("the fault").rule = None;
    pass(&mut world, 60.0 * 3600.0, 5.0);
    let (pa, height_m) = (world.corners[3].pa(), world.corners[3].height_m);
    pass(&mut world, 20.0 * 3600.0, 5.0);
    let c = &world.corners[3];
    assert!(c.pa() < 0.8 * pa, "{pa} {}", c.pa());
    assert!(
        (c.height_m - height_m).abs() < 0.004,
        "{height_m} {}",
        c.height_m
    );
}

#[test]
fn a_cold_night_lowers_a_sound_car_at_steady_pressure() {
    let mut world = World::new(&frictionless());
    pass(&mut world, 5.0, 0.01);
    let before: Vec<(f64, f64)> = world.corners.iter().map(|c| (c.pa(), c.height_m)).collect();
    for corner in &mut world.corners {
        corner.place_k = 278.15;
    }
    // The weather would warm the wheel arches again: keep them cold.
    for _ in 0..2_000 {
        world.step(None, 1.0);
        for corner in &mut world.corners {
            corner.place_k = 278.15;
        }
    }
    for (c, (pa, height_m)) in world.corners.iter().zip(before) {
        assert!((c.pa() / pa - 1.0).abs() < 0.002);
        let lower_mm = 1000.0 * (height_m - c.height_m);
        assert!(lower_mm > 10.0 && lower_mm < 20.0, "{lower_mm}");
    }
}

/// A 40 mm lift takes two to six seconds, as on the road.
#[test]
fn a_lift_takes_some_seconds() {
    let mut world = World::new(&still_car());
    let start_mm = world.height_mm(0);
    world.corners[0].fill.drive(true);
    let mut t_s = 0.0;
    while world.height_mm(0) < start_mm + 40.0 {
        world.step(None, 0.005);
        t_s += 0.005;
        assert!(t_s < 20.0);
    }
    assert!(t_s > 2.0 && t_s < 6.0, "{t_s}");
}
