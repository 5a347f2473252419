//! A recorder, a device and a disk whose faults come and go.

use crate::live::line::{Device, Socket, wait};
use crate::live::process::{Bench, Recorder};
use crate::shim::preload;
use crate::{SEEPD, shim::shim};
use seep_tests::{code, run};
use std::path::{Path, PathBuf};

/// Linux's numbers.
pub(super) const EIO: i32 = 5;
pub(super) const ENOSPC: i32 = 28;
pub(super) const EROFS: i32 = 30;

pub(super) struct Disk {
    pub(super) bench: Bench,
    pub(super) device: Device,
    said: u32,
    faults: PathBuf,
    shim: &'static Path,
    _outside: tempfile::TempDir,
    _socket: Socket,
}

impl Disk {
    /// `None` when there is no shim; that was said loudly.
    pub(super) fn new(test: &str) -> Option<Self> {
        let shim = shim(test)?;
        let folder = seep_tests::scratch::scratch();
        let outside = seep_tests::scratch::scratch();
        let socket = Socket::new(folder.path());
        let device = socket.plug();
        let bench = Bench::new(socket.name(), folder);
        let rig = std::fs::read_to_string(bench.rig()).expect("a rig");
        bench.write_rig(&format!(
            "{rig}[recorder]\ncommit_s = 0.3\nrest_period_s = 0.1\nbefore_activity_s = 0.1\n"
        ));
        Some(Disk {
            bench,
            device,
            said: 0,
            faults: outside.path().join("faults"),
            shim,
            _outside: outside,
            _socket: socket,
        })
    }

    pub(super) fn start(&self) -> Recorder {
        self.bench.start_with(|command| {
            let faults = ("SEEP_SHIM_FAULTS", self.faults.as_path());
            preload(command, self.shim, self.bench.folder.path(), faults);
        })
    }

    /// From now on: `OP ACTION WHICH`, on the log and what lies beside it.
    pub(super) fn fail(&self, faults: &[String]) {
        let lines: String = faults.iter().map(|f| format!("{f} trip.db\n")).collect();
        let fresh = self.faults.with_extension("new");
        std::fs::write(&fresh, lines).expect("written");
        std::fs::rename(&fresh, &self.faults).expect("renamed");
    }

    pub(super) fn heal(&self) {
        let _ = std::fs::remove_file(&self.faults);
    }

    /// Say so many readings, about 30 a second.
    pub(super) fn say(&mut self, readings: u32) {
        for _ in 0..readings {
            self.device.say_tank(200.0 + f64::from(self.said));
            self.said += 1;
            std::thread::sleep(std::time::Duration::from_millis(30));
        }
    }

    pub(super) fn said(&self) -> i64 {
        i64::from(self.said)
    }

    /// Wait until the status says nothing is wrong, nothing waits, and the last
    /// reading was heard.
    pub(super) fn wait_until_well(&self, recorder: &Recorder) {
        let last = f64::from(self.said - 1) + 200.0;
        wait(|| {
            self.bench.status().is_some_and(|s| {
                s["pid"] == recorder.id()
                    && s["trouble"].is_null()
                    && !s["session"].is_null()
                    && s["waiting_rows"] == 0
                    && s["channels"][0]["value"]
                        .as_f64()
                        .is_some_and(|v| (v - last).abs() < 0.01)
            })
        });
    }

    pub(super) fn wait_for_trouble(&self) {
        wait(|| {
            let status = self.bench.status();
            status.is_some_and(|s| !s["trouble"].is_null() && s["waiting_rows"].as_u64() > Some(0))
        });
    }

    /// `seepd status`: its exit code and what it says.
    pub(super) fn asked(&self) -> (i32, String) {
        let file = self.bench.status_file().display().to_string();
        let shown = run(SEEPD, &["status", "--status-file", &file]);
        let said = String::from_utf8_lossy(&shown.stdout).into_owned();
        (code(&shown), said)
    }
}

/// `N rows stored`, as the recorder says at its end.
pub(super) fn rows_stored(said: &str) -> u64 {
    let line = said.lines().find(|l| l.ends_with("rows stored"));
    let number = line.and_then(|l| l.rsplit(": ").next()?.split(' ').next()?.parse().ok());
    number.unwrap_or_else(|| panic!("no rows told: {said}"))
}
