//! The physics against closed forms, published tables and its own books.

mod agreement;
mod books;
mod springs;
mod vessels;

use super::World;
use crate::scenario::{Scenario, Stage, StageKind};

/// A car in still air: no wind, no swing, sea level, 20 °C, no seepage.
fn still_car() -> Scenario {
    let mut scenario = Scenario::parse(
        "name = \"still\"\nsummary = \"\"\nseed = 1\nstart_unix_s = 1_777_000_000\n\
         [[stage]]\nkind = \"parked\"\nhours = 1.0\n",
    )
    .expect("a complete scenario");
    let s = &mut scenario.surroundings;
    (s.mean_c, s.swing_k, s.cloud_k, s.weather_kpa, s.altitude_m) = (20.0, 0.0, 0.0, 0.0, 0.0);
    for circuit in &mut scenario.circuits {
        circuit.sound_anr_cm3_min = 1e-12;
    }
    scenario.stages = vec![Stage::new(StageKind::Parked, 60.0)];
    scenario
}

/// One circuit that does not move: a vessel of fixed volume with valves.
fn vessel(volume_l: f64) -> Scenario {
    let mut scenario = still_car();
    scenario.circuits.truncate(1);
    let c = &mut scenario.circuits[0];
    c.volume_l = volume_l;
    c.friction_n = 1e12;
    (c.line_c, c.valve_lag_ms, c.valve_stroke_ms) = (1e6, 0.0, 1e-6);
    (scenario.manifold.supply_c, scenario.manifold.exhaust_c) = (1e6, 1e6);
    scenario
}

/// Heat passes without hindrance: everything stays at its first temperature.
fn make_isothermal(world: &mut World) {
    for corner in &mut world.corners {
        corner.skin.capacity_j_k = 1e12;
        corner.skin.to_air_w_k = 1e9;
        corner.skin.to_outside_w_k = 1e-9;
    }
    world.tank.shell.capacity_j_k = 1e12;
    world.tank.shell.to_air_w_k = 1e9;
    world.tank.shell.to_outside_w_k = 1e-9;
}

/// No heat passes.
fn make_adiabatic(world: &mut World) {
    for corner in &mut world.corners {
        corner.skin.to_air_w_k = 0.0;
    }
    world.tank.shell.to_air_w_k = 0.0;
}
