//! What a car does in its weeks.

use crate::class::Power;
use seep_sample_logs::rng::Noise;
use seep_sample_logs::scenario::{Action, Stage, StageKind};

/// How its owner uses it.
#[derive(Debug, Clone)]
pub(crate) struct Habit {
    /// Lowers the car whenever it is parked.
    pub airs_down: bool,
    /// Probability that all air is let out for the night.
    pub empties: f64,
    /// When the recorder has power.
    pub power: Power,
    /// Probability that it has power over a night, when it is always on.
    pub night_power: f64,
    /// People and luggage come and go.
    pub loads: bool,
    /// The second week is spent at another altitude, m.
    pub away_m: Option<f64>,
    /// Home, work and the place of free days.
    pub places: [Place; 3],
}

/// A parking place.
#[derive(Debug, Clone)]
pub(crate) struct Place {
    /// Where the nose points.
    pub heading_deg: f64,
    /// The ground under each circuit, mm.
    pub ground_mm: Vec<f64>,
}

impl Place {
    /// Ground uneven by some millimetres (common practice, no source).
    pub(crate) fn draw(circuits: usize, draw: &mut Noise) -> Place {
        let rough_mm = 12.0 * draw.uniform() * draw.uniform();
        Place {
            heading_deg: draw.between(0.0, 360.0),
            ground_mm: (0..circuits).map(|_| rough_mm * draw.normal()).collect(),
        }
    }
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

/// Weeks under way.
struct Weeks<'a> {
    habit: &'a Habit,
    circuits: usize,
    draw: &'a mut Noise,
    fuel: Fuel,
    out: Vec<Stage>,
}

/// The stages of some weeks, from Monday 05:00.
pub(crate) fn stages(weeks: u32, habit: &Habit, circuits: usize, draw: &mut Noise) -> Vec<Stage> {
    let mut weeks_of = Weeks {
        habit,
        circuits,
        draw,
        fuel: Fuel::default(),
        out: Vec::new(),
    };
    for day in 0..weeks * 7 {
        weeks_of.day(day);
    }
    let mut out = weeks_of.out;
    if habit.power == Power::Ignition {
        out = out.into_iter().flat_map(switched).collect();
    }
    out
}

const DAY_MIN: f64 = 24.0 * 60.0;

impl Weeks<'_> {
    fn day(&mut self, day: u32) {
        let before_min: f64 = self.out.iter().map(|s| s.seconds() / 60.0).sum();
        let end_min = f64::from(day + 1) * DAY_MIN;
        let morning_min = self.draw.between(30.0, 150.0);
        let night_before = self.out.last().map(|s| s.kind);
        // The night goes on until the first drive.
        let kind = night_before.unwrap_or(StageKind::Parked);
        self.out.push(Stage::new(kind, morning_min));
        let to_altitude_m = match self.habit.away_m {
            Some(away_m) if day == 7 => Some(away_m),
            _ => None,
        };
        self.drive(to_altitude_m);
        if day % 7 < 5 {
            self.work();
        } else {
            self.meeting();
        }
        self.drive(None);
        self.evening();
        let now_min: f64 = self.out.iter().map(|s| s.seconds() / 60.0).sum();
        let on = self.draw.chance(self.habit.night_power);
        let kind = if on {
            StageKind::Parked
        } else {
            StageKind::Off
        };
        debug_assert!(before_min < now_min && now_min < end_min);
        self.out.push(Stage::new(kind, end_min - now_min));
    }

    fn drive(&mut self, to_altitude_m: Option<f64>) {
        let mut stage = Stage::new(StageKind::Drive, self.draw.between(15.0, 45.0));
        // It levels within seconds of the ignition.
        stage = stage.preset(self.draw.between(0.03, 0.3), "drive");
        stage.kmh = self.draw.between(45.0, 90.0);
        stage.to_altitude_m = to_altitude_m;
        self.fuel.drive(stage.minutes);
        let heavy = if self.habit.loads && self.draw.chance(0.4) {
            50.0
        } else {
            0.0
        };
        let load_kg = (0..self.circuits)
            .map(|i| if i % 2 == 0 { 36.0 } else { 10.0 } + heavy * self.draw.uniform())
            .collect();
        stage
            .actions
            .insert(0, people(0.01, self.fuel.add_to(load_kg)));
        self.out.push(stage);
    }

    fn work(&mut self) {
        let minutes = self.draw.between(370.0, 520.0);
        self.standing(minutes, 1);
    }

    /// A day with a meeting: many moves, little driving.
    fn meeting(&mut self) {
        let minutes = self.draw.between(215.0, 320.0);
        let at = self.standing(minutes, 2);
        let mut at_min = 15.0;
        while at_min < 150.0 {
            let preset = ["low", "high"][usize::from(self.draw.chance(0.4))];
            let back_min = at_min + self.draw.between(12.0, 40.0);
            let stage = std::mem::replace(&mut self.out[at], Stage::new(StageKind::Off, 1.0));
            self.out[at] = stage.preset(at_min, preset).preset(back_min, "drive");
            at_min = back_min + self.draw.between(12.0, 60.0);
        }
    }

    fn evening(&mut self) {
        let minutes = self.draw.between(60.0, 150.0);
        let at = self.standing(minutes, 0);
        let empties = self.draw.chance(self.habit.empties);
        let moves = self.draw.chance(0.3) && self.habit.power == Power::Always;
        let preset = if self.draw.chance(0.5) { "high" } else { "low" };
        let back_min = minutes * self.draw.between(0.5, 0.9);
        let mut stage = std::mem::replace(&mut self.out[at], Stage::new(StageKind::Off, 1.0));
        if moves {
            stage = stage.preset(20.0, preset).preset(back_min, "drive");
        }
        if empties {
            stage = stage.preset(minutes - 4.0, "empty");
        } else if self.habit.airs_down && moves {
            stage = stage.preset(minutes - 4.0, "low");
        }
        self.out[at] = stage;
    }

    /// Everyone gets out at a place, and the car is lowered where that is the habit.
    fn standing(&mut self, minutes: f64, place: usize) -> usize {
        let mut stage = Stage::new(StageKind::Parked, minutes);
        let place = &self.habit.places[place];
        stage.heading_deg = Some(place.heading_deg);
        stage.ground_mm = Some(place.ground_mm.clone());
        let empty = self.fuel.add_to(vec![0.0; self.circuits]);
        stage.actions.push(people(1.0, empty));
        if self.habit.airs_down {
            stage = stage.preset(1.5, "low");
        }
        self.out.push(stage);
        self.out.len() - 1
    }
}

/// The ignition goes off soon after the last thing that is done.
const OFF_AFTER_MIN: f64 = 2.5;

fn switched(stage: Stage) -> Vec<Stage> {
    if stage.kind != StageKind::Parked {
        return vec![stage];
    }
    let last_min = stage.actions.iter().map(|a| a.at_min).fold(0.0, f64::max);
    let minutes = stage.seconds() / 60.0;
    let on_min = (last_min + OFF_AFTER_MIN).min(minutes);
    if stage.actions.is_empty() {
        return vec![Stage {
            kind: StageKind::Off,
            ..stage
        }];
    }
    let off = Stage::new(StageKind::Off, minutes - on_min);
    let on = Stage {
        minutes: on_min,
        hours: 0.0,
        ..stage
    };
    if off.minutes > 0.0 {
        vec![on, off]
    } else {
        vec![on]
    }
}

fn people(at_min: f64, load_kg: Vec<f64>) -> Action {
    Action {
        at_min,
        preset: None,
        load_kg: Some(load_kg),
    }
}
