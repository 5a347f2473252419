//! Running a scenario: stage after stage, step after step.

mod day;
mod record;
mod step;

use crate::controller::Controller;
use crate::emit::{Bus, SerialBox, rig_toml};
use crate::scenario::{Scenario, Stage, StageKind};
use crate::truth::Truth;
use crate::world::World;
use day::Day;
use record::Recorder;

/// What a scenario leaves behind.
#[derive(Debug, Clone, PartialEq)]
pub struct Logs {
    /// Log of the bus.
    pub candump: Vec<u8>,
    /// What came over the serial line, or the table the box wrote.
    pub nmea: Vec<u8>,
    /// The rig file.
    pub rig_toml: String,
    /// What really happened.
    pub truth: Truth,
}

/// Run a scenario. The same scenario gives the same bytes on every machine.
///
/// ```
/// use seep_sample_logs::{generate, scenario::{Scenario, Stage, StageKind}};
/// let mut night = seep_sample_logs::scenario::builtin("slow-leak-overnight").unwrap();
/// night.stages = vec![Stage::new(StageKind::Parked, 240.0)];
/// let logs = generate(&night);
/// assert!(logs.nmea.starts_with(b"\\c:"));
/// assert!(seep_common::rig::Rig::parse(&logs.rig_toml).is_ok());
/// let rest = &logs.truth.rests[0];
/// assert!(rest.volumes["rear_right"].leak_anr_cm3_min > 3.0);
/// ```
#[must_use]
pub fn generate(scenario: &Scenario) -> Logs {
    let mut run = Simulation::new(scenario);
    for stage in &scenario.stages {
        run.stage(stage);
    }
    let rig_toml = rig_toml(scenario, &run.world);
    let truth = run.recorder.finish(scenario, &run.world, run.t_ms);
    Logs {
        candump: run.bus.into_log(),
        nmea: run.serial_box.into_log(),
        rig_toml,
        truth,
    }
}

/// A scenario under way. Times are ms since its start.
struct Simulation<'a> {
    scenario: &'a Scenario,
    world: World,
    controller: Controller,
    serial_box: SerialBox,
    bus: Bus,
    recorder: Recorder,
    day: Day,
    t_ms: i64,
    /// The controller sleeps from here on unless the ignition is on.
    awake_until_ms: i64,
    /// A valve was last open then.
    active_ms: i64,
    /// People and luggage each circuit is to carry, kg.
    load_kg: Vec<f64>,
    /// Load still to be put on each circuit, kg.
    loading_kg: Vec<f64>,
    due: Due,
}

/// When something is to be done next, ms.
#[derive(Debug, Clone, Copy, Default)]
struct Due {
    tick: i64,
    set: i64,
    slow: i64,
    speed: i64,
    surroundings: i64,
}

impl<'a> Simulation<'a> {
    fn new(scenario: &'a Scenario) -> Self {
        let world = World::new(scenario);
        Simulation {
            controller: Controller::new(scenario, &world),
            serial_box: SerialBox::new(scenario, scenario.start_unix_s * 1000),
            bus: Bus::new(scenario),
            recorder: Recorder::new(scenario, &world),
            day: Day::default(),
            t_ms: 0,
            awake_until_ms: 0,
            active_ms: i64::MIN / 2,
            load_kg: vec![0.0; world.corners.len()],
            loading_kg: vec![0.0; world.corners.len()],
            due: Due::default(),
            scenario,
            world,
        }
    }

    fn unix_ms(&self) -> i64 {
        self.scenario.start_unix_s * 1000 + self.t_ms
    }

    fn driving(&self) -> bool {
        self.day.kind == StageKind::Drive
    }

    fn awake(&self) -> bool {
        self.driving() || (self.day.kind == StageKind::Parked && self.t_ms < self.awake_until_ms)
    }

    fn stage(&mut self, stage: &Stage) {
        let length_ms = (stage.seconds() * 1000.0) as i64;
        let was_off = self.day.kind == StageKind::Off;
        self.day = Day::new(stage, self.t_ms, length_ms, self.world.weather.altitude_m);
        self.world.road.stand();
        self.place(stage);
        let now = self.t_ms;
        self.due = Due {
            tick: now,
            set: now,
            slow: now,
            speed: now + 137,
            surroundings: now + 411,
        };
        match stage.kind {
            StageKind::Off => self.fall_asleep(),
            StageKind::Drive => self.wake(was_off),
            StageKind::Parked => {}
        }
        self.recorder.stage(&self.world, now, stage.kind);
        let end_ms = now + length_ms;
        while self.t_ms < end_ms {
            let dt_ms = self.next_step_ms(end_ms);
            self.advance(dt_ms);
        }
        if stage.kind == StageKind::Drive {
            self.stay_awake();
        }
    }

    /// Where it stands from now on: heading and ground.
    fn place(&mut self, stage: &Stage) {
        if let Some(heading_deg) = stage.heading_deg {
            self.world.heading_deg = heading_deg;
        }
        for (corner, mm) in self
            .world
            .corners
            .iter_mut()
            .zip(stage.ground_mm.iter().flatten())
        {
            corner.ground_m = mm / 1000.0;
        }
    }

    fn stay_awake(&mut self) {
        let awake_ms = (self.scenario.controller.awake_s * 1000.0) as i64;
        self.awake_until_ms = self.awake_until_ms.max(self.t_ms + awake_ms);
    }

    fn wake(&mut self, was_asleep: bool) {
        if was_asleep || self.t_ms >= self.awake_until_ms {
            self.controller.wake();
        }
        self.due.tick = self.t_ms;
    }

    fn fall_asleep(&mut self) {
        self.awake_until_ms = self.t_ms;
        self.controller.sleep(&mut self.world);
    }
}
