//! The recorder as a process.

use super::line::Socket;
use crate::SEEPD;
use rustix::process::{Pid, Signal, kill_process};
use seep_common::store::Reader;
use seep_common::time::LogMs;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// Everything in one scratch folder.
pub(crate) struct Bench {
    pub folder: tempfile::TempDir,
    /// Name of the log in the folder, where it is not the usual one.
    pub log_name: Option<String>,
}

/// A running recorder.
pub(crate) struct Recorder {
    child: Option<Child>,
}

/// A test that fails leaves no recorder behind.
impl Drop for Recorder {
    fn drop(&mut self) {
        if let Some(mut child) = self.child.take() {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

impl Bench {
    /// A rig with one serial line and a tank pressure, invented.
    pub(crate) fn new(line: &Path, folder: tempfile::TempDir) -> Self {
        let bench = Bench {
            folder,
            log_name: None,
        };
        bench.write_rig(&format!(
            "[vehicle]\nname = \"invented\"\n[tank]\nvolume_l = 12.0\n\
             [[source]]\nname = \"box\"\nkind = \"nmea\"\ndevice = \"{}\"\nbaud = 38400\nsilence_s = 3\n\
             [[channel]]\nname = \"tank_kpa_gauge\"\nsource = \"box\"\ntransducer = \"TKP\"\n",
            line.display()
        ));
        bench
    }

    /// A bench in a scratch folder of its own, and the socket of its line.
    pub(crate) fn on_a_line() -> (Self, Socket) {
        let folder = tempfile::tempdir().expect("scratch");
        let socket = Socket::new(folder.path());
        (Self::new(socket.name(), folder), socket)
    }

    pub(crate) fn write_rig(&self, text: &str) {
        std::fs::write(self.rig(), text).expect("written");
    }

    pub(crate) fn rig(&self) -> PathBuf {
        self.folder.path().join("rig.toml")
    }

    pub(crate) fn log(&self) -> PathBuf {
        let name = self.log_name.as_deref().unwrap_or("trip.db");
        self.folder.path().join(name)
    }

    pub(crate) fn status_file(&self) -> PathBuf {
        self.folder.path().join("status.json")
    }

    pub(crate) fn start(&self) -> Recorder {
        self.start_with(|_| {})
    }

    /// Start it in surroundings of its own.
    pub(crate) fn start_with(&self, surroundings: impl FnOnce(&mut Command)) -> Recorder {
        let mut command = Command::new(SEEPD);
        surroundings(&mut command);
        self.start_as(command)
    }

    /// Start it by a command of the test's own.
    pub(crate) fn start_as(&self, command: Command) -> Recorder {
        self.start_with_files(command, &self.log(), &self.status_file())
    }

    /// Start another one on a file of the folder, with a status of its own.
    pub(crate) fn start_on(&self, log: &str) -> Recorder {
        let folder = self.folder.path();
        let status = folder.join("second-status.json");
        self.start_with_files(Command::new(SEEPD), &folder.join(log), &status)
    }

    fn start_with_files(&self, mut command: Command, log: &Path, status: &Path) -> Recorder {
        let child = command
            .args(["run", "--rig"])
            .arg(self.rig())
            .arg("--log")
            .arg(log)
            .arg("--status-file")
            .arg(status)
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("starts");
        Recorder { child: Some(child) }
    }

    /// The status, once the recorder has written one.
    pub(crate) fn status(&self) -> Option<Value> {
        serde_json::from_slice(&std::fs::read(self.status_file()).ok()?).ok()
    }

    /// Wait until the recorder says that it has so many readings. What a line
    /// still holds cannot be seen from outside, so only its own word counts.
    pub(crate) fn wait_for_readings(&self, n: u64) {
        super::line::wait(|| {
            let status = self.status();
            status.is_some_and(|s| s["channels"][0]["readings"].as_u64() >= Some(n))
        });
    }

    pub(crate) fn reader(&self) -> Reader {
        Reader::open(&self.log()).expect("a log")
    }

    /// Sum of a counter over everything recorded.
    pub(crate) fn counted(&self, name: &str) -> i64 {
        let counters = self
            .reader()
            .counters(LogMs::MIN, LogMs::MAX)
            .expect("read");
        counters
            .iter()
            .filter(|c| c.name == name)
            .map(|c| c.count)
            .sum()
    }
}

impl Recorder {
    pub(crate) fn signal(&self, signal: Signal) {
        kill_process(Pid::from_child(self.running()), signal).expect("runs");
    }

    /// SIGTERM; the exit code and what was said.
    pub(crate) fn stop(self) -> (i32, String) {
        self.signal(Signal::TERM);
        self.outcome()
    }

    /// SIGKILL.
    pub(crate) fn kill(self) {
        self.signal(Signal::KILL);
        self.outcome();
    }

    /// True until it has ended.
    pub(crate) fn is_running(&mut self) -> bool {
        let child = self.child.as_mut().expect("started");
        child.try_wait().expect("a child").is_none()
    }

    pub(crate) fn id(&self) -> u32 {
        self.running().id()
    }

    /// Wait for it to end; the exit code and what was said.
    pub(crate) fn outcome(mut self) -> (i32, String) {
        let child = self.child.take().expect("running");
        let done = child.wait_with_output().expect("ends");
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        (done.status.code().unwrap_or(255), said)
    }

    /// Waits for its end without reading what it says; the exit code.
    pub(crate) fn code_unread(mut self) -> i32 {
        let child = self.child.as_mut().expect("running");
        super::line::wait(|| child.try_wait().expect("a child").is_some());
        let ended = child.wait().expect("ended");
        ended.code().unwrap_or(255)
    }

    fn running(&self) -> &Child {
        self.child.as_ref().expect("running")
    }
}
