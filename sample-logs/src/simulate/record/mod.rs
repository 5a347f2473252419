//! Watching the world while it runs, to write down what really happened.

mod finish;
mod moves;
mod rests;
mod runs;

use crate::scenario::{Scenario, StageKind};
use crate::truth::{Amounts, CircuitParameters, CompressorRun, Move, Parameters, RestStretch};
use crate::world::{Place, Restriction, SI_PER_L_S_BAR, World, anr_litres};
use std::collections::BTreeMap;

/// Round for a file: what is cut off is far below what any sensor sees.
pub(super) fn rounded(value: f64, decimals: i32) -> f64 {
    let scale = (0..decimals).fold(1.0, |s, _| s * 10.0);
    (value * scale).round() / scale
}

/// Collects the truth.
#[derive(Debug)]
pub(super) struct Recorder {
    start_unix_ms: i64,
    names: Vec<String>,
    compressors: Vec<String>,
    parameters: Parameters,
    open: Vec<[Option<moves::Opening>; 2]>,
    moves: Vec<Move>,
    running: Vec<Option<runs::Running>>,
    runs: Vec<CompressorRun>,
    rest: Option<rests::Snapshot>,
    rests: Vec<RestStretch>,
    cut_out_kpa_gauge: f64,
    stages: Vec<(i64, StageKind)>,
    amounts: Vec<Amounts>,
    leaked: Vec<Amounts>,
    off_ms: i64,
    last_ms: i64,
}

impl Recorder {
    pub(super) fn new(scenario: &Scenario, world: &World) -> Self {
        let names: Vec<String> = scenario.circuits.iter().map(|c| c.name.clone()).collect();
        Recorder {
            start_unix_ms: scenario.start_unix_s * 1000,
            parameters: parameters(scenario, world),
            open: names.iter().map(|_| [None, None]).collect(),
            names,
            compressors: scenario
                .compressors
                .iter()
                .map(|c| c.name.clone())
                .collect(),
            moves: Vec::new(),
            running: scenario.compressors.iter().map(|_| None).collect(),
            runs: Vec::new(),
            rest: None,
            rests: Vec::new(),
            cut_out_kpa_gauge: scenario.controller.cut_out_kpa_gauge,
            stages: Vec::new(),
            amounts: Vec::new(),
            leaked: Vec::new(),
            off_ms: 0,
            last_ms: 0,
        }
    }

    /// A stage begins.
    pub(super) fn stage(&mut self, world: &World, t_ms: i64, kind: StageKind) {
        self.stages.push((t_ms, kind));
        self.note_amounts(world, t_ms);
        self.watch(world, t_ms, kind == StageKind::Drive);
    }

    /// A step has passed.
    pub(super) fn watch(&mut self, world: &World, t_ms: i64, driving: bool) {
        if self.stages.last().is_some_and(|s| s.1 == StageKind::Off) {
            self.off_ms += t_ms - self.last_ms;
        }
        self.last_ms = t_ms;
        self.note_leaked(world, t_ms);
        self.watch_moves(world, t_ms);
        self.watch_runs(world, t_ms);
        let at_rest = !driving && world.all_shut() && !world.pumping();
        self.watch_rest(world, t_ms, at_rest);
    }

    fn unix_ms(&self, t_ms: i64) -> i64 {
        self.start_unix_ms + t_ms
    }

    fn note_leaked(&mut self, world: &World, t_ms: i64) {
        const EVERY_MS: i64 = 60_000;
        let now_ms = self.unix_ms(t_ms);
        if self
            .leaked
            .last()
            .is_some_and(|l| now_ms - l.t_ms < EVERY_MS)
        {
            return;
        }
        let places = places(&self.names);
        let lost = places.map(|(name, place)| (name, anr_litres(leaked_kg(world, place))));
        self.leaked.push(Amounts {
            t_ms: now_ms,
            anr_l: lost.collect(),
        });
    }

    fn note_amounts(&mut self, world: &World, t_ms: i64) {
        let places = places(&self.names);
        let anr_l = places.map(|(name, place)| (name, rounded(anr_litres(mass(world, place)), 4)));
        self.amounts.push(Amounts {
            t_ms: self.start_unix_ms + t_ms,
            anr_l: anr_l.collect(),
        });
    }
}

/// `tank` and every circuit with its place.
fn places(names: &[String]) -> impl Iterator<Item = (String, Place)> + '_ {
    let circuits = names.iter().enumerate();
    std::iter::once(("tank".to_string(), Place::Tank))
        .chain(circuits.map(|(i, name)| (name.clone(), Place::Corner(i))))
}

fn mass(world: &World, place: Place) -> f64 {
    match place {
        Place::Tank => world.tank.air.mass_kg,
        Place::Corner(i) => world.corners[i].air.mass_kg,
        Place::Outside => 0.0,
    }
}

/// Net loss of a volume by leaks since the start, kg.
fn leaked_kg(world: &World, place: Place) -> f64 {
    world
        .leaks
        .iter()
        .map(|leak| {
            let lost = if leak.from == place {
                leak.passed_kg
            } else {
                0.0
            };
            let gained = if leak.to == place {
                leak.passed_kg
            } else {
                0.0
            };
            lost - gained
        })
        .sum()
}

/// The whole fill and dump path of a circuit as it is now.
fn whole_paths(world: &World, i: usize) -> (Restriction, Restriction) {
    let paths = world.corners[i].paths;
    (
        world.supply.then(paths.fill).then(paths.line),
        paths.line.then(paths.dump).then(world.exhaust),
    )
}

fn parameters(scenario: &Scenario, world: &World) -> Parameters {
    let circuit = |i: usize, c: &crate::scenario::Circuit| {
        let sound = world.corners[i].sound;
        let fill = world.wear.supply.then(sound.fill).then(sound.line);
        let dump = sound.line.then(sound.dump).then(world.wear.exhaust);
        let volume = |step: i32| {
            let mm = f64::from(step) * 10.0;
            [
                mm,
                rounded(world.corners[i].spring.volume(mm / 1000.0) * 1000.0, 5),
            ]
        };
        CircuitParameters {
            volume_at_height: (-7..=7).map(volume).collect(),
            fill_c_l_s_bar: rounded(fill.c / SI_PER_L_S_BAR, 6),
            fill_b: rounded(fill.b, 4),
            dump_c_l_s_bar: rounded(dump.c / SI_PER_L_S_BAR, 6),
            dump_b: rounded(dump.b, 4),
            valve_lag_ms: c.valve_lag_ms,
            heat_s: c.heat_s,
            friction_n: c.friction_n,
        }
    };
    let circuits = scenario.circuits.iter().enumerate();
    let compressors = scenario.compressors.iter();
    Parameters {
        tank_l: scenario.tank.volume_l,
        circuits: circuits
            .map(|(i, c)| (c.name.clone(), circuit(i, c)))
            .collect(),
        free_air_l_min: compressors
            .map(|c| (c.name.clone(), c.free_air_l_min))
            .collect::<BTreeMap<_, _>>(),
    }
}
