//! Carries out what happens to a recorder.

use super::deck::Deed;
use super::history::{CHANGED, DEVICE_AWAY, FULL, Happened, History, KILLED, STOPPED, boot_ms};
use super::sender::{CHANNELS, Sender, Sent, channel, transducer};
use crate::SEEPD;
use crate::live::clients::CLIENTS;
use crate::live::file_changes::VARIANTS;
use crate::live::line::Socket;
use crate::live::process::{Bench, Recorder};
use crate::shim::{WallClock, preload, shim};
use rustix::process::Signal;
use seep_tests::seeded::Seeded;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// The recorder, its device and what happened to them.
pub(super) struct Stage {
    bench: Bench,
    sender: Sender,
    recorder: Option<Recorder>,
    history: History,
    clients: Vec<JoinHandle<()>>,
    faults: PathBuf,
    shim: Option<&'static Path>,
    clock: Option<WallClock>,
    kept: u32,
    /// The recorder did what it must not: the test ends here.
    pub(super) trouble: Option<String>,
}

/// A recorder that is well says so within this.
const WELL_WITHIN: Duration = Duration::from_secs(30);

impl Stage {
    pub(super) fn new() -> Self {
        let folder = tempfile::tempdir().expect("scratch");
        std::fs::create_dir(folder.path().join("logs")).expect("made");
        let socket = Socket::new(folder.path());
        let bench = Bench {
            log_name: Some("logs/trip.db".into()),
            ..Bench::new(socket.name(), folder)
        };
        bench.write_rig(&rig(socket.name()));
        let mut stage = Stage {
            faults: bench.folder.path().join("faults"),
            sender: Sender::new(socket),
            recorder: None,
            history: History::default(),
            clients: Vec::new(),
            shim: shim("chaos: a full disk"),
            clock: WallClock::new("chaos: steps of the clock", bench.folder.path()),
            bench,
            kept: 0,
            trouble: None,
        };
        stage.start();
        stage
    }

    pub(super) fn carry_out(&mut self, deed: &Deed, random: &mut Seeded) {
        let from_ms = boot_ms();
        let name = deed.name();
        match *deed {
            Deed::Client(i) => {
                let log = self.bench.log();
                self.clients
                    .push(std::thread::spawn(move || (CLIENTS[i].1)(&log)));
                self.history.add(name, from_ms, &[]);
            }
            Deed::Kill => self.kill(name, from_ms, None, random),
            Deed::Stop { ms } => self.stop(name, ms),
            Deed::StopThenKill { ms } => self.stop_then_kill(name, ms, random),
            Deed::Reload => {
                self.signal(Signal::HUP);
                std::thread::sleep(Duration::from_millis(500));
                self.history.add(name, from_ms, &KILLED);
            }
            Deed::Restart => self.restart(name, from_ms),
            Deed::Files(i) => self.change_files(name, i, from_ms),
            Deed::DiskFull { ms, then_kill } => self.fill_disk(name, ms, then_kill, random),
            Deed::ClockStep { ahead_ms } => self.step_clock(name, ahead_ms, from_ms),
            Deed::Replug { away_ms } => {
                self.sender.replug(Duration::from_millis(away_ms));
                self.wait_for_readings("a reading after the re-plug");
                self.history.add(name, from_ms, &[DEVICE_AWAY]);
            }
        }
        if self.recorder.as_mut().is_none_or(|r| !r.is_running()) {
            let said = self.recorder.take().map(Recorder::outcome);
            self.trouble
                .get_or_insert(format!("the recorder ended after {deed:?}: {said:?}"));
        }
    }

    fn start(&mut self) {
        let mut command = Command::new(SEEPD);
        if let Some(shim) = self.shim {
            let logs = self.bench.folder.path().join("logs");
            preload(
                &mut command,
                shim,
                &logs,
                ("SEEP_SHIM_FAULTS", &self.faults),
            );
        }
        if let Some(clock) = &self.clock {
            clock.preload(&mut command);
        }
        let recorder = self.bench.start_as(command);
        let id = recorder.id();
        self.recorder = Some(recorder);
        self.wait("a session", |stage| {
            let status = stage.bench.status();
            status.is_some_and(|s| s["pid"] == id && !s["session"].is_null())
        });
    }

    fn signal(&self, signal: Signal) {
        if let Some(recorder) = &self.recorder {
            recorder.signal(signal);
        }
    }

    /// SIGKILL, and a new start; what was not stored since then may be gone. What was
    /// sent since `unread_ms` was read by nobody.
    fn kill(&mut self, name: String, from_ms: i64, unread_ms: Option<i64>, random: &mut Seeded) {
        if let Some(recorder) = self.recorder.take() {
            recorder.kill();
        }
        let unread_ms = unread_ms.unwrap_or_else(boot_ms);
        std::thread::sleep(Duration::from_millis(random.below(1_500) as u64));
        let opened_ms = boot_ms();
        self.start();
        let happened = self.history.add(name, from_ms, &KILLED);
        happened.took_since_ms = Some(from_ms);
        happened.unread = Some((unread_ms, opened_ms));
    }

    fn stop(&mut self, name: String, ms: u64) {
        let from_ms = boot_ms();
        self.signal(Signal::STOP);
        std::thread::sleep(Duration::from_millis(ms));
        self.signal(Signal::CONT);
        self.history.add(name, from_ms, &STOPPED);
    }

    fn stop_then_kill(&mut self, name: String, ms: u64, random: &mut Seeded) {
        let from_ms = boot_ms();
        self.signal(Signal::STOP);
        // A thread that runs stops at its next tick of the kernel.
        let unread_ms = boot_ms() + 100;
        std::thread::sleep(Duration::from_millis(ms));
        self.kill(name, from_ms, Some(unread_ms), random);
    }

    fn restart(&mut self, name: String, from_ms: i64) {
        self.end_recorder();
        let unread_ms = boot_ms();
        self.start();
        let happened = self.history.add(name, from_ms, &KILLED);
        happened.unread = Some((unread_ms, unread_ms));
    }

    fn step_clock(&mut self, name: String, ahead_ms: i64, from_ms: i64) {
        if let Some(clock) = &self.clock {
            clock.set_ms(ahead_ms);
            self.history.steps.push((from_ms, ahead_ms));
            self.history.add(name, from_ms, &[]);
        }
    }

    fn fill_disk(&mut self, name: String, ms: u64, then_kill: bool, random: &mut Seeded) {
        if self.shim.is_none() {
            return;
        }
        let from_ms = boot_ms();
        std::fs::write(&self.faults, "write 28 1 trip.db\n").expect("written");
        std::thread::sleep(Duration::from_millis(ms));
        if then_kill {
            if let Some(recorder) = self.recorder.take() {
                recorder.kill();
            }
            std::fs::remove_file(&self.faults).expect("there");
            return self.kill(name, from_ms, None, random);
        }
        std::fs::remove_file(&self.faults).expect("there");
        let before = self.stored();
        self.wait("a commit after the full disk", |s| s.stored() > before);
        self.history.add(name, from_ms, &FULL);
    }

    /// SIGTERM: it ends well, or with the true reason why rows are lost.
    fn end_recorder(&mut self) {
        let Some(recorder) = self.recorder.take() else {
            return;
        };
        let (code, said) = recorder.stop();
        let true_loss = code == 74
            && self.history.happened.iter().any(|h| h.destroys)
            && said.contains("destroyed by another program")
            && !said.contains("could not be stored");
        if code != 0 && !true_loss {
            self.trouble
                .get_or_insert(format!("SIGTERM ended it with {code}: {said}"));
        }
    }

    /// Files change; the recorder must say it and go on.
    fn change_files(&mut self, name: String, variant: usize, from_ms: i64) {
        self.join_clients();
        self.put_by();
        let variant = &VARIANTS[variant];
        let before = self.change_told();
        (variant.deed)(&self.bench.log());
        // The same deed is told in the same words about another file.
        let file = self.log_inode();
        self.wait("word of the change", |s| {
            s.change_told() != before || s.log_inode() != file
        });
        let stored = self.stored();
        self.wait("a commit after the change", |s| s.stored() > stored);
        let happened = self.history.add(name, from_ms, &CHANGED);
        happened.destroys = !variant.costs_nothing;
        self.put_by();
    }

    /// What was moved aside is brought where no later deed reaches it.
    fn put_by(&mut self) {
        let top = self.bench.folder.path();
        let to = top.join(format!("kept-{}", self.kept));
        self.kept += 1;
        std::fs::create_dir(&to).expect("made");
        let in_use = ["", "-wal", "-shm", "-journal"].map(|e| format!("trip.db{e}"));
        for entry in std::fs::read_dir(top.join("logs"))
            .expect("there")
            .flatten()
        {
            let name = entry.file_name().to_string_lossy().into_owned();
            if !in_use.contains(&name) {
                let _ = std::fs::rename(entry.path(), to.join(name));
            }
        }
        let _ = std::fs::rename(top.join("elsewhere"), to.join("elsewhere"));
    }

    fn stored(&self) -> u64 {
        let status = self.bench.status();
        status.and_then(|s| s["stored_rows"].as_u64()).unwrap_or(0)
    }

    fn log_inode(&self) -> Option<u64> {
        use std::os::unix::fs::MetadataExt as _;
        std::fs::metadata(self.bench.log()).ok().map(|m| m.ino())
    }

    fn change_told(&self) -> String {
        let status = self.bench.status();
        status.map_or(String::new(), |s| {
            format!("{} {}", s["log_changed"], s["session"])
        })
    }

    fn wait_for_readings(&mut self, what: &str) {
        let enough = self.sender.count() + 3;
        self.wait(what, |s| s.sender.count() >= enough);
    }

    fn wait(&mut self, what: &str, mut done: impl FnMut(&Self) -> bool) {
        let until = Instant::now() + WELL_WITHIN;
        while !done(self) {
            let ended = self.recorder.as_mut().is_some_and(|r| !r.is_running());
            if ended || Instant::now() > until {
                let status = self.bench.status();
                self.trouble
                    .get_or_insert(format!("waited for {what} in vain: {status:?}"));
                return;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    fn join_clients(&mut self) {
        for client in self.clients.drain(..) {
            client.join().expect("no panic");
        }
    }

    /// Stop everything; the trouble, if any, is the last that happened.
    pub(super) fn end(mut self) -> (Bench, History, Vec<Sent>) {
        let _ = std::fs::remove_file(&self.faults);
        self.join_clients();
        let (sent, stalls) = self.sender.end();
        // What is still in the line is read.
        std::thread::sleep(Duration::from_millis(500));
        self.end_recorder();
        self.history.happened.extend(stalls.happened);
        self.history.happened.sort_by_key(|h| h.from_ms);
        if let Some(trouble) = self.trouble {
            self.history
                .add(format!("TROUBLE: {trouble}"), boot_ms(), &[]);
        }
        (self.bench, self.history, sent)
    }
}

/// True for the mark that the recorder did what it must not.
pub(super) fn is_trouble(happened: &Happened) -> bool {
    happened.name.starts_with("TROUBLE")
}

fn rig(line: &Path) -> String {
    let mut text = format!(
        "[vehicle]\nname = \"invented\"\n[recorder]\nrest_commit_s = 2.0\nkeep_free_mb = 1\n\
         [[source]]\nname = \"box\"\nkind = \"nmea\"\ndevice = \"{}\"\nbaud = 38400\nsilence_s = 3\n",
        line.display()
    );
    for i in 0..CHANNELS {
        let (name, transducer) = (channel(i), transducer(i));
        let _ = write!(
            text,
            "[[channel]]\nname = \"{name}\"\nsource = \"box\"\ntransducer = \"{transducer}\"\n"
        );
    }
    text
}
