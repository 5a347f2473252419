//! The answer sheet at the end.

use super::{Recorder, leaked_kg, places, rounded};
use crate::scenario::{Fault, FaultKind, Scenario, StageKind};
use crate::truth::{CompressorRun, Ledger, TrueFault, Truth};
use crate::world::{LeakLaw, SI_PER_L_S_BAR, World, anr_litres};
use std::collections::BTreeMap;

impl Recorder {
    /// Close what is open and hand over the truth.
    pub(in crate::simulate) fn finish(
        mut self,
        scenario: &Scenario,
        world: &World,
        t_ms: i64,
    ) -> Truth {
        for i in 0..self.running.len() {
            self.end_run(world, t_ms, i, "log_end");
        }
        self.end_rest(world, t_ms);
        self.note_amounts(world, t_ms);
        let main = scenario.faults.first();
        Truth {
            notice: "All data are invented: a simulated car, no real vehicle.".into(),
            scenario: scenario.name.clone(),
            summary: scenario.summary.clone(),
            seed: scenario.seed,
            start_ms: self.start_unix_ms,
            end_ms: self.unix_ms(t_ms),
            fault: main.map_or("none", |f| f.kind.word()).into(),
            place: main.map_or_else(String::new, |f| place_of(f, scenario)),
            faults: true_faults(scenario, world),
            power_off: self.stretches(StageKind::Off, t_ms),
            drives: self.stretches(StageKind::Drive, t_ms),
            duty_percent: self.duty(t_ms),
            ledger: ledger(&self.names, &self.compressors, world),
            parameters: self.parameters,
            moves: self.moves,
            runs: self.runs,
            rests: self.rests,
            amounts: self.amounts,
            leaked: self.leaked,
        }
    }

    fn stretches(&self, kind: StageKind, t_ms: i64) -> Vec<[i64; 2]> {
        let mut out: Vec<[i64; 2]> = Vec::new();
        for (i, &(start_ms, found)) in self.stages.iter().enumerate() {
            let end_ms = self.stages.get(i + 1).map_or(t_ms, |next| next.0);
            if found == kind {
                let (start, end) = (self.unix_ms(start_ms), self.unix_ms(end_ms));
                match out.last_mut() {
                    Some(last) if last[1] == start => last[1] = end,
                    _ => out.push([start, end]),
                }
            }
        }
        out
    }

    fn duty(&self, t_ms: i64) -> BTreeMap<String, f64> {
        let recorded_ms = (t_ms - self.off_ms).max(1) as f64;
        let of = |name: &String| {
            let own = |run: &&CompressorRun| run.compressor == *name;
            let on_ms: i64 = self
                .runs
                .iter()
                .filter(own)
                .map(|r| r.end_ms - r.start_ms)
                .sum();
            rounded(100.0 * on_ms as f64 / recorded_ms, 4)
        };
        self.compressors
            .iter()
            .map(|name| (name.clone(), of(name)))
            .collect()
    }
}

/// Place of a fault, also where the scenario leaves it out.
fn place_of(fault: &Fault, scenario: &Scenario) -> String {
    match fault.kind {
        FaultKind::TankLeak | FaultKind::CheckValveLeak => "tank".into(),
        FaultKind::SupplyRestricted | FaultKind::ExhaustRestricted => "manifold".into(),
        FaultKind::CompressorWorn | FaultKind::CompressorOverheats if fault.place.is_empty() => {
            scenario.compressors[0].name.clone()
        }
        _ => fault.place.clone(),
    }
}

fn true_faults(scenario: &Scenario, world: &World) -> Vec<TrueFault> {
    let one = |(number, fault): (usize, &Fault)| {
        let leak = world.leaks.iter().find(|leak| leak.fault == Some(number));
        let law = leak.map(|leak| leak.law);
        let (c, b, k) = match law {
            Some(LeakLaw::Orifice(hole)) => (Some(hole.c / SI_PER_L_S_BAR), Some(hole.b), None),
            // kg/(s·Pa²) to ANR cm³/min per MPa².
            Some(LeakLaw::Laminar { k }) => {
                (None, None, Some(anr_litres(k) * 1000.0 * 60.0 * 1e12))
            }
            None => (None, None, None),
        };
        let wears = law.is_none() && fault.kind != FaultKind::SensorZeroDrift;
        TrueFault {
            kind: fault.kind.word().into(),
            place: place_of(fault, scenario),
            c_l_s_bar: c.map(|c| rounded(c, 9)),
            b,
            laminar_anr_cm3_min_mpa2: k.map(|k| rounded(k, 4)),
            factor_at_end: wears.then_some(fault.factor),
            open_h: leak.map(|leak| rounded(leak.open_s / 3600.0, 3)),
            passed_anr_l: leak.map(|leak| rounded(anr_litres(leak.passed_kg), 4)),
        }
    };
    scenario.faults.iter().enumerate().map(one).collect()
}

fn ledger(names: &[String], compressors: &[String], world: &World) -> Ledger {
    let litres = |kg: f64| rounded(anr_litres(kg), 4);
    let corners = || names.iter().zip(&world.corners);
    Ledger {
        delivered: compressors
            .iter()
            .zip(&world.delivered_kg)
            .map(|(name, kg)| (name.clone(), litres(*kg)))
            .collect(),
        filled: corners()
            .map(|(n, c)| (n.clone(), litres(c.filled_kg)))
            .collect(),
        dumped: corners()
            .map(|(n, c)| (n.clone(), litres(c.dumped_kg)))
            .collect(),
        leaked: places(names)
            .map(|(name, place)| (name, litres(leaked_kg(world, place))))
            .collect(),
    }
}
