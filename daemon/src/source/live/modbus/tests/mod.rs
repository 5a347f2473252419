//! Stations on the far end of a pseudo terminal: one that follows a script, and
//! those of two public libraries.

mod faults;
mod libraries;
mod script;
mod shared;

use super::super::testing::{TestReceiver, test_context_at, text};
use super::super::{SourceEvent, start};
use crate::clock::SystemClock;
use crate::databases::Databases;
use crate::source::{Item, Payload};
use seep_common::rig::Rig;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;
use tokio::task::JoinHandle;

/// A rig with one station, asked as fast as it answers; invented.
fn rig(device: &Path, station: &str, channels: &[(&str, &str)]) -> Rig {
    let channels: String = channels
        .iter()
        .map(|(name, rest)| {
            format!(
                "[[channel]]\nname = \"{name}\"\nsource = \"line\"\nrange = [-1e9, 1e9]\n{rest}\n"
            )
        })
        .collect();
    let circuits: String = ["front_left", "front_right", "rear_left", "rear_right"]
        .map(|name| format!("[[circuit]]\nname = \"{name}\"\n"))
        .concat();
    Rig::parse(&format!(
        "[vehicle]\nname = \"invented\"\n{circuits}[[source]]\nname = \"line\"\n\
         kind = \"modbus\"\ndevice = \"{}\"\nbaud = 115200\npoll_ms = 10\n{station}\n{channels}",
        text(device)
    ))
    .unwrap_or_else(|e| panic!("{e}"))
}

fn record(rig: &Rig) -> (TestReceiver, Vec<JoinHandle<()>>) {
    let (context, receiver) = test_context_at(Arc::new(SystemClock));
    (receiver, start(rig, &Databases::default(), context))
}

/// The readings of an event, by channel name.
fn readings(rig: &Rig, event: &SourceEvent) -> BTreeMap<String, f64> {
    let SourceEvent::Items(items) = event else {
        return BTreeMap::new();
    };
    let reading = |item: &Item| match item.payload {
        Payload::Reading(channel, value) => {
            Some((rig.channels[usize::from(channel.0)].name.clone(), value))
        }
        _ => None,
    };
    items.iter().filter_map(reading).collect()
}

impl TestReceiver {
    /// The next event with readings.
    async fn registers(&mut self, rig: &Rig) -> BTreeMap<String, f64> {
        self.until(|event| Some(readings(rig, event)).filter(|found| !found.is_empty()))
            .await
    }

    /// The next note.
    async fn note(&mut self) -> String {
        self.until(|event| match event {
            SourceEvent::Note { text, .. } => Some(text.clone()),
            _ => None,
        })
        .await
    }

    /// The next return; panics when readings come first.
    async fn back(&mut self, rig: &Rig) {
        self.until(|event| {
            assert!(readings(rig, event).is_empty(), "readings of a lost source");
            matches!(event, SourceEvent::Back { .. }).then_some(())
        })
        .await;
    }
}
