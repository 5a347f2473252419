//! Runs of compressors.

use super::{Recorder, rounded};
use crate::truth::CompressorRun;
use crate::world::{World, anr_litres};

/// A compressor that runs.
#[derive(Debug)]
pub(super) struct Running {
    start_ms: i64,
    kpa_gauge: f64,
    delivered_kg: f64,
    last_ms: i64,
    volt_ms: f64,
    volts: f64,
}

/// A run that ends this near to the cut-out has reached it, kPa.
const NEAR_KPA: f64 = 8.0;

impl Recorder {
    pub(super) fn watch_runs(&mut self, world: &World, t_ms: i64) {
        for i in 0..self.running.len() {
            let runs = world.compressors[i].running();
            match (&mut self.running[i], runs) {
                (Some(run), true) => {
                    run.volt_ms += run.volts * (t_ms - run.last_ms) as f64;
                    run.last_ms = t_ms;
                    run.volts = world.supply_v;
                }
                (None, true) => {
                    self.running[i] = Some(Running {
                        start_ms: t_ms,
                        kpa_gauge: world.tank_kpa_gauge(),
                        delivered_kg: world.delivered_kg[i],
                        last_ms: t_ms,
                        volt_ms: 0.0,
                        volts: world.supply_v,
                    });
                }
                (Some(_), false) => {
                    let by = if world.compressors[i].tripped {
                        "thermal"
                    } else if world.tank_kpa_gauge() > self.cut_out_kpa_gauge - NEAR_KPA {
                        "cut_out"
                    } else {
                        "power"
                    };
                    self.end_run(world, t_ms, i, by);
                }
                (None, false) => {}
            }
        }
    }

    pub(super) fn end_run(&mut self, world: &World, t_ms: i64, i: usize, by: &str) {
        let Some(run) = self.running[i].take() else {
            return;
        };
        let volt_ms = run.volt_ms + run.volts * (t_ms - run.last_ms) as f64;
        let length_ms = (t_ms - run.start_ms).max(1) as f64;
        self.runs.push(CompressorRun {
            compressor: self.compressors[i].clone(),
            start_ms: self.unix_ms(run.start_ms),
            end_ms: self.unix_ms(t_ms),
            ended_by: by.into(),
            from_kpa_gauge: rounded(run.kpa_gauge, 2),
            to_kpa_gauge: rounded(world.tank_kpa_gauge(), 2),
            delivered_anr_l: rounded(anr_litres(world.delivered_kg[i] - run.delivered_kg), 3),
            supply_v: rounded(volt_ms / length_ms, 3),
            motor_c: rounded(world.compressors[i].motor_c(), 1),
        });
    }
}
