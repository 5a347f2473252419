//! What the assembler promises, on real rigs.

use super::*;
use crate::rig::Rig;
use crate::sample::ChannelIndex;
use proptest::prelude::*;

const RIG: &str = r#"
[vehicle]
name = "invented"
[[circuit]]
name = "front_left"
[[source]]
name = "box"
kind = "nmea"
[[channel]]
name = "front_left_kpa_gauge"
source = "box"
transducer = "P"
[[channel]]
name = "front_left_fill"
source = "box"
transducer = "F"
[[channel]]
name = "vehicle_kmh"
source = "box"
transducer = "V"
"#;

fn rig() -> Rig {
    Rig::parse(RIG).expect("valid")
}

fn sample(channel: u16, t_ms: i64, value: f64) -> Sample {
    Sample {
        channel: ChannelIndex(channel),
        t_ms: BootMs(t_ms),
        value,
    }
}

fn run(samples: &[Sample]) -> (Vec<Tick<BootMs>>, Vec<SwitchChange>, u64) {
    let rig = rig();
    let mut assembler = TickAssembler::new(&rig.channels, &rig.recorder);
    let (mut ticks, mut changes) = (Vec::new(), Vec::new());
    for s in samples {
        changes.extend(assembler.push(*s, &mut |t| ticks.push(t)));
    }
    assembler.finish(&mut |t| ticks.push(t));
    (ticks, changes, assembler.late())
}

#[test]
fn full_rate_reaches_back_before_a_valve_opens() {
    let mut samples = Vec::new();
    for t in (0..30_000).step_by(20) {
        samples.push(sample(0, t, 500.0));
        let open = (15_000..16_000).contains(&t);
        samples.push(sample(1, t, f64::from(u8::from(open))));
    }
    let (ticks, changes, late) = run(&samples);
    assert_eq!(late, 0);
    assert_eq!(changes.len(), 3);
    assert!(!changes[0].is_change && !changes[0].on);
    assert_eq!((changes[1].t_ms, changes[1].on), (BootMs(15_000), true));
    assert_eq!((changes[2].t_ms, changes[2].on), (BootMs(16_000), false));
    // 2 s before, 1 s open, 5 s after the closing edge, 50 Hz.
    let fine = ticks
        .windows(2)
        .filter(|w| w[1].t_ms.since(w[0].t_ms) == 20)
        .count();
    assert!((395..=405).contains(&fine), "{fine}");
    assert!(ticks.iter().any(|t| t.t_ms == BootMs(13_000)));
    assert!(ticks.len() < 450, "{}", ticks.len());
}

#[test]
fn the_last_tick_before_a_silence_is_handed_out_while_the_silence_lasts() {
    let rig = rig();
    let mut assembler = TickAssembler::new(&rig.channels, &rig.recorder);
    let mut ticks = Vec::new();
    for t in [10_100, 10_300] {
        assembler.push(sample(0, t, 500.0), &mut |t| ticks.push(t));
    }
    assembler.advance(BootMs(12_999), &mut |t| ticks.push(t));
    assert!(ticks.is_empty(), "its second may still get late samples");
    assembler.advance(BootMs(13_000), &mut |t| ticks.push(t));
    assert_eq!(ticks.len(), 1);
    // What comes after begins a row of its own.
    assembler.push(sample(0, 14_200, 501.0), &mut |t| ticks.push(t));
    assembler.finish(&mut |t| ticks.push(t));
    let times: Vec<i64> = ticks.iter().map(|t| t.t_ms.0).collect();
    assert_eq!(times, [10_000, 14_000]);
    assert_eq!(assembler.late(), 0);
}

#[test]
fn driving_is_ten_hertz_and_rest_is_one() {
    let mut samples = Vec::new();
    for t in (0..20_000).step_by(50) {
        samples.push(sample(0, t, 500.0));
        let speed = if t < 10_000 { 50.0 } else { 0.0 };
        samples.push(sample(2, t, speed));
    }
    let (ticks, _, _) = run(&samples);
    let in_span = |from: i64, to: i64| {
        ticks
            .iter()
            .filter(|t| (from..to).contains(&t.t_ms.0))
            .count()
    };
    assert_eq!(in_span(0, 10_000), 100);
    assert_eq!(in_span(16_000, 20_000), 4);
}

#[test]
fn silence_stays_null_and_the_mean_counts_samples() {
    let (ticks, _, _) = run(&[
        sample(0, 0, 100.0),
        sample(0, 10, 101.0),
        sample(0, 900, 102.0),
        sample(2, 5_000, 0.0),
    ]);
    assert_eq!(ticks[0].counts[0], Some(2_020)); // 101 kPa in steps of 0.05
    assert_eq!(ticks[0].counts[1], None);
    assert_eq!(ticks[1].counts[0], None);
}

#[test]
fn a_sample_older_than_the_memory_is_counted() {
    let (ticks, _, late) = run(&[
        sample(0, 10_000, 1.0),
        sample(0, 9_000, 1.0),
        sample(0, 1_000, 1.0),
    ]);
    assert_eq!(late, 1);
    assert_eq!(ticks.len(), 2);
}

#[test]
fn begin_keeps_ticks_inside_the_session() {
    let rig = rig();
    let mut assembler = TickAssembler::new(&rig.channels, &rig.recorder);
    let mut ticks = Vec::new();
    assembler.begin(BootMs(1_507));
    assembler.push(sample(0, 1_507, 1.0), &mut |t| ticks.push(t));
    assembler.push(sample(0, 2_700, 1.0), &mut |t| ticks.push(t));
    assembler.finish(&mut |t| ticks.push(t));
    assert_eq!(ticks[0].t_ms, BootMs(1_507));
    assert_eq!(ticks[1].t_ms, BootMs(2_000));
}

proptest! {
    /// Whatever arrives, log time rises and no reading is lost without a count.
    #[test]
    fn log_time_rises_and_nothing_vanishes(
        steps in prop::collection::vec((-1_500i64..4_000, 0u16..3, 0.0f64..1.0), 1..300)
    ) {
        let rig = rig();
        let mut assembler = TickAssembler::new(&rig.channels, &rig.recorder);
        let mut ticks = Vec::new();
        let mut t = 1_000_000i64;
        let mut channels_seen = [false; 3];
        let mut accepted = 0u64;
        for (step, channel, value) in &steps {
            t += step;
            let late = assembler.late();
            assembler.push(sample(*channel, t, *value), &mut |tick| ticks.push(tick));
            if assembler.late() == late {
                channels_seen[usize::from(*channel)] = true;
                accepted += 1;
            }
        }
        assembler.finish(&mut |tick| ticks.push(tick));
        prop_assert!(ticks.windows(2).all(|w| w[0].t_ms < w[1].t_ms));
        for (i, seen) in channels_seen.iter().enumerate() {
            prop_assert_eq!(*seen, ticks.iter().any(|tick| tick.counts[i].is_some()));
        }
        prop_assert_eq!(accepted + assembler.late(), steps.len() as u64);
    }

    /// The last bin is a shortcut only: without it every sample lands in the same tick.
    #[test]
    fn the_last_bin_is_where_a_search_finds_it(
        steps in prop::collection::vec((0u16..3, -1_500i64..1_500, 0.0f64..100.0), 1..400),
        full_rate_hz in 1.0f64..100.0,
    ) {
        let mut rig = rig();
        rig.recorder.full_rate_hz = full_rate_hz;
        let ticks = |shortcut: bool| {
            let mut assembler = TickAssembler::new(&rig.channels, &rig.recorder);
            let (mut ticks, mut t_ms) = (Vec::new(), 10_000);
            for &(channel, step_ms, value) in &steps {
                // Mostly small steps ahead, some back.
                t_ms += if step_ms % 3 == 0 { step_ms } else { step_ms.rem_euclid(40) };
                if !shortcut {
                    assembler.last_bin_ms = BootMs::MAX..BootMs::MAX;
                }
                assembler.push(sample(channel, t_ms, value), &mut |t| ticks.push(t));
            }
            assembler.finish(&mut |t| ticks.push(t));
            (ticks, assembler.late())
        };
        prop_assert_eq!(ticks(true), ticks(false));
    }
}
