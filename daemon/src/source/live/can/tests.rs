//! On a real (virtual) bus, where there is one: name it by `SEEP_TEST_CAN`.
//! The parts are tested beside their code, without any.

use super::super::testing::test_context_at;
use super::super::{SourceEvent, start};
use crate::clock::{Clock, SystemClock};
use crate::databases::Databases;
use crate::source::{Item, Payload};
use seep_common::rig::Rig;
use socketcan::{CanDataFrame, CanFdSocket, EmbeddedFrame, ExtendedId, Socket, StandardId};
use std::io::Write;
use std::sync::Arc;

/// Frames sent in one burst: a second of a full bus.
const BURST: usize = 8_000;

fn rig(interface: &str) -> Rig {
    Rig::parse(&format!(
        "[vehicle]\nname = \"invented\"\n[[circuit]]\nname = \"front_left\"\n[[source]]\n\
         name = \"bus\"\nkind = \"socketcan\"\ninterface = \"{interface}\"\n[[channel]]\n\
         name = \"front_left_kpa_gauge\"\nsource = \"bus\"\n\
         signal = \"ASC4.BellowPressureFrontAxleLeft\"\n"
    ))
    .expect("valid")
}

fn databases() -> Databases {
    let text = seep_common::codec::dbc::BUILTIN_J1939_AIR;
    let database = seep_common::codec::dbc::Database::parse("builtin:j1939-air", text);
    Databases::from_lists(vec![vec![database.expect("valid")]])
}

fn readings(event: &SourceEvent) -> Vec<(i64, f64)> {
    let SourceEvent::Items(items) = event else {
        return Vec::new();
    };
    let reading = |item: &Item| match item.payload {
        Payload::Reading(_, value) => Some((item.t_ms.0, value)),
        _ => None,
    };
    items.iter().filter_map(reading).collect()
}

#[tokio::test]
async fn a_burst_on_a_virtual_bus_arrives_whole_and_in_order() {
    let Ok(interface) = std::env::var("SEEP_TEST_CAN") else {
        // Past the capture of the test harness: a skipped check must be seen.
        let _ = writeln!(
            std::io::stderr(),
            "SKIPPED: live CAN: no virtual bus; set SEEP_TEST_CAN=vcan0 where there is one"
        );
        return;
    };
    let clock = Arc::new(SystemClock);
    let begun_ms = clock.boot_ms();
    let (context, mut receiver) = test_context_at(clock.clone());
    let tasks = start(&rig(&interface), &databases(), context);
    let sender = CanFdSocket::open(&interface).expect("the interface");
    let id = ExtendedId::new(0x18FE_582F).expect("29 bits");
    // Listening has begun when a frame comes through; those before it are lost.
    let first = loop {
        let frame = CanDataFrame::new(id, &[0x03, 0x13, 255, 255, 255, 255, 255, 255]);
        sender.write_frame(&frame.expect("fits")).expect("sent");
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
        let heard = tokio::time::timeout(std::time::Duration::from_millis(100), receiver.next());
        let found = heard.await.map_or(Vec::new(), |event| readings(&event));
        if let Some(first) = found.first() {
            break *first;
        }
    };
    assert!((first.1 - 486.7).abs() < 1e-9, "{first:?}");
    let sending = std::thread::spawn(move || {
        let other = StandardId::new(0x123).expect("11 bits");
        let noise = CanDataFrame::new(other, &[0; 8]).expect("fits");
        for n in 0..BURST {
            let low = (n % 250) as u8;
            let frame = CanDataFrame::new(id, &[low, 0x14, 255, 255, 255, 255, 255, 255]);
            let frame = frame.expect("fits");
            while sender.write_frame(&frame).is_err() {
                std::thread::yield_now();
            }
            while sender.write_frame(&noise).is_err() {
                std::thread::yield_now();
            }
            if n % 8 == 0 {
                std::thread::sleep(std::time::Duration::from_micros(500));
            }
        }
    });
    let mut found = Vec::new();
    while found.len() < BURST {
        let event = receiver.next().await;
        found.extend(readings(&event).into_iter().filter(|(_, v)| *v >= 512.0));
    }
    sending.join().expect("no fault");
    let (_, totals) = receiver.end(tasks).await;
    assert!(found.windows(2).all(|w| w[0].0 <= w[1].0), "in order");
    assert!(found[0].0 >= begun_ms.0 && found[BURST - 1].0 <= clock.boot_ms().0);
    assert_eq!(totals.get("socket_drops"), None, "{totals:?}");
    assert_eq!(totals.get("frames_without_stamp"), None, "{totals:?}");
}

#[tokio::test]
async fn an_interface_that_is_not_there_is_a_loss_that_is_retried() {
    let (context, mut receiver) = test_context_at(Arc::new(SystemClock));
    let tasks = start(&rig("can_none"), &databases(), context);
    let cause = receiver.lost().await;
    assert!(
        cause.contains("this kernel has") || cause.contains("there is no interface can_none"),
        "{cause}"
    );
    receiver.end(tasks).await;
}
