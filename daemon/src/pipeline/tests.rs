//! What the pipeline promises.

use super::*;
use seep_common::store::Gap;

const RIG: &str = r#"
[vehicle]
name = "invented"
[[circuit]]
name = "front_left"
[[compressor]]
name = "compressor_1"
[[source]]
name = "box"
kind = "nmea"
silence_s = 5
[[source]]
name = "bus"
kind = "socketcan"
silence_s = 5
[[channel]]
name = "front_left_kpa_gauge"
source = "box"
transducer = "P"
[[channel]]
name = "compressor_1_on"
source = "bus"
signal = "M.S"
[[channel]]
name = "front_left_fill"
source = "box"
transducer = "F"
"#;

const PRESSURE: ChannelIndex = ChannelIndex(0);
const RUNNING: ChannelIndex = ChannelIndex(1);
const FILL: ChannelIndex = ChannelIndex(2);

fn pipeline(expected: &[bool]) -> Pipeline {
    let rig = Rig::parse(RIG).expect("valid");
    let mut pipeline = Pipeline::new(&rig);
    pipeline.begin(BootMs(0), expected);
    pipeline
}

#[test]
fn one_dead_source_gives_one_gap_and_does_not_stop_the_other() {
    let mut p = pipeline(&[true, true]);
    p.push(RUNNING, BootMs(100), 0.0);
    for t in (0..60_000).step_by(500) {
        p.push(PRESSURE, BootMs(t), 500.0);
    }
    p.push(RUNNING, BootMs(60_000), 0.0);
    p.finish(BootMs(60_001));
    let batch = p.take_batch().laid(|t| t.0);
    assert_eq!(batch.ticks.len(), 61);
    assert_eq!(
        batch.gaps,
        [Gap {
            from_t_ms: 100,
            to_t_ms: 60_000,
            cause: "source silent".into(),
            what: Some("bus".into())
        }]
    );
}

#[test]
fn a_source_silent_until_the_end_leaves_its_gap_too() {
    let mut p = pipeline(&[true, true]);
    p.push(PRESSURE, BootMs(0), 500.0);
    p.push(PRESSURE, BootMs(20_000), 500.0);
    p.finish(BootMs(20_001));
    let gaps = p.take_batch().laid(|t| t.0).gaps;
    assert_eq!(gaps.len(), 2, "{gaps:?}");
    assert_eq!((gaps[1].from_t_ms, gaps[1].to_t_ms), (0, 20_001));
}

#[test]
fn a_source_that_takes_no_part_is_not_missed() {
    let mut p = pipeline(&[true, false]);
    for t in (0..20_000).step_by(500) {
        p.push(PRESSURE, BootMs(t), 500.0);
    }
    p.finish(BootMs(20_000));
    assert!(p.take_batch().laid(|t| t.0).gaps.is_empty());
}

#[test]
fn bad_readings_still_show_that_the_source_lives() {
    let mut p = pipeline(&[true, false]);
    for t in (0..20_000).step_by(500) {
        p.push(PRESSURE, BootMs(t), f64::NAN);
    }
    p.finish(BootMs(20_000));
    assert_eq!(p.counts().total(0, Count::OutOfRange), 40);
    let batch = p.take_batch().laid(|t| t.0);
    assert!(batch.gaps.is_empty());
    assert!(batch.ticks.is_empty());
}

#[test]
fn the_first_word_of_a_switch_is_an_event_on_or_off() {
    let mut p = pipeline(&[true, true]);
    p.push(RUNNING, BootMs(0), 1.0);
    p.push(FILL, BootMs(0), 0.0);
    p.push(FILL, BootMs(1_000), 1.0);
    p.push(RUNNING, BootMs(2_000), 0.0);
    p.finish(BootMs(2_001));
    let events: Vec<_> = p
        .take_batch()
        .laid(|t| t.0)
        .events
        .into_iter()
        .map(|e| (e.t_ms, e.kind, e.place, e.on, e.wired))
        .collect();
    let c = || "compressor_1".to_string();
    assert_eq!(
        events,
        [
            (0, EventKind::Run, c(), true, true),
            (0, EventKind::Fill, "front_left".into(), false, true),
            (1_000, EventKind::Fill, "front_left".into(), true, true),
            (2_000, EventKind::Run, c(), false, true),
        ]
    );
}

#[test]
fn counters_lie_inside_the_session() {
    let mut p = pipeline(&[true, true]);
    p.push(PRESSURE, BootMs(10), 500.0);
    p.finish(BootMs(11));
    let counters = p.take_batch().laid(|t| t.0).counters;
    assert!(counters.iter().all(|c| c.t_ms == 10), "{counters:?}");
    assert_eq!(counters[0].name, "readings");
}

/// The bus sleeps with the ignition; the box has a speed of its own (satellites).
fn with_a_sleeping_bus() -> Pipeline {
    let text = RIG.replace(
        "kind = \"socketcan\"\n",
        "kind = \"socketcan\"\nsleeps_with_ignition = true\n",
    );
    let speed = "[[channel]]\nname = \"vehicle_kmh\"\nsource = \"box\"\ntransducer = \"V\"\n";
    let rig = Rig::parse(&format!("{text}{speed}")).expect("valid");
    let mut pipeline = Pipeline::new(&rig);
    pipeline.begin(BootMs(0), &[true, true]);
    pipeline
}

const SPEED: ChannelIndex = ChannelIndex(3);
const BUS: usize = 1;

/// Gaps of the bus: from, to in s, cause.
fn bus_gaps(mut p: Pipeline, end_s: i64) -> Vec<(i64, i64, String)> {
    p.finish(BootMs(end_s * 1_000));
    let gaps = p.take_batch().laid(|t| t.0).gaps.into_iter();
    gaps.filter(|g| g.what.as_deref() == Some("bus"))
        .map(|g| (g.from_t_ms / 1_000, g.to_t_ms / 1_000, g.cause))
        .collect()
}

/// The box speaks each second of a span, with this speed.
fn box_says(p: &mut Pipeline, seconds: std::ops::Range<i64>, kmh: f64) {
    for s in seconds {
        p.push(PRESSURE, BootMs(s * 1_000), 500.0);
        p.push(SPEED, BootMs(s * 1_000), kmh);
    }
}

#[test]
fn a_bus_that_sleeps_with_the_ignition_is_not_missed_while_the_car_stands() {
    let mut p = with_a_sleeping_bus();
    p.push(RUNNING, BootMs(10_000), 0.0);
    box_says(&mut p, 10..3_600, 0.3);
    assert!(p.asleep(BUS, BootMs(3_600_000)));
    p.push(RUNNING, BootMs(3_600_000), 0.0);
    assert!(!p.asleep(BUS, BootMs(3_601_000)));
    let asleep = "asleep with the ignition".to_string();
    assert_eq!(
        bus_gaps(p, 3_601),
        [(0, 10, asleep.clone()), (10, 3_600, asleep)]
    );
}

#[test]
fn the_same_bus_is_missed_while_the_car_drives() {
    let mut p = with_a_sleeping_bus();
    p.push(RUNNING, BootMs(1_000), 0.0);
    box_says(&mut p, 1..1_000, 0.0);
    box_says(&mut p, 1_000..1_600, 70.0);
    assert!(!p.asleep(BUS, BootMs(1_600_000)), "driving: red");
    box_says(&mut p, 1_600..4_000, 0.0);
    assert!(p.asleep(BUS, BootMs(4_000_000)), "parked again");
    let asleep = "asleep with the ignition".to_string();
    assert_eq!(
        bus_gaps(p, 4_000),
        [
            (1, 1_000, asleep.clone()),
            (1_000, 1_599, "source silent".into()),
            (1_599, 4_000, asleep),
        ]
    );
}

#[test]
fn a_bus_lost_on_the_road_keeps_its_cause_and_one_that_only_slept_needs_none() {
    let mut p = with_a_sleeping_bus();
    p.push(RUNNING, BootMs(1_000), 0.0);
    p.lost(BUS, "can0 is down");
    box_says(&mut p, 1..100, 90.0);
    assert!(!p.asleep(BUS, BootMs(99_500)));
    assert_eq!(bus_gaps(p, 100), [(1, 100, "can0 is down".into())]);
    let mut p = with_a_sleeping_bus();
    p.push(RUNNING, BootMs(1_000), 0.0);
    p.lost(BUS, "can0 is down");
    box_says(&mut p, 1..100, 0.0);
    assert!(p.asleep(BUS, BootMs(99_500)));
    let asleep = "asleep with the ignition".to_string();
    assert_eq!(bus_gaps(p, 100), [(1, 100, asleep)]);
}

#[test]
fn a_moment_of_life_shorter_than_the_source_may_be_silent_is_no_fault() {
    let mut p = with_a_sleeping_bus();
    p.push(RUNNING, BootMs(1_000), 0.0);
    box_says(&mut p, 1..500, 0.0);
    // A valve trims for three seconds, twice: the bus may be silent for five.
    for s in [500, 501, 502, 503, 700, 701, 702, 703] {
        p.push(FILL, BootMs(s * 1_000), 1.0);
    }
    box_says(&mut p, 704..1_000, 0.0);
    let asleep = "asleep with the ignition".to_string();
    assert_eq!(bus_gaps(p, 1_000), [(1, 1_000, asleep)]);
}

/// Box (source 0) limit 10 s, invented: causes of its gaps.
fn causes_after(
    lost: Option<&str>,
    paused: &[(i64, i64, bool)],
    end_ms: i64,
) -> Vec<(i64, i64, String)> {
    let mut p = pipeline(&[true, false]);
    p.push(PRESSURE, BootMs(0), 500.0);
    if let Some(cause) = lost {
        p.lost(0, cause);
    }
    for &(from_ms, to_ms, undated) in paused {
        p.paused(0, BootMs(from_ms), BootMs(to_ms), undated);
    }
    p.push(PRESSURE, BootMs(end_ms), 500.0);
    p.finish(BootMs(end_ms + 1));
    let gaps = p.take_batch().laid(|t| t.0).gaps.into_iter();
    gaps.map(|g| (g.from_t_ms, g.to_t_ms, g.cause)).collect()
}

#[test]
fn a_pause_of_the_recorder_is_no_silence_of_the_source() {
    let paused = |a, b| (a, b, String::from("recorder paused"));
    let silent = |a, b| (a, b, String::from("source silent"));
    // What borders on the pause and is shorter than the source may be silent
    // belongs to it.
    assert_eq!(
        causes_after(None, &[(500, 60_000, false)], 61_000),
        [paused(0, 61_000)]
    );
    assert_eq!(
        causes_after(None, &[(40_000, 60_000, false)], 100_000),
        [
            silent(0, 40_000),
            paused(40_000, 60_000),
            silent(60_000, 100_000)
        ]
    );
    // Readings with true times came out of the pause: nothing is missing.
    assert!(causes_after(None, &[(500, 3_500, false)], 600).is_empty());
    assert!(causes_after(None, &[(500, 3_500, false)], 4_000).is_empty());
    // Readings were dropped: a gap, however short.
    assert_eq!(
        causes_after(None, &[(500, 3_500, true)], 4_000),
        [paused(0, 4_000)]
    );
    // A line that was unplugged before stays unplugged.
    assert_eq!(
        causes_after(Some("unplugged"), &[(500, 60_000, false)], 61_000),
        [(0, 61_000, "unplugged".into())]
    );
}
