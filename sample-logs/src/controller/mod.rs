//! The controller: brings the circuits to a preset, corrects drift, refills the tank.

mod measure;
mod task;

pub(crate) use measure::Measured;
pub(crate) use task::Task;

use crate::rng::Noise;
use crate::scenario::{self, By, Scenario};
use crate::world::World;

/// What a controller can be asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Preset {
    /// To get in, or for the show.
    Low,
    /// For the road.
    Drive,
    /// Over rough ground.
    High,
    /// All air out.
    Empty,
}

impl Preset {
    /// From the word a scenario uses.
    #[must_use]
    pub(crate) fn parse(word: &str) -> Option<Self> {
        match word {
            "low" => Some(Preset::Low),
            "drive" => Some(Preset::Drive),
            "high" => Some(Preset::High),
            "empty" => Some(Preset::Empty),
            _ => None,
        }
    }
}

/// Below any height, mm, and any pressure, kPa gauge, that a circuit reaches.
const EMPTY: f64 = -500.0;

/// The controller's mind.
#[derive(Debug, Clone)]
pub(crate) struct Controller {
    settings: scenario::ControllerSettings,
    first_axle: Vec<bool>,
    targets: Vec<f64>,
    tasks: Vec<Task>,
    measured: Vec<Measured>,
    noise: Noise,
    noise_sizes: (f64, f64),
    refilling: bool,
    refill_since_s: f64,
}

/// While something moves it looks this often, s.
const BUSY_TICK_S: f64 = 0.02;

/// Otherwise this often, s.
const IDLE_TICK_S: f64 = 0.5;

/// Least head of the tank over a circuit to begin a fill, Pa.
const LEAST_HEAD_PA: f64 = 80e3;

impl Controller {
    /// A controller that holds the drive preset.
    #[must_use]
    pub(crate) fn new(scenario: &Scenario, world: &World) -> Self {
        let first = scenario.circuits.first().map(|c| c.axle.clone());
        let mut controller = Controller {
            settings: scenario.controller.clone(),
            first_axle: scenario
                .circuits
                .iter()
                .map(|c| Some(&c.axle) == first.as_ref())
                .collect(),
            targets: Vec::new(),
            tasks: vec![Task::default(); world.corners.len()],
            measured: vec![Measured::default(); world.corners.len()],
            noise: Noise::new(scenario.seed, "controller"),
            noise_sizes: (
                scenario.watch.height.noise_mm,
                scenario.watch.pressure.noise_kpa,
            ),
            refilling: false,
            refill_since_s: 0.0,
        };
        controller.targets = controller.targets_of(Preset::Drive);
        controller
    }

    fn targets_of(&self, preset: Preset) -> Vec<f64> {
        let presets = &self.settings.presets;
        let [first, other] = match preset {
            Preset::Low => presets.low,
            Preset::Drive => presets.drive,
            Preset::High => presets.high,
            Preset::Empty => [EMPTY; 2],
        };
        let target = |&on_first: &bool| if on_first { first } else { other };
        self.first_axle.iter().map(target).collect()
    }

    /// Someone asks for a preset.
    pub(crate) fn call(&mut self, preset: Preset, t_s: f64) {
        self.targets = self.targets_of(preset);
        for task in &mut self.tasks {
            task.begin(t_s);
        }
    }

    /// Time until it wants to look again, s.
    #[must_use]
    pub(crate) fn next_tick_s(&self) -> f64 {
        if self.tasks.iter().any(Task::busy) {
            BUSY_TICK_S
        } else {
            IDLE_TICK_S
        }
    }

    /// A valve may open within moments; the box is told, and samples fast.
    #[must_use]
    pub(crate) fn expects_move(&self, t_s: f64) -> bool {
        self.tasks.iter().any(|task| task.expects_move(t_s))
    }

    /// It just woke: what it measured before is stale.
    pub(crate) fn wake(&mut self) {
        self.measured.fill(Measured::default());
    }

    /// Power is cut or it goes to sleep: everything it drives falls shut.
    pub(crate) fn sleep(&mut self, world: &mut World) {
        self.refilling = false;
        self.tasks.fill(Task::default());
        for corner in &mut world.corners {
            corner.fill.drive(false);
            corner.dump.drive(false);
        }
        for compressor in &mut world.compressors {
            compressor.wanted = false;
        }
    }

    /// Look, think, drive the coils.
    pub(crate) fn tick(&mut self, world: &mut World, driving: bool) {
        let t_s = world.t_s;
        let head_pa = world.tank.pa() - LEAST_HEAD_PA;
        for i in 0..self.tasks.len() {
            let value = self.read(world, i);
            self.measured[i].take(value, t_s, driving);
            let settings = &self.settings;
            let task = &mut self.tasks[i];
            if driving {
                task.watch(self.targets[i] - self.measured[i].slow, settings, t_s);
            }
            let corner = &mut world.corners[i];
            let may_fill = head_pa > corner.pa();
            task.tick(self.targets[i], &self.measured[i], settings, may_fill, t_s);
            corner.fill.drive(task.filling());
            corner.dump.drive(task.dumping());
        }
        self.refill(world);
    }

    fn read(&mut self, world: &World, i: usize) -> f64 {
        let noise = self.noise.normal();
        match self.settings.by {
            By::Height => world.height_mm(i) + self.noise_sizes.0 * noise,
            By::Pressure => world.corner_kpa_gauge(i) + self.noise_sizes.1 * noise,
        }
    }

    fn refill(&mut self, world: &mut World) {
        let kpa = (world.tank.pa() - world.weather.pa) / 1000.0
            + self.noise_sizes.1 * self.noise.normal();
        let t_s = world.t_s;
        let at_work = |task: &Task| task.filling() || task.dumping() || task.expects_move(t_s);
        let must_wait = !self.settings.refill_while_moving && self.tasks.iter().any(at_work);
        if kpa < self.settings.cut_in_kpa_gauge && !self.refilling && !must_wait {
            self.refilling = true;
            self.refill_since_s = world.t_s;
        } else if kpa >= self.settings.cut_out_kpa_gauge {
            self.refilling = false;
        }
        for (i, compressor) in world.compressors.iter_mut().enumerate() {
            let after_s = i as f64 * self.settings.second_after_s;
            compressor.wanted = self.refilling && world.t_s >= self.refill_since_s + after_s;
        }
    }
}
