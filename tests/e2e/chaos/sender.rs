//! A device that numbers its readings: reading `n` goes to channel `n % CHANNELS`
//! with the value `BASE_KPA + n / CHANNELS`, so that each can be found in the rows
//! even when several of them share one.

use super::history::{History, boot_ms};
use crate::live::line::{Device, Socket};
use seep_common::store::cause::{RECORDER_PAUSED, SOURCE_SILENT};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::Duration;

/// More than come in the longest time that the recorder may date late, and a row.
pub(super) const CHANNELS: usize = 48;
pub(super) const BASE_KPA: usize = 100;
const EVERY: Duration = Duration::from_millis(100);

/// A sender that is late by this was held up with the whole machine, ms.
const STALLED_MS: i64 = 1_000;

/// When a reading was written to the line: before and after, boot time, ms.
pub(super) type Sent = (i64, i64);

#[derive(Default)]
struct Shared {
    device: Mutex<Option<Device>>,
    sent: Mutex<Vec<Sent>>,
    stalls: Mutex<History>,
    stop: AtomicBool,
}

/// The device and the thread that speaks for it.
pub(super) struct Sender {
    shared: Arc<Shared>,
    socket: Socket,
    thread: Option<JoinHandle<()>>,
}

pub(super) fn channel(i: usize) -> String {
    format!("other_{i:02}_kpa_gauge")
}

pub(super) fn transducer(i: usize) -> String {
    format!("N{i:02}")
}

impl Sender {
    /// Plugged in, and silent until someone listens.
    pub(super) fn new(socket: Socket) -> Self {
        let shared = Arc::new(Shared::default());
        let (mine, device) = (shared.clone(), socket.plug());
        *shared.device.lock().expect("whole") = Some(device);
        Sender {
            shared,
            socket,
            thread: Some(std::thread::spawn(move || speak(&mine))),
        }
    }

    /// Pull the device out, wait, plug another one in.
    pub(super) fn replug(&self, away: Duration) {
        let mut slot = self.shared.device.lock().expect("whole");
        let old = slot.take().expect("plugged in");
        self.socket.unplug(old);
        std::thread::sleep(away);
        *slot = Some(self.socket.plug());
    }

    pub(super) fn count(&self) -> usize {
        self.shared.sent.lock().expect("whole").len()
    }

    /// Say no more; what was sent, and when the machine stood still.
    pub(super) fn end(&mut self) -> (Vec<Sent>, History) {
        self.shared.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.join().expect("no panic");
        }
        let sent = std::mem::take(&mut *self.shared.sent.lock().expect("whole"));
        let stalls = std::mem::take(&mut *self.shared.stalls.lock().expect("whole"));
        (sent, stalls)
    }
}

fn speak(shared: &Shared) {
    let mut last_ms = boot_ms();
    while !shared.stop.load(Ordering::Relaxed) {
        std::thread::sleep(EVERY);
        let mut slot = shared.device.lock().expect("whole");
        let from_ms = boot_ms();
        if let Some(device) = slot.as_mut().filter(|d| d.was_opened()) {
            let n = shared.sent.lock().expect("whole").len();
            let kpa = (BASE_KPA + n / CHANNELS) as f64;
            device.say_pressure(&transducer(n % CHANNELS), kpa);
            shared
                .sent
                .lock()
                .expect("whole")
                .push((from_ms, boot_ms()));
        }
        drop(slot);
        if boot_ms() - last_ms > STALLED_MS {
            let mut stalls = shared.stalls.lock().expect("whole");
            let causes = [RECORDER_PAUSED, SOURCE_SILENT];
            stalls.add("the sender was held up".into(), last_ms, &causes);
        }
        last_ms = boot_ms();
    }
}
