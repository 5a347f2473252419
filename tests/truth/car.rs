//! A car of the bench: its own dimensions, sensors, owner and disturbances.

use crate::case::Case;
use crate::class::{Class, Thermometers};
use crate::fault;
use crate::week::{self, Habit, Place};
use seep_sample_logs::rng::Noise;
use seep_sample_logs::scenario::{By, Nuisance, Presets, PressureUnit, Scenario, builtin};

/// What a car of the bench is like.
#[derive(Debug, Clone)]
pub(crate) struct Car {
    /// Its seed.
    pub seed: u64,
    /// What is wrong with it.
    pub case: Case,
    /// What is recorded of it.
    pub class: Class,
    /// In words, for the list of cars.
    pub words: Vec<&'static str>,
    /// What is simulated.
    pub scenario: Scenario,
}

/// Monday, 2026-03-02, 05:00 UTC.
const START_UNIX_S: i64 = 1_772_427_600;

/// The car of a seed, sound.
pub(crate) fn healthy(seed: u64, weeks: u32, class: Class, without: &[Nuisance]) -> Car {
    let mut draw = Noise::new(seed, "bench");
    let mut words = Vec::new();
    let two_circuits = draw.chance(0.1);
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
    // Any time of the year.
    scenario.start_unix_s = START_UNIX_S + 7 * 86_400 * (52.0 * draw.uniform()) as i64;
    scenario.vehicle.name = "Car of the bench (invented)".into();
    scenario.rest_step_s = 15.0;
    volumes(&mut scenario, &mut draw, &mut words);
    scenario.disturb();
    weather(&mut scenario, &mut draw, &mut words);
    let habit = habit(&scenario, class, &mut draw, &mut words);
    control(&mut scenario, class, &mut draw, &mut words);
    watch(&mut scenario, class, &mut draw, &mut words);
    scenario.stages = week::stages(weeks, &habit, scenario.circuits.len(), &mut draw);
    without.iter().for_each(|n| scenario.leave_out(*n));
    scenario.check().expect("the bench makes sound scenarios");
    Car {
        seed,
        case: Case::None,
        class,
        words,
        scenario,
    }
}

/// The same car with a fault.
pub(crate) fn with_fault(healthy: &Car, case: Case) -> Car {
    let mut car = healthy.clone();
    car.case = case;
    let mut draw = Noise::new(car.seed, "fault");
    // A cross leak needs a partner, and slow paths their switches.
    if !(case.is_leak() || case == Case::WhileDriving) {
        car.scenario.watch.switches = true;
    }
    car.scenario.faults = fault::faults(case, &mut car.scenario, &mut draw);
    car.scenario
        .check()
        .expect("the bench makes sound scenarios");
    car
}

/// The fault a seed's car gets.
pub(crate) fn case_of(seed: u64, circuits: usize) -> Case {
    match Case::of_seed(seed) {
        Case::CrossLeak | Case::TwoLeaks if circuits < 4 => Case::CornerLeak,
        case => case,
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

fn weather(car: &mut Scenario, draw: &mut Noise, words: &mut Vec<&'static str>) {
    if draw.chance(0.3) {
        words.push("15 K nights");
        car.surroundings.swing_k = draw.between(11.0, 13.0);
    }
    car.surroundings.altitude_m = draw.between(0.0, 900.0);
}

fn habit(car: &Scenario, class: Class, draw: &mut Noise, words: &mut Vec<&'static str>) -> Habit {
    let circuits = car.circuits.len();
    let habit = Habit {
        airs_down: draw.chance(0.3),
        empties: if draw.chance(0.2) { 0.3 } else { 0.0 },
        power: class.power,
        night_power: [1.0, 1.0, 1.0, 0.7][(draw.uniform() * 4.0) as usize],
        loads: draw.chance(0.6),
        away_m: draw.chance(0.12).then(|| draw.between(0.0, 2_000.0)),
        places: std::array::from_fn(|_| Place::draw(circuits, draw)),
    };
    if habit.airs_down {
        words.push("airs down");
    }
    if habit.empties > 0.0 {
        words.push("airs out");
    }
    if habit.away_m.is_some() {
        words.push("moves to another altitude");
    }
    habit
}

/// By height where heights are recorded, mostly; else by pressure, mostly.
fn control(car: &mut Scenario, class: Class, draw: &mut Noise, words: &mut Vec<&'static str>) {
    let by_height = draw.chance(if class.heights { 0.85 } else { 0.4 });
    let k = &mut car.controller;
    if by_height {
        k.by = By::Height;
        k.presets = Presets::default();
        (k.move_tolerance, k.correct_tolerance) = (3.0, 7.0);
        return;
    }
    words.push("by pressure");
    k.by = By::Pressure;
    let kpa = |axle: usize| {
        let step = car.circuits.len() / 2;
        let c = &car.circuits[axle * step];
        c.mass_kg * 9.81 / (c.area_cm2 * 1e-4) / 1000.0
    };
    let drive = [kpa(0), kpa(1)];
    k.presets = Presets {
        low: drive.map(|p| 0.8 * p),
        drive,
        high: drive.map(|p| 1.06 * p),
    };
    (k.move_tolerance, k.correct_tolerance) = (12.0, 40.0);
}

fn watch(car: &mut Scenario, class: Class, draw: &mut Noise, words: &mut Vec<&'static str>) {
    let watch = &mut car.watch;
    watch.heights = class.heights;
    watch.temperatures = class.thermometers != Thermometers::None;
    watch.tank_temperature = class.thermometers == Thermometers::Own;
    watch.bag_temperatures = class.thermometers == Thermometers::Own;
    watch.switches = !draw.chance(if class.heights { 0.12 } else { 0.4 });
    watch.barometer = draw.chance(if class.heights { 0.75 } else { 0.4 });
    watch.speed = draw.chance(if class.heights { 0.9 } else { 0.5 });
    if !watch.switches {
        words.push("no switches");
    }
    if !watch.barometer {
        words.push("no barometer");
    }
    if !watch.speed {
        words.push("no speed");
    }
    watch.pressure.unit = match (draw.uniform() * 3.0) as u32 {
        0 => PressureUnit::Kpa,
        1 => PressureUnit::Bar,
        _ => PressureUnit::Psi,
    };
    let line = &mut watch.box_line;
    line.rest_s = [30.0, 60.0, 60.0][(draw.uniform() * 3.0) as usize];
    if draw.chance(0.2) {
        watch.pressure.bits = 10;
        words.push("10 bits");
    }
    if draw.chance(0.15) {
        line.table = true;
        words.push("table");
    }
    if draw.chance(0.06) {
        (line.rest_s, line.run_s, line.driving_s, line.move_s) = (1.0, 1.0, 1.0, 1.0);
        line.slow_s = 10.0;
        words.push("1 Hz");
    }
}
