//! Serial lines and the stations on them: RS-485 carries many stations, and one
//! question at a time.

use super::super::tty::{LineTotals, NO_DEVICE, Tty};
use super::wire::Wire;
use seep_common::rig::{Rig, SourceKind};
use std::collections::BTreeMap;
use std::sync::Arc;
use tokio::sync::{Mutex, MutexGuard};

/// One line. Whoever asks a question holds it until the answer is in, or can no
/// longer come.
pub(super) struct SharedLine {
    pub device: String,
    pub baud: u32,
    /// The source that tells the counts of the line.
    pub teller: usize,
    held: Mutex<Held>,
}

/// A line that is held for one question.
#[derive(Default)]
pub(super) struct Held {
    wire: Option<Wire>,
    totals: LineTotals,
}

impl SharedLine {
    /// Wait for the turn, and hold the line.
    pub(super) async fn hold(&self) -> MutexGuard<'_, Held> {
        self.held.lock().await
    }

    /// The line, opened if it is not.
    ///
    /// # Errors
    /// Why it cannot be opened, in plain words.
    pub(super) fn open(&self, held: &mut Held) -> Result<Wire, String> {
        if let Some(wire) = &held.wire {
            return Ok(wire.clone());
        }
        let tty = Tty::open(&self.device, self.baud, &mut held.totals)?;
        Ok(held.wire.insert(Wire::new(tty)).clone())
    }
}

impl Held {
    /// True when the device of the open line has gone.
    pub(super) fn is_gone(&self) -> bool {
        self.wire.as_ref().is_some_and(|wire| wire.tty().is_gone())
    }

    /// Close it; the next question opens it anew.
    pub(super) fn close(&mut self) {
        if let Some(tty) = self.wire.take().and_then(Wire::into_tty) {
            tty.close(&mut self.totals);
        }
    }

    /// Every count of the line with its name.
    pub(super) fn named(&self) -> Vec<(&'static str, u64)> {
        let tty = self.wire.as_ref().map(Wire::tty);
        self.totals.named(tty.as_deref())
    }
}

/// The lines of a rig by device.
#[derive(Default)]
pub(in crate::source::live) struct SharedLines(BTreeMap<String, Arc<SharedLine>>);

impl SharedLines {
    /// The line of a source, shared with the others on the same device.
    ///
    /// # Errors
    /// When the rig names no device, or two speeds for one line.
    pub(super) fn of(&mut self, rig: &Rig, source: usize) -> Result<Arc<SharedLine>, String> {
        let SourceKind::Modbus { device, baud, .. } = &rig.sources[source].kind else {
            return Err("not a Modbus source".into());
        };
        let device = device.clone().ok_or(NO_DEVICE)?;
        let line = self.0.entry(device.clone()).or_insert_with(|| {
            Arc::new(SharedLine {
                device,
                baud: *baud,
                teller: source,
                held: Mutex::default(),
            })
        });
        if line.baud != *baud {
            let other = &rig.sources[line.teller].name;
            return Err(format!(
                "{} has {baud} baud here and {} baud in source `{other}`; all stations of a line \
                 need the same `baud`",
                line.device, line.baud
            ));
        }
        Ok(line.clone())
    }
}
