//! Readings to rows.

use crate::inputs::{rig, samples, samples_for, through, unwired_rig};
use divan::Bencher;
use seep_common::tick::TickAssembler;
use seep_daemon::pipeline::Pipeline;

/// The adaptive rate alone; items are readings.
#[divan::bench]
fn assembler(bencher: Bencher) {
    let rig = rig();
    bencher
        .counter(samples().len())
        .with_inputs(|| TickAssembler::new(&rig.channels, &rig.recorder))
        .bench_local_refs(|assembler| {
            let mut ticks = Vec::new();
            for sample in samples() {
                assembler.push(*sample, &mut |tick| ticks.push(tick));
            }
            assembler.finish(&mut |tick| ticks.push(tick));
            ticks
        });
}

/// The whole way of a reading into the batch: range, rate, switches, gaps,
/// counters; items are readings.
#[divan::bench]
fn pipeline(bencher: Bencher) {
    let rig = rig();
    bencher
        .counter(samples().len())
        .with_inputs(|| Pipeline::new(&rig))
        .bench_local_refs(|pipeline| through(pipeline, samples()));
}

/// The same for a car whose valves and compressor are told from its pressures;
/// items are readings, without those of switches.
#[divan::bench]
fn pipeline_unwired(bencher: Bencher) {
    let rig = unwired_rig();
    let samples = samples_for(&rig);
    bencher
        .counter(samples.len())
        .with_inputs(|| Pipeline::new(&rig))
        .bench_local_refs(|pipeline| through(pipeline, &samples));
}
