//! The car under way.

use super::air::{Air, anr_l, mass_flow};
use super::log::{Log, Reading};
use super::{Bench, Corner, Lifted, Truth};
use seep_sample_logs::rng::Noise;

/// Step of the simulation, s.
const DT_S: f64 = 0.002;

/// Its damper, N·s/m.
const DAMPER: f64 = 2_600.0;

/// Compressor: free air, ANR L/s, and the gauge pressures that start and stop it, Pa.
const DELIVERS: f64 = 0.9;
const SWITCH_PA: (f64, f64) = (900e3, 1_100e3);

/// Heat of the tank goes with this time constant, s.
const TANK_HEAT_S: f64 = 40.0;

/// Between two pulses the controller waits this long, s.
const PAUSE_S: f64 = 1.5;

/// It closes this much before the target, mm.
const AHEAD_MM: f64 = 1.0;

struct Now {
    air: Air,
    /// Air in the line, where there is one.
    line: Option<Air>,
    height_m: f64,
    target_mm: Option<f64>,
    /// Path of the move under way, and since when its coil is on.
    pulse: Option<(usize, f64)>,
    wait_until_s: f64,
    openings: [usize; 2],
    moves: [usize; 2],
    stuck_until_s: f64,
}

/// Simulate a bench and write down what its sensors say.
#[must_use]
pub fn lifted(bench: &Bench) -> Lifted {
    let mut run = Run::new(bench);
    let settle_s = 90.0;
    let end_s = settle_s + bench.round_s * 2.0 * bench.moves as f64 + 120.0;
    let steps = (end_s / DT_S) as u64;
    for step in 0..steps {
        run.step(step as f64 * DT_S, settle_s);
    }
    run.log.finish(bench, run.truth)
}

struct Run<'a> {
    bench: &'a Bench,
    corners: Vec<(Corner, Now)>,
    tank: Air,
    running: bool,
    truth: Truth,
    targets: Noise,
    log: Log,
    round: usize,
}

impl<'a> Run<'a> {
    fn new(bench: &'a Bench) -> Self {
        let (pa, kelvin) = bench.outside;
        let n = bench.corners.len();
        let mut truth = Truth {
            filled_l: vec![0.0; n],
            vented_l: vec![0.0; n],
            leaked_l: vec![0.0; n + 1],
            ..Truth::default()
        };
        for c in &bench.corners {
            for (path, word) in ["fill", "dump"].into_iter().enumerate() {
                let name = format!("{} {word}", c.name);
                truth.conductance.insert(name.clone(), c.c[path]);
                truth.stuck.insert(name, 0);
            }
        }
        let now = |c: &Corner| Now {
            air: Air::at(c.load_n / c.area_m2 + pa, c.spring_m3(0.0), kelvin),
            line: c
                .line
                .map(|l| Air::at(c.load_n / c.area_m2 + pa, l.m3, kelvin)),
            height_m: 0.0,
            target_mm: None,
            pulse: None,
            wait_until_s: 0.0,
            openings: [0; 2],
            moves: [0; 2],
            stuck_until_s: 0.0,
        };
        Run {
            corners: bench.corners.iter().map(|c| (c.clone(), now(c))).collect(),
            tank: Air::at(1_050e3 + pa, bench.tank_m3, kelvin),
            running: false,
            truth,
            targets: Noise::new(bench.seed, "targets"),
            log: Log::new(bench),
            round: 0,
            bench,
        }
    }

    fn step(&mut self, t_s: f64, settle_s: f64) {
        let n = self.corners.len();
        // Corners move one after the other, spread over the round.
        let place_s = self.bench.round_s / n as f64;
        let due = ((t_s - settle_s) / place_s).floor();
        if due >= 0.0 && due as usize >= self.round && self.round < 2 * self.bench.moves * n {
            self.begin_move(self.round % n, t_s);
            self.round += 1;
        }
        for i in 0..n {
            self.control(i, t_s);
            self.pass(i, t_s);
            self.corners[i].settle(self.bench);
        }
        self.supply();
        self.leak();
        self.record(t_s);
    }

    fn record(&mut self, t_s: f64) {
        let busy = self.corners.iter().any(|(_, now)| now.target_mm.is_some());
        if !self.log.is_due(t_s, busy) {
            return;
        }
        let reading = |(c, now): &(Corner, Now)| Reading {
            pa: now.read_pa(c),
            mm: 1000.0 * now.height_m,
            coils: [0, 1].map(|p| c.valves[p].driven()),
        };
        let readings: Vec<Reading> = self.corners.iter().map(reading).collect();
        self.log.row(t_s, self.tank.pa(), self.running, &readings);
    }

    fn begin_move(&mut self, i: usize, t_s: f64) {
        let turn = self.round / self.corners.len();
        if i == 0 && turn > 0 {
            self.log.stand(self.bench.apart_s);
        }
        let given = &self.bench.targets_mm;
        let target = if given.is_empty() {
            let up = turn.is_multiple_of(2);
            let d = &mut self.targets;
            if up {
                d.between(10.0, 35.0)
            } else {
                d.between(-30.0, -5.0)
            }
        } else {
            given[turn % given.len()]
        };
        let (c, now) = &mut self.corners[i];
        now.target_mm = Some(target);
        now.wait_until_s = t_s + 1.0;
        let path = usize::from(target < 1000.0 * now.height_m);
        now.moves[path] += 1;
        if let Some(line) = &mut c.line
            && let Some((from, left)) = line.kinks
            && now.moves[0] > from
        {
            line.c = left;
        }
        if let Some((from, later_s)) = self.bench.corners[i].late {
            for (p, later_s) in later_s.into_iter().enumerate() {
                if now.moves[p] > from {
                    let sound_s = self.bench.corners[i].valves[p].opens_after_s;
                    c.valves[p].opens_after_s = sound_s + later_s;
                }
            }
        }
        if let Some((from, left)) = self.bench.corners[i].narrows {
            for (p, left) in left.into_iter().enumerate() {
                if now.moves[p] > from {
                    c.c[p] = self.bench.corners[i].c[p] * left;
                }
            }
        }
    }

    fn control(&mut self, i: usize, t_s: f64) {
        let (c, now) = &mut self.corners[i];
        let Some(target) = now.target_mm else { return };
        let left = target - 1000.0 * now.height_m;
        match now.pulse {
            Some((path, since_s)) => {
                let arrived = if path == 0 {
                    left < AHEAD_MM
                } else {
                    left > -AHEAD_MM
                };
                if arrived || t_s - since_s >= self.bench.longest_s {
                    c.valves[path].drive(t_s, false);
                    now.pulse = None;
                    now.wait_until_s = t_s + PAUSE_S;
                }
            }
            None if t_s < now.wait_until_s => {}
            None if left.abs() < 2.5 => {
                // The readings stay dense for some seconds.
                if t_s > now.wait_until_s + 3.0 {
                    now.target_mm = None;
                }
            }
            None => {
                let path = usize::from(left < 0.0);
                c.valves[path].drive(t_s, true);
                now.pulse = Some((path, t_s));
                now.openings[path] += 1;
                if let Some((every, for_s)) = c.sticks[path]
                    && now.openings[path] % every == 0
                {
                    now.stuck_until_s = t_s + for_s;
                    let word = ["fill", "dump"][path];
                    *self
                        .truth
                        .stuck
                        .entry(format!("{} {word}", c.name))
                        .or_default() += 1;
                }
            }
        }
    }

    fn pass(&mut self, i: usize, t_s: f64) {
        let outside_pa = self.bench.outside.0;
        let (c, now) = &mut self.corners[i];
        for path in 0..2 {
            let passes = c.valves[path].passes(t_s);
            if !passes || t_s < now.stuck_until_s {
                continue;
            }
            let end = now.line.as_mut().unwrap_or(&mut now.air);
            let volume = end.m3;
            if path == 0 {
                let kg = DT_S * mass_flow(c.c[0], c.b[0], &self.tank, end.pa());
                end.step(kg, self.tank.kelvin, volume, 0.0);
                let own = self.tank.m3;
                self.tank.step(-kg, 0.0, own, 0.0);
                self.truth.filled_l[i] += anr_l(kg);
            } else {
                let kg = DT_S * mass_flow(c.c[1], c.b[1], end, outside_pa);
                end.step(-kg, 0.0, volume, 0.0);
                self.truth.vented_l[i] += anr_l(kg);
            }
        }
        now.pass_line(c);
    }

    fn supply(&mut self) {
        let (pa, kelvin) = self.bench.outside;
        let gauge = self.tank.pa() - pa;
        if gauge < SWITCH_PA.0 {
            self.running = true;
        } else if gauge > SWITCH_PA.1 {
            self.running = false;
        }
        let kg = if self.running {
            DELIVERS * DT_S / anr_l(1.0)
        } else {
            0.0
        };
        self.truth.delivered_l += anr_l(kg);
        let heat = (kelvin - self.tank.kelvin) * self.tank.capacity() * DT_S / TANK_HEAT_S;
        let volume = self.tank.m3;
        self.tank.step(kg, kelvin + 60.0, volume, heat);
    }

    fn leak(&mut self) {
        for (k, c) in self.bench.leaks.iter().enumerate() {
            let air = match k {
                0 => &mut self.tank,
                _ => &mut self.corners[k - 1].1.air,
            };
            let kg = DT_S * mass_flow(*c, 0.3, air, self.bench.outside.0);
            let volume = air.m3;
            air.step(-kg, 0.0, volume, 0.0);
            self.truth.leaked_l[k] += anr_l(kg);
        }
    }
}

trait Settle {
    fn settle(&mut self, bench: &Bench);
}

impl Settle for (Corner, Now) {
    /// Height by force, damper and friction; heat to the wall.
    fn settle(&mut self, bench: &Bench) {
        let (c, now) = self;
        let lift = (now.air.pa() - bench.outside.0) * c.area_m2;
        let load = c.load_n + c.stiffness_n_m * now.height_m;
        let force = lift - load;
        let net = force.signum() * (force.abs() - c.friction_n).max(0.0);
        now.height_m += net / DAMPER * DT_S;
        let warms = |air: &Air| (bench.outside.1 - air.kelvin) * air.capacity() * DT_S / c.heat_s;
        let heat = warms(&now.air);
        now.air.step(0.0, 0.0, c.spring_m3(now.height_m), heat);
        if let Some(line) = &mut now.line {
            let (heat, volume) = (warms(line), line.m3);
            line.step(0.0, 0.0, volume, heat);
        }
    }
}

impl Corner {
    /// Volume of the spring without its line, m³.
    fn spring_m3(&self, height_m: f64) -> f64 {
        let line_m3 = self.line.map_or(0.0, |l| l.m3);
        self.volume_m3 - line_m3 + self.area_m2 * height_m
    }
}

impl Now {
    /// Pressure where the sensor sits, Pa.
    fn read_pa(&self, c: &Corner) -> f64 {
        match (&self.line, c.line) {
            (Some(air), Some(line)) if line.sensor_at_manifold => air.pa(),
            _ => self.air.pa(),
        }
    }

    /// Air through the line, in steps short enough for its small volume.
    fn pass_line(&mut self, c: &Corner) {
        const STEPS: u32 = 8;
        let (Some(line), Some(given)) = (&mut self.line, c.line) else {
            return;
        };
        for _ in 0..STEPS {
            let flows = |up: &Air, down: &Air| {
                let kg = DT_S / f64::from(STEPS) * mass_flow(given.c, given.b, up, down.pa());
                // Never beyond equal pressures.
                kg.min(0.25 * line_share(up, down))
            };
            let (line_m3, own_m3) = (line.m3, self.air.m3);
            if line.pa() > self.air.pa() {
                let kg = flows(line, &self.air);
                self.air.step(kg, line.kelvin, own_m3, 0.0);
                line.step(-kg, 0.0, line_m3, 0.0);
            } else {
                let kg = flows(&self.air, line);
                line.step(kg, self.air.kelvin, line_m3, 0.0);
                self.air.step(-kg, 0.0, own_m3, 0.0);
            }
        }
    }
}

/// Mass that would bring the smaller of two volumes to the pressure of the other, kg.
fn line_share(up: &Air, down: &Air) -> f64 {
    let small = if up.m3 < down.m3 { up } else { down };
    small.kg * (up.pa() / down.pa() - 1.0).abs()
}
