//! A real pseudo terminal stands for the line; what is unplugged is really gone.

use super::super::testing::{TestLine, TestReceiver, test_context_at, text};
use super::super::{SourceEvent, start};
use crate::clock::VirtualClock;
use crate::databases::Databases;
use crate::source::{Item, Payload};
use seep_common::codec::nmea::{XdrReading, append_xdr};
use seep_common::rig::Rig;
use seep_common::sample::ChannelIndex;
use seep_common::time::{BootMs, WallMs};
use std::sync::Arc;
use tokio::task::JoinHandle;

/// A sentence that says what the tank holds, kPa gauge; invented.
fn sentence(tank_kpa: f64) -> Vec<u8> {
    let mut bytes = Vec::new();
    let reading = XdrReading {
        kind: 'P',
        value: Some(tank_kpa / 100.0),
        decimals: 4,
        unit: Some('B'),
        name: "TANK",
    };
    append_xdr(&mut bytes, "YX", None, &[reading]).expect("fits");
    bytes
}

fn record(line: &TestLine) -> (TestReceiver, Vec<JoinHandle<()>>, Arc<VirtualClock>) {
    let rig = Rig::parse(&format!(
        "[vehicle]\nname = \"invented\"\n[[source]]\nname = \"box\"\nkind = \"nmea\"\n\
         device = \"{}\"\n[[channel]]\nname = \"tank_kpa_gauge\"\nsource = \"box\"\n\
         transducer = \"TANK\"\n",
        text(&line.path())
    ))
    .expect("valid");
    let clock = Arc::new(VirtualClock::at(BootMs(1_000), WallMs(1_000)));
    let (context, receiver) = test_context_at(clock.clone());
    (receiver, start(&rig, &Databases::default(), context), clock)
}

fn readings(event: &SourceEvent) -> Vec<f64> {
    let SourceEvent::Items(items) = event else {
        return Vec::new();
    };
    let value = |item: &Item| match item.payload {
        Payload::Reading(ChannelIndex(0), value) => Some((value * 100.0).round() / 100.0),
        _ => None,
    };
    items.iter().filter_map(value).collect()
}

impl TestReceiver {
    /// Waits until so many bytes of the line have been read: a busy kernel hands
    /// over what was sent in pieces.
    async fn bytes_read(&mut self, bytes: u64) {
        self.until(|event| match event {
            SourceEvent::Counters { totals, .. } => {
                totals.contains(&("bytes", bytes)).then_some(())
            }
            _ => None,
        })
        .await;
    }

    /// The next readings.
    async fn readings(&mut self) -> Vec<f64> {
        self.until(|event| Some(readings(event)).filter(|found| !found.is_empty()))
            .await
    }
}

#[tokio::test]
async fn half_lines_and_noise_cost_themselves_only_and_are_counted() {
    let mut line = TestLine::new();
    line.plug();
    let (mut receiver, tasks, _) = record(&line);
    line.opened().await;
    line.send(b",8.0,B,TANK*00\r\n\x00\xFF~~");
    line.send(&sentence(850.0));
    let whole = sentence(851.0);
    line.send(&whole[..10]);
    assert_eq!(receiver.readings().await, [850.0]);
    line.send(&whole[10..]);
    assert_eq!(receiver.readings().await, [851.0]);
    line.send(&sentence(852.0)[..10]);
    line.send(&sentence(853.0));
    let mut wrong = sentence(854.0);
    wrong[12] ^= 1;
    line.send(&wrong);
    line.send(&sentence(855.0));
    let mut found = receiver.readings().await;
    while found.last() != Some(&855.0) {
        found.extend(receiver.readings().await);
    }
    assert_eq!(found, [853.0, 855.0]);
    let (_, totals) = receiver.end(tasks).await;
    assert_eq!(totals["good_sentences"], 4);
    assert_eq!(totals["readings_passed"], 4);
    assert_eq!(totals["bad_checksums"], 1);
    // 14 of the half line at the start, 4 of noise, 10 of the half sentence.
    assert_eq!(totals["discarded_bytes"], 28);
}

#[tokio::test]
async fn what_arrived_before_the_end_is_still_taken() {
    let mut line = TestLine::new();
    line.plug();
    let (mut receiver, tasks, _) = record(&line);
    line.opened().await;
    line.send(&sentence(700.0));
    assert_eq!(receiver.readings().await, [700.0]);
    let mut sent = Vec::new();
    for n in 0..50 {
        sent.push(700.0 + f64::from(n));
        line.send(&sentence(700.0 + f64::from(n)));
    }
    let (events, totals) = receiver.end(tasks).await;
    let found: Vec<_> = events.iter().flat_map(readings).collect();
    assert_eq!(found, sent);
    assert_eq!(totals["readings_passed"], 51);
}

#[tokio::test]
async fn a_line_that_is_not_there_is_told_and_found_when_it_comes() {
    let mut line = TestLine::new();
    let (mut receiver, tasks, clock) = record(&line);
    let cause = receiver.lost().await;
    assert!(cause.contains("is not there"), "{cause}");
    clock.pass(500);
    line.plug();
    line.opened().await;
    line.send(&sentence(850.0));
    let back = SourceEvent::Back {
        source: 0,
        t_ms: BootMs(1_500),
    };
    assert_eq!(receiver.next().await, back);
    assert_eq!(receiver.readings().await, [850.0]);
    receiver.end(tasks).await;
}

#[tokio::test]
async fn fifty_times_unplugged_and_every_sentence_of_a_whole_line_recorded() {
    let mut line = TestLine::new();
    let (mut receiver, tasks, _) = record(&line);
    receiver.lost().await;
    for n in 0..50 {
        line.plug();
        line.opened().await;
        line.send(&sentence(600.0 + f64::from(n)));
        line.send(b"$YXXDR,P,8.0");
        let first = receiver
            .until(|event| match event {
                SourceEvent::Counters { .. } => None,
                other => Some(other.clone()),
            })
            .await;
        assert!(matches!(first, SourceEvent::Back { .. }), "{first:?}");
        assert_eq!(receiver.readings().await, [600.0 + f64::from(n)]);
        line.unplug();
        let cause = receiver.lost().await;
        assert!(cause.contains("unplugged"), "{cause}");
    }
    let (_, totals) = receiver.end(tasks).await;
    assert_eq!(totals["readings_passed"], 50);
    assert_eq!(totals["reopened"], 49);
    assert!(totals["discarded_bytes"] <= 50 * 12);
}

#[tokio::test]
async fn another_device_behind_the_same_link_is_found_though_the_first_is_silent() {
    let mut line = TestLine::new();
    line.plug();
    let (mut receiver, tasks, _) = record(&line);
    line.opened().await;
    line.send(&sentence(500.0));
    assert_eq!(receiver.readings().await, [500.0]);
    let _silent = line.swap();
    line.opened().await;
    line.send(&sentence(501.0));
    let cause = receiver.lost().await;
    assert!(cause.contains("unplugged"), "{cause}");
    assert_eq!(receiver.readings().await, [501.0]);
    receiver.end(tasks).await;
}

#[tokio::test]
async fn a_line_at_the_wrong_speed_is_doubted_and_trusted_again() {
    let mut line = TestLine::new();
    line.plug();
    let (mut receiver, tasks, clock) = record(&line);
    line.opened().await;
    let noise = [0xF8, 0x00, 0xE0, b'x', 0x80, 0xFE, 0x06, 0x98].repeat(40);
    line.send(&noise);
    let items = |event: &SourceEvent| match event {
        SourceEvent::Items(items) => Some(items[0].payload),
        _ => None,
    };
    assert_eq!(receiver.until(items).await, Payload::Alive);
    receiver.bytes_read(320).await;
    // In steps: a jump of the clock would be a pause of the recorder.
    for n in [640, 960] {
        clock.pass(2_000);
        line.send(&noise);
        receiver.bytes_read(n).await;
    }
    clock.pass(1_000);
    line.send(&noise);
    let (t_ms, note) = receiver
        .until(|event| match event {
            SourceEvent::Note { t_ms, text, .. } => Some((*t_ms, text.clone())),
            _ => None,
        })
        .await;
    assert_eq!(t_ms, BootMs(6_000));
    assert!(
        note.contains("wrong line speed suspected (38400 baud)"),
        "{note}"
    );
    assert_eq!(receiver.lost().await, note);
    line.send(&sentence(400.0));
    let back = receiver
        .until(|event| match event {
            SourceEvent::Back { t_ms, .. } => Some(*t_ms),
            _ => None,
        })
        .await;
    assert_eq!(back, BootMs(6_000));
    assert_eq!(receiver.readings().await, [400.0]);
    receiver.end(tasks).await;
}

#[tokio::test]
async fn a_line_used_by_another_program_is_told_so() {
    let mut line = TestLine::new();
    line.plug();
    let (mut first, first_tasks, _) = record(&line);
    line.opened().await;
    line.send(&sentence(400.0));
    first.readings().await;
    let (mut second, second_tasks, _) = record(&line);
    let cause = second.lost().await;
    assert!(cause.contains("used by another program"), "{cause}");
    first.end(first_tasks).await;
    second
        .until(|event| matches!(event, SourceEvent::Back { .. }).then_some(()))
        .await;
    second.end(second_tasks).await;
}

#[tokio::test]
async fn a_file_is_no_line() {
    let mut line = TestLine::new();
    line.plug();
    std::fs::remove_file(line.path()).expect("there");
    std::fs::write(line.path(), "no line").expect("room");
    let (mut receiver, tasks, _) = record(&line);
    let cause = receiver.lost().await;
    assert!(cause.contains("is not a serial line"), "{cause}");
    receiver.end(tasks).await;
}

/// The bytes that wait are sent while nobody has the line open, as they are when a
/// recorder was killed and another program, or a pseudo terminal, keeps the line.
async fn what_waits_is_counted_and_not_dated(waiting: u64) {
    let mut line = TestLine::new();
    line.plug();
    for n in 0..waiting {
        line.send(&sentence(500.0 + n as f64 / 100.0));
    }
    let half = sentence(700.0);
    line.send(&half[..10]);
    let whole = waiting * sentence(500.0).len() as u64;
    line.holds(4095.min(whole + 10)).await;
    let (mut receiver, tasks, _) = record(&line);
    line.opened().await;
    tokio::time::sleep(std::time::Duration::from_secs(1)).await;
    line.send(&half[10..]);
    line.send(&sentence(701.0));
    assert_eq!(receiver.readings().await[0], 700.0);
    let (_, totals) = receiver.end(tasks).await;
    assert_eq!(totals["readings_not_dated"], waiting);
    assert_eq!(totals["readings_passed"], waiting + 2);
    assert_eq!(totals.get("discarded_bytes").copied().unwrap_or(0), 0);
}

#[tokio::test]
async fn what_waits_in_a_line_when_it_is_opened_is_counted_and_not_dated() {
    what_waits_is_counted_and_not_dated(20).await;
}

/// More than the terminal buffer of the kernel holds (4 KiB), less than a pseudo
/// terminal takes in all (12 KiB): 27 bytes each.
#[tokio::test]
async fn what_waits_behind_a_full_buffer_is_counted_and_not_dated() {
    what_waits_is_counted_and_not_dated(300).await;
}
