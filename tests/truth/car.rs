//! A car of the bench: other dimensions, other sensors, other owners.

use crate::case::Case;
use crate::fault;
use crate::week::{self, Habit};
use seep_sample_logs::rng::Noise;
use seep_sample_logs::scenario::{By, PressureUnit, Scenario, builtin};

/// What a car of the bench is like.
#[derive(Debug, Clone)]
pub(crate) struct Car {
    /// Its seed.
    pub seed: u64,
    /// What is wrong with it.
    pub case: Case,
    /// In words, for the list of cars.
    pub words: Vec<&'static str>,
    /// What is simulated.
    pub scenario: Scenario,
}

/// Monday, 2026-03-02, 05:00 UTC.
const START_UNIX_S: i64 = 1_772_427_600;

/// The car of a seed. With `only` its fault is that one.
pub(crate) fn car(seed: u64, weeks: u32, only: Option<Case>) -> Car {
    let case = only.unwrap_or_else(|| Case::of_seed(seed));
    let mut draw = Noise::new(seed, "bench");
    let mut words = Vec::new();
    let two_circuits = draw.chance(0.15) && case != Case::CrossLeak;
    let base = if two_circuits {
        words.push("two circuits");
        "axle-circuits"
    } else {
        "healthy-road-trip"
    };
    let mut base = builtin(base).expect("comes with the project");
    base.faults.clear();
    base.stages.clear();
    let mut scenario = base.varied(seed);
    scenario.name = format!("bench-{seed}");
    scenario.start_unix_s = START_UNIX_S;
    scenario.vehicle.name = "Car of the bench (invented)".into();
    volumes(&mut scenario, &mut draw, &mut words);
    weather(&mut scenario, case, &mut draw, &mut words);
    let habit = habit(case, &mut draw, &mut words);
    watch(&mut scenario, case, &mut draw, &mut words);
    if two_circuits && draw.chance(0.5) {
        // Held by height, and the heights are recorded.
        scenario.controller.by = By::Height;
        scenario.controller.presets = seep_sample_logs::scenario::Presets::default();
        scenario.controller.move_tolerance = 3.0;
        scenario.controller.correct_tolerance = 7.0;
        scenario.watch.heights = true;
        words.push("by height");
    }
    scenario.stages = week::stages(weeks, &habit, scenario.circuits.len(), &mut draw);
    scenario.faults = fault::faults(case, &mut scenario, &mut draw);
    scenario.check().expect("the bench makes sound scenarios");
    Car {
        seed,
        case,
        words,
        scenario,
    }
}

/// Springs and tanks from scooter-small to bus-large.
fn volumes(car: &mut Scenario, draw: &mut Noise, words: &mut Vec<&'static str>) {
    if !draw.chance(0.25) {
        return;
    }
    words.push("unusual volumes");
    let tank = libm::exp(draw.between(-0.9, 1.2));
    car.tank.volume_l *= tank;
    car.tank.stated_volume_l *= tank;
    car.tank.shell_j_k *= tank;
    // A larger spring of the same pressure carries more in proportion to its area.
    let spring = libm::exp(draw.between(-0.7, 1.1));
    for c in &mut car.circuits {
        c.volume_l *= spring * libm::exp(0.15 * draw.normal());
        c.area_cm2 *= spring.min(2.0);
        c.mass_kg *= spring.min(2.0);
        c.friction_n *= spring.min(2.0);
        c.damping_n_s_m *= spring.min(2.0);
        c.skin_j_k *= spring;
        for valve in [&mut c.fill_c, &mut c.dump_c, &mut c.line_c] {
            *valve *= spring.min(2.0);
        }
    }
    car.manifold.supply_c *= spring.clamp(1.0, 2.0);
    car.manifold.exhaust_c *= spring.clamp(1.0, 2.0);
    for c in &mut car.compressors {
        c.free_air_l_min *= tank.clamp(0.7, 1.6);
    }
}

fn weather(car: &mut Scenario, case: Case, draw: &mut Noise, words: &mut Vec<&'static str>) {
    if draw.chance(0.3) {
        words.push("15 K nights");
        car.surroundings.swing_k = draw.between(11.0, 13.0);
    }
    car.surroundings.altitude_m = draw.between(0.0, 900.0);
    if case == Case::ColdLeak {
        car.surroundings.mean_c = draw.between(2.0, 8.0);
        car.surroundings.swing_k = car.surroundings.swing_k.max(6.0);
    }
}

fn habit(case: Case, draw: &mut Noise, words: &mut Vec<&'static str>) -> Habit {
    let habit = Habit {
        airs_down: draw.chance(0.5) || case == Case::AfterDump,
        night_power: [1.0, 1.0, 0.5, 0.0][(draw.uniform() * 4.0) as usize],
        work_power: [1.0, 0.5, 0.0][(draw.uniform() * 3.0) as usize],
        loads: draw.chance(0.6),
    };
    if habit.night_power == 0.0 {
        words.push("dark nights");
    }
    if habit.airs_down {
        words.push("airs down");
    }
    habit
}

fn watch(car: &mut Scenario, case: Case, draw: &mut Noise, words: &mut Vec<&'static str>) {
    let watch = &mut car.watch;
    if watch.heights && draw.chance(0.12) {
        watch.heights = false;
        words.push("no heights");
    }
    if draw.chance(0.12) {
        watch.temperatures = false;
        words.push("no temperatures");
    }
    // Paths and compressors cannot be judged without switches: not drawn there,
    // but for healthy cars and leaks.
    if draw.chance(0.12) && (case == Case::None || case.is_leak()) && case != Case::AfterDump {
        watch.switches = false;
        words.push("no switches");
    }
    if draw.chance(0.25) {
        watch.barometer = false;
        words.push("no barometer");
    }
    watch.pressure.unit = match (draw.uniform() * 3.0) as u32 {
        0 => PressureUnit::Kpa,
        1 => PressureUnit::Bar,
        _ => {
            words.push("psi");
            PressureUnit::Psi
        }
    };
    if draw.chance(0.15) {
        watch.pressure.bits = 10;
        words.push("10 bits");
    }
    if draw.chance(0.08) && case != Case::Late {
        let line = &mut watch.box_line;
        (line.rest_s, line.run_s, line.driving_s, line.move_s) = (1.0, 1.0, 1.0, 1.0);
        line.slow_s = 10.0;
        words.push("1 Hz");
    }
}
