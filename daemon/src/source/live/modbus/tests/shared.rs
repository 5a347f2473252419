//! Several stations on one line.

use super::super::super::testing::{TestLine, text};
use super::record;
use super::script::{serve, words};
use crate::source::live::SourceEvent;
use crate::source::{Item, Payload};
use seep_common::rig::Rig;
use seep_common::sample::ChannelIndex;

/// Stations 17 and 18 on one line; invented.
fn rig(line: &TestLine, second_baud: u32) -> Rig {
    let device = text(&line.path());
    let station = |name: &str, unit: u8, baud: u32| {
        format!(
            "[[source]]\nname = \"{name}\"\nkind = \"modbus\"\ndevice = \"{device}\"\n\
             baud = {baud}\nunit_id = {unit}\npoll_ms = 10\ntimeout_ms = 300\n"
        )
    };
    Rig::parse(&format!(
        "[vehicle]\nname = \"invented\"\n[[circuit]]\nname = \"front_left\"\n{}{}\
         [[channel]]\nname = \"tank_kpa_gauge\"\nsource = \"tank_box\"\nregister = 1\n\
         number = \"u16\"\n[[channel]]\nname = \"front_left_kpa_gauge\"\nsource = \"corner_box\"\n\
         register = 1\nnumber = \"u16\"\n",
        station("tank_box", 17, 115_200),
        station("corner_box", 18, second_baud)
    ))
    .unwrap_or_else(|e| panic!("{e}"))
}

fn reading(event: &SourceEvent) -> Option<(u16, f64)> {
    let SourceEvent::Items(items) = event else {
        return None;
    };
    items.iter().find_map(|item: &Item| match item.payload {
        Payload::Reading(ChannelIndex(channel), value) => Some((channel, value)),
        _ => None,
    })
}

#[tokio::test]
async fn two_stations_take_turns_and_a_silent_one_does_not_stop_the_other() {
    let mut line = TestLine::new();
    line.plug();
    let mut corner_asked = 0;
    let asked = serve(line.far_end(), move |_, question| match question[0] {
        17 => words(17, 4, &[850]),
        _ => {
            corner_asked += 1;
            if corner_asked < 20 {
                words(18, 4, &[500])
            } else {
                Vec::new()
            }
        }
    });
    let rig = rig(&line, 115_200);
    let (mut receiver, tasks) = record(&rig);
    let mut seen = [0, 0];
    while seen[1] < 19 {
        if let Some((channel, value)) = receiver.until(|event| Some(reading(event))).await {
            assert_eq!(value, [850.0, 500.0][usize::from(channel)]);
            seen[usize::from(channel)] += 1;
        }
    }
    assert!(seen[0] > 0, "both are asked");
    let cause = receiver.lost().await;
    assert!(cause.contains("station 18"), "{cause}");
    for _ in 0..20 {
        let (channel, value) = receiver.until(reading).await;
        assert_eq!((channel, value), (0, 850.0));
    }
    receiver.end(tasks).await;
    let asked = asked.lock().expect("no fault");
    assert!(
        asked
            .iter()
            .all(|q| q.len() == 8 && [17, 18].contains(&q[0]))
    );
}

#[tokio::test]
async fn one_line_has_one_speed() {
    let line = TestLine::new();
    let (mut receiver, tasks) = record(&rig(&line, 9_600));
    let cause = receiver
        .until(|event| match event {
            SourceEvent::Lost {
                source: 1, cause, ..
            } => Some(cause.clone()),
            _ => None,
        })
        .await;
    assert!(
        cause.contains("9600 baud") || cause.contains("115200 baud"),
        "{cause}"
    );
    assert!(cause.contains("need the same `baud`"), "{cause}");
    receiver.end(tasks).await;
}
