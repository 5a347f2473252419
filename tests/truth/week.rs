//! What a car does in its weeks.

use seep_sample_logs::rng::Noise;
use seep_sample_logs::scenario::{Action, Stage, StageKind};

/// How its owner uses it.
#[derive(Debug, Clone)]
pub(crate) struct Habit {
    /// Lowers the car whenever it is parked.
    pub airs_down: bool,
    /// Probability that the recorder has power over a night.
    pub night_power: f64,
    /// The same at work.
    pub work_power: f64,
    /// People and luggage come and go.
    pub loads: bool,
}

/// Fuel on the last axle: burnt by the hour, filled up every few days.
#[derive(Debug, Default)]
struct Fuel {
    burnt_kg: f64,
    filled_kg: f64,
}

/// Fuel burnt before the owner fills up, kg.
const FILL_UP_KG: f64 = 22.0;

/// What the simulated car burns, kg/h.
const BURNS_KG_H: f64 = 4.5;

impl Fuel {
    /// A drive of some minutes; fills up before it when due.
    fn drive(&mut self, minutes: f64) {
        if self.burnt_kg - self.filled_kg > FILL_UP_KG {
            self.filled_kg = self.burnt_kg;
        }
        self.burnt_kg += minutes / 60.0 * BURNS_KG_H;
    }

    /// What was filled up, on each circuit of the last axle.
    fn add_to(&self, mut load_kg: Vec<f64>) -> Vec<f64> {
        let last = load_kg.len() / 2;
        let share = self.filled_kg / (load_kg.len() - last) as f64;
        load_kg[last..].iter_mut().for_each(|kg| *kg += share);
        load_kg
    }
}

/// The stages of some weeks, from Monday 05:00.
pub(crate) fn stages(weeks: u32, habit: &Habit, circuits: usize, draw: &mut Noise) -> Vec<Stage> {
    let mut out = Vec::new();
    let mut fuel = Fuel::default();
    for day in 0..weeks * 7 {
        let mut left_min = 24.0 * 60.0;
        let mut add = |stage: Stage| {
            left_min -= stage.seconds() / 60.0;
            out.push(stage);
        };
        add(Stage::new(StageKind::Parked, draw.between(30.0, 150.0)));
        if day % 7 < 5 {
            work_day(habit, circuits, draw, &mut fuel, &mut add);
        } else {
            free_day(habit, circuits, draw, &mut fuel, &mut add);
        }
        night(left_min, habit, draw, &mut out);
    }
    out
}

fn work_day(
    habit: &Habit,
    circuits: usize,
    draw: &mut Noise,
    fuel: &mut Fuel,
    add: &mut impl FnMut(Stage),
) {
    add(drive(habit, circuits, draw, fuel));
    add(standing(draw.between(10.0, 20.0), habit, circuits, fuel));
    let kind = if draw.chance(habit.work_power) {
        StageKind::Parked
    } else {
        StageKind::Off
    };
    add(Stage::new(kind, draw.between(360.0, 500.0)));
    add(drive(habit, circuits, draw, fuel));
    let evening = draw.between(60.0, 150.0);
    let mut stage = standing(evening, habit, circuits, fuel);
    if draw.chance(0.4) {
        stage = stage
            .preset(20.0, if draw.chance(0.5) { "high" } else { "low" })
            .preset(evening * draw.between(0.5, 0.9), "drive");
    }
    if habit.airs_down {
        stage = stage.preset(evening - 5.0, "low");
    }
    add(stage);
}

/// A day with a meeting: many moves, little driving.
fn free_day(
    habit: &Habit,
    circuits: usize,
    draw: &mut Noise,
    fuel: &mut Fuel,
    add: &mut impl FnMut(Stage),
) {
    add(drive(habit, circuits, draw, fuel));
    let mut stage = standing(draw.between(215.0, 320.0), habit, circuits, fuel);
    let mut at_min = 15.0;
    while at_min < 150.0 {
        stage = stage.preset(at_min, ["low", "high"][usize::from(draw.chance(0.4))]);
        at_min += draw.between(12.0, 40.0);
        stage = stage.preset(at_min, "drive");
        at_min += draw.between(12.0, 60.0);
    }
    add(stage);
    add(drive(habit, circuits, draw, fuel));
    let mut stage = standing(draw.between(60.0, 200.0), habit, circuits, fuel);
    if habit.airs_down {
        stage = stage.preset(20.0, "low");
    }
    add(stage);
}

fn drive(habit: &Habit, circuits: usize, draw: &mut Noise, fuel: &mut Fuel) -> Stage {
    let mut stage = Stage::new(StageKind::Drive, draw.between(15.0, 45.0)).preset(0.3, "drive");
    stage.kmh = draw.between(45.0, 90.0);
    fuel.drive(stage.minutes);
    let load = |draw: &mut Noise| -> Vec<f64> {
        let heavy = if habit.loads && draw.chance(0.4) {
            50.0
        } else {
            0.0
        };
        (0..circuits)
            .map(|i| if i % 2 == 0 { 36.0 } else { 10.0 } + heavy * draw.uniform())
            .collect()
    };
    let load_kg = fuel.add_to(load(draw));
    stage.actions.insert(0, people(0.1, load_kg));
    stage
}

/// Everyone gets out, and the car is lowered where that is the habit.
fn standing(minutes: f64, habit: &Habit, circuits: usize, fuel: &Fuel) -> Stage {
    let mut stage = Stage::new(StageKind::Parked, minutes);
    stage
        .actions
        .push(people(3.0, fuel.add_to(vec![0.0; circuits])));
    if habit.airs_down {
        stage = stage.preset(4.0, "low");
    }
    stage
}

fn night(minutes: f64, habit: &Habit, draw: &mut Noise, out: &mut Vec<Stage>) {
    let on = draw.chance(habit.night_power);
    let kind = if on {
        StageKind::Parked
    } else {
        StageKind::Off
    };
    out.push(Stage::new(kind, minutes));
}

fn people(at_min: f64, load_kg: Vec<f64>) -> Action {
    Action {
        at_min,
        preset: None,
        load_kg: Some(load_kg),
    }
}
