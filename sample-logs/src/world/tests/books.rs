//! The books: no gram and no joule comes from nowhere.

use super::still_car;
use crate::scenario::{Fault, FaultKind, Law, Scenario, When};
use crate::world::{Drive, World};

fn busy_car() -> Scenario {
    let mut scenario = still_car();
    scenario.surroundings.swing_k = 8.0;
    scenario.surroundings.cloud_k = 1.0;
    scenario.faults = vec![
        Fault::leak(FaultKind::CornerLeak, "front_left", 40.0),
        Fault {
            law: Law::Laminar,
            ..Fault::leak(FaultKind::FillValvePassing, "rear_left", 30.0)
        },
        Fault {
            other_place: "front_right".into(),
            ..Fault::leak(FaultKind::CrossLeak, "front_left", 20.0)
        },
        Fault::leak(FaultKind::TankLeak, "", 25.0),
        Fault {
            when: When::AfterDump,
            ..Fault::leak(FaultKind::DumpValveLeak, "rear_right", 50.0)
        },
    ];
    scenario
}

/// Valves, compressor, load and road, one after the other.
fn exercise(world: &mut World, open_s: f64) {
    for round in 0..3 {
        for corner in 0..4 {
            world.corners[corner].fill.drive(true);
            run(world, None, 1.2, open_s);
            world.corners[corner].fill.drive(false);
            run(world, None, 2.0, 0.01);
            world.corners[(corner + round) % 4].dump.drive(true);
            run(world, None, 1.5, open_s);
            world.corners[(corner + round) % 4].dump.drive(false);
            world.corners[corner].extra_kg += 10.0;
            run(world, None, 3.0, 0.01);
        }
        world.compressors[0].wanted = true;
        run(world, None, 60.0, 0.25);
        world.compressors[0].wanted = false;
        let drive = Drive {
            flow_kmh: 60.0,
            into_s: 100.0,
            left_s: 1_000.0,
            altitude_m: 300.0 * f64::from(u8::try_from(round).unwrap_or(0)),
        };
        run(world, Some(drive), 60.0, 0.1);
        world.road.stand();
        run(world, None, 7_200.0, 5.0);
    }
}

fn run(world: &mut World, drive: Option<Drive>, seconds: f64, dt_s: f64) {
    for _ in 0..(seconds / dt_s).round() as usize {
        world.step(drive, dt_s);
    }
}

fn mass_kg(world: &World) -> f64 {
    world.tank.air.mass_kg + world.corners.iter().map(|c| c.air.mass_kg).sum::<f64>()
}

/// Energy of all air and of what it touches, J.
fn energy_j(world: &World) -> f64 {
    let of = |air: &crate::world::Air, skin: &crate::world::Skin| {
        air.energy_j + skin.capacity_j_k * skin.kelvin
    };
    let corners = world.corners.iter().map(|c| of(&c.air, &c.skin));
    of(&world.tank.air, &world.tank.shell) + corners.sum::<f64>()
}

#[test]
fn mass_is_accounted_for() {
    let mut world = World::new(&busy_car());
    let start_kg = mass_kg(&world);
    exercise(&mut world, 0.005);
    let delivered: f64 = world.delivered_kg.iter().sum();
    let dumped: f64 = world.corners.iter().map(|c| c.dumped_kg).sum();
    let outside = |l: &&crate::world::Leak| l.to == crate::world::Place::Outside;
    let leaked: f64 = world
        .leaks
        .iter()
        .filter(outside)
        .map(|l| l.passed_kg)
        .sum();
    assert!(delivered > 0.03 && dumped > 0.01 && leaked > 0.005);
    let missing = start_kg + delivered - dumped - leaked - mass_kg(&world);
    assert!(missing.abs() < 1e-12, "{missing} kg of {start_kg}");
    let filled: f64 = world.corners.iter().map(|c| c.filled_kg).sum();
    assert!(filled > 0.01);
}

#[test]
fn energy_is_accounted_for() {
    let mut world = World::new(&busy_car());
    let start_j = energy_j(&world);
    exercise(&mut world, 0.005);
    let came = world.delivered_j + world.heat_j + world.work_j - world.vented_j;
    let missing = start_j + came - energy_j(&world);
    assert!(world.work_j.abs() > 100.0 && world.heat_j.abs() > 100.0);
    assert!(missing.abs() < 1e-6 * world.delivered_j, "{missing} J");
}

#[test]
fn half_the_step_gives_the_same_car() {
    let mut coarse = World::new(&busy_car());
    let mut fine = World::new(&busy_car());
    exercise(&mut coarse, 0.005);
    exercise(&mut fine, 0.0025);
    for (a, b) in coarse.corners.iter().zip(&fine.corners) {
        assert!((a.air.mass_kg / b.air.mass_kg - 1.0).abs() < 2e-3);
        assert!((a.height_m - b.height_m).abs() < 1e-3);
    }
}

#[test]
fn a_hanging_dump_valve_leaks_until_the_next_fill() {
    let mut world = World::new(&busy_car());
    let hangs = |world: &World| world.leaks.last().expect("the last fault").hangs;
    assert!(!hangs(&world));
    world.corners[3].dump.drive(true);
    run(&mut world, None, 0.5, 0.005);
    world.corners[3].dump.drive(false);
    run(&mut world, None, 0.5, 0.005);
    assert!(hangs(&world));
    world.corners[3].fill.drive(true);
    run(&mut world, None, 0.5, 0.005);
    assert!(!hangs(&world));
}

#[test]
fn a_night_in_long_steps_is_the_night_in_short_ones() {
    let night = |dt_s: f64| {
        let mut scenario = busy_car();
        // Clouds are drawn per step: without them both nights have one weather.
        scenario.surroundings.cloud_k = 0.0;
        let mut world = World::new(&scenario);
        run(&mut world, None, 8.0 * 3600.0, dt_s);
        world
    };
    let (long, short) = (night(5.0), night(0.25));
    for (a, b) in long.corners.iter().zip(&short.corners) {
        let (kg_a, kg_b) = (a.air.mass_kg, b.air.mass_kg);
        // A step of the first order: seen to shrink in proportion to its length.
        assert!((kg_a / kg_b - 1.0).abs() < 4e-4, "{kg_a} {kg_b}");
        assert!((a.height_m - b.height_m).abs() < 2e-4);
        assert!((a.air.kelvin() - b.air.kelvin()).abs() < 0.02);
    }
}
