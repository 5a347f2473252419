//! The far end of a serial line.

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{LocalModes, tcgetattr};
use std::fs::File;
use std::io::Write;
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// A device that can be plugged in again and again under one name.
pub(crate) struct Socket {
    name: PathBuf,
}

/// A plugged-in device: what is written comes out of the line.
pub(crate) struct Device {
    master: File,
    /// Held to see what the reader has not taken yet.
    own: OwnedFd,
}

impl Socket {
    pub(crate) fn new(folder: &Path) -> Self {
        Socket {
            name: folder.join("line"),
        }
    }

    pub(crate) fn name(&self) -> &Path {
        &self.name
    }

    /// Plug a device in; it gets a number of its own each time.
    pub(crate) fn plug(&self) -> Device {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pseudo terminal");
        grantpt(&master).expect("granted");
        unlockpt(&master).expect("unlocked");
        let path = ptsname(&master, Vec::new()).expect("a name");
        let path = PathBuf::from(path.to_str().expect("text"));
        let own = File::options()
            .read(true)
            .write(true)
            .open(&path)
            .expect("opens");
        let fresh = self.name.with_extension("new");
        let _ = std::fs::remove_file(&fresh);
        std::os::unix::fs::symlink(&path, &fresh).expect("linked");
        std::fs::rename(&fresh, &self.name).expect("renamed");
        Device {
            master: master.into(),
            own: own.into(),
        }
    }

    /// Pull it out.
    pub(crate) fn unplug(&self, device: Device) {
        std::fs::remove_file(&self.name).expect("was there");
        drop(device.own);
        drop(device.master);
    }
}

impl Device {
    /// Waits until a reader has the line: what is sent before cannot be dated.
    pub(crate) fn wait_for_reader(&self) {
        wait(|| self.was_opened() && self.is_locked());
    }

    /// True once a reader has opened the line and made it raw; the modes stay when
    /// that reader is killed.
    pub(crate) fn was_opened(&self) -> bool {
        let modes = tcgetattr(&self.own).expect("a terminal").local_modes;
        !modes.contains(LocalModes::ECHO) && !modes.contains(LocalModes::ICANON)
    }

    /// True while a reader holds its lock on the line.
    fn is_locked(&self) -> bool {
        let end = format!(
            ":{} 0 EOF",
            rustix::fs::fstat(&self.own).expect("open").st_ino
        );
        let locks = std::fs::read_to_string("/proc/locks").expect("Linux");
        let locked = |l: &str| l.contains("FLOCK") && l.contains(" 00:") && l.ends_with(&end);
        locks.lines().any(locked)
    }

    /// Where another program writes what the line is to carry.
    pub(crate) fn far_end(&self) -> File {
        self.master.try_clone().expect("another handle")
    }

    pub(crate) fn write(&mut self, bytes: &[u8]) {
        self.master.write_all(bytes).expect("written");
    }

    /// A sentence with one tank pressure, kPa.
    pub(crate) fn say_tank(&mut self, kpa: f64) {
        self.say_pressure("TKP", kpa);
    }

    /// A sentence with one pressure under a name, kPa.
    pub(crate) fn say_pressure(&mut self, name: &str, kpa: f64) {
        self.write(pressure_sentence(name, kpa).as_bytes());
    }

    /// Says tank pressures as fast as the line takes them, until the returned
    /// value is dropped.
    pub(crate) fn flood(&self) -> Flood {
        let mut master = self.master.try_clone().expect("another handle");
        // Nobody may be left to read when the flood ends.
        let flags = rustix::fs::OFlags::NONBLOCK | rustix::fs::OFlags::RDWR;
        rustix::fs::fcntl_setfl(&master, flags).expect("set");
        let stop = Arc::new(AtomicBool::new(false));
        let told = stop.clone();
        let thread = std::thread::spawn(move || {
            let text = pressure_sentence("TKP", 800.0).repeat(40);
            while !told.load(Ordering::Relaxed) {
                if master.write(text.as_bytes()).is_err() {
                    std::thread::sleep(Duration::from_millis(1));
                }
            }
        });
        Flood(stop, Some(thread))
    }
}

fn pressure_sentence(name: &str, kpa: f64) -> String {
    let body = format!("YXXDR,P,{:.4},B,{name}", kpa / 100.0);
    let sum = body.bytes().fold(0u8, |s, b| s ^ b);
    format!("${body}*{sum:02X}\r\n")
}

/// A line that is never quiet; it is again once this is dropped.
pub(crate) struct Flood(Arc<AtomicBool>, Option<JoinHandle<()>>);

impl Drop for Flood {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
        if let Some(thread) = self.1.take() {
            let _ = thread.join();
        }
    }
}

/// Wait for something, at most half a minute.
pub(crate) fn wait(mut done: impl FnMut() -> bool) {
    let until = Instant::now() + Duration::from_secs(30);
    while !done() {
        assert!(Instant::now() < until, "waited half a minute in vain");
        std::thread::sleep(Duration::from_millis(2));
    }
}
