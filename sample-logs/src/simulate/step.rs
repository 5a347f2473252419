//! One step: how long it may be, and what is done after it.

use super::Simulation;
use crate::controller::Preset;
use crate::scenario::{Action, StageKind};

/// Steps while a valve is open, right after, and so on, ms.
const OPEN_MS: i64 = 5;
const JUST_SHUT_MS: i64 = 10;
const SETTLING_MS: i64 = 50;
const WARMING_MS: i64 = 250;
const ROAD_MS: i64 = 100;
const REST_MS: i64 = 5_000;

/// From here on the scenario says how long a step may be.
const LONG_REST_MS: i64 = 1_800_000;

/// The box keeps its fast rate this long after a valve, ms.
const FAST_AFTER_MS: i64 = 5_000;

/// While driving or pumping the slow channels are sent at least this often, s.
const OFTEN_SLOW_S: f64 = 20.0;

/// People and luggage come on or off at this rate, kg/s.
const LOADING_KG_S: f64 = 20.0;

fn ms(seconds: f64) -> i64 {
    (seconds * 1000.0).round() as i64
}

impl Simulation<'_> {
    /// Length of the next step, ms.
    pub(super) fn next_step_ms(&self, end_ms: i64) -> i64 {
        let mut until = end_ms;
        let mut not_after = |due_ms: i64| until = until.min(due_ms);
        if self.awake() {
            not_after(self.due.tick);
        }
        if self.day.kind != StageKind::Off {
            not_after(self.due.set);
            not_after(self.due.slow);
        }
        if self.driving() {
            if self.scenario.watch.speed {
                not_after(self.due.speed);
            }
            if self.scenario.watch.barometer {
                not_after(self.due.surroundings);
            }
        }
        if let Some(action_ms) = self.day.next_action_ms() {
            not_after(action_ms);
        }
        (until - self.t_ms).clamp(1, self.longest_step_ms())
    }

    fn longest_step_ms(&self) -> i64 {
        let quiet_ms = self.t_ms - self.active_ms;
        let loading = self.loading_kg.iter().any(|kg| kg.abs() > 0.0);
        if !self.world.all_shut() {
            OPEN_MS
        } else if quiet_ms < 1_000 {
            JUST_SHUT_MS
        } else if quiet_ms < 10_000 || loading {
            SETTLING_MS
        } else if self.driving() {
            ROAD_MS
        } else if quiet_ms < 300_000 || self.world.pumping() {
            WARMING_MS
        } else if quiet_ms < LONG_REST_MS {
            REST_MS
        } else {
            REST_MS.max(ms(self.scenario.rest_step_s))
        }
    }

    /// Let the time pass and do what is due.
    pub(super) fn advance(&mut self, dt_ms: i64) {
        let dt_s = dt_ms as f64 / 1000.0;
        self.load(dt_s);
        self.world.step(self.day.drive(self.t_ms), dt_s);
        self.t_ms += dt_ms;
        // Integer time is the master; the sum of many steps would drift.
        self.world.t_s = self.t_ms as f64 / 1000.0;
        while let Some(action) = self.day.due_action(self.t_ms) {
            self.act(&action);
        }
        self.control();
        if !self.world.all_shut() {
            self.active_ms = self.t_ms;
        }
        self.recorder.watch(&self.world, self.t_ms, self.driving());
        if self.day.kind != StageKind::Off {
            self.send();
        }
    }

    fn act(&mut self, action: &Action) {
        if let Some(load_kg) = &action.load_kg {
            for (i, kg) in load_kg.iter().enumerate() {
                self.loading_kg[i] += kg - self.load_kg[i];
            }
            self.load_kg.clone_from(load_kg);
        }
        let called = action.preset.as_deref().and_then(Preset::parse);
        if let Some(preset) = called
            && self.day.kind != StageKind::Off
        {
            let slept = !self.awake();
            self.stay_awake();
            if slept {
                self.wake(true);
            }
            self.controller.call(preset, self.world.t_s);
        }
    }

    fn load(&mut self, dt_s: f64) {
        for (left, corner) in self.loading_kg.iter_mut().zip(&mut self.world.corners) {
            if *left != 0.0 {
                let most = LOADING_KG_S * dt_s;
                let kg = left.clamp(-most, most);
                corner.extra_kg += kg;
                *left -= kg;
            }
        }
    }

    fn control(&mut self) {
        if !self.awake() {
            let driven = |c: &crate::world::Corner| c.fill.driven || c.dump.driven;
            let busy = self.world.corners.iter().any(driven);
            if busy || self.world.compressors.iter().any(|c| c.wanted) {
                self.controller.sleep(&mut self.world);
            }
            return;
        }
        // A refill under way is finished before it goes to sleep.
        if self.world.compressors.iter().any(|c| c.wanted) && !self.driving() {
            self.awake_until_ms = self.awake_until_ms.max(self.t_ms + 10_000);
        }
        if self.t_ms >= self.due.tick {
            let driving = self.driving();
            self.controller.tick(&mut self.world, driving);
            self.due.tick = self.t_ms + ms(self.controller.next_tick_s());
        }
    }

    fn send(&mut self) {
        let (now, unix_ms) = (self.t_ms, self.unix_ms());
        let line = &self.scenario.watch.box_line;
        let fast = now - self.active_ms < FAST_AFTER_MS
            || (self.awake() && self.controller.expects_move(self.world.t_s));
        if self.serial_box.send_changes(&self.world, unix_ms) {
            self.due.set = now;
        }
        let every_ms = ms(if fast {
            line.move_s
        } else if self.driving() {
            line.driving_s
        } else if self.world.pumping() {
            line.run_s
        } else {
            line.rest_s
        });
        self.due.set = self.due.set.min(now + every_ms);
        if now >= self.due.set {
            self.serial_box.send_set(&self.world, unix_ms);
            self.due.set = now + every_ms;
        }
        let often = self.driving() || self.world.pumping();
        let slow_s = if often {
            line.slow_s.min(OFTEN_SLOW_S)
        } else {
            line.slow_s
        };
        self.due.slow = self.due.slow.min(now + ms(slow_s));
        if now >= self.due.slow {
            self.serial_box.send_slow(&self.world, unix_ms);
            self.due.slow = now + ms(slow_s);
        }
        if self.driving() {
            self.send_on_bus(now, unix_ms);
        }
    }

    fn send_on_bus(&mut self, now: i64, unix_ms: i64) {
        if now >= self.due.speed && self.scenario.watch.speed {
            self.bus.send_speed(&self.world, unix_ms);
            self.due.speed = now + ms(self.scenario.watch.bus.speed_s);
        }
        if now >= self.due.surroundings && self.scenario.watch.barometer {
            self.bus.send_surroundings(&self.world, unix_ms);
            self.due.surroundings = now + ms(self.scenario.watch.bus.ambient_s);
        }
    }
}
