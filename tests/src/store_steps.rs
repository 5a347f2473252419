//! `store-steps FOLDER PHASE [OLD]`: the life of a log, one phase per process,
//! and into FOLDER/marks what was asked for and what was acknowledged. Each
//! mark is one write: `LOG WORD FROM TO`, log times in ms.

use seep_common::store::{
    EndReason, SessionId, SessionStart, StoreError, Writer, set_aside, snapshot,
};
use seep_common::time::{BootMs, LogMs};
use seep_tests::pattern::{CHANNELS, PER_COMMIT, STEP_MS, commit, rig};
use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};

type Done = Result<(), Box<dyn std::error::Error>>;

fn main() -> Done {
    let args: Vec<PathBuf> = std::env::args_os().skip(1).map(PathBuf::from).collect();
    let [folder, phase, rest @ ..] = args.as_slice() else {
        return Err("give FOLDER PHASE [OLD]".into());
    };
    let marks = File::options()
        .create(true)
        .append(true)
        .open(folder.join("marks"))?;
    let mut life = Life {
        folder: folder.clone(),
        marks,
    };
    match (phase.to_str(), rest) {
        (Some("record"), []) => life.record(),
        (Some("killed"), []) => life.killed(),
        (Some("retention"), []) => life.retention(),
        (Some("migration"), [old]) => life.migration(old),
        (Some("set-aside"), []) => life.set_aside(),
        (Some("reopen"), []) => life.reopen(),
        _ => Err("no such phase".into()),
    }
}

struct Life {
    folder: PathBuf,
    marks: File,
}

/// A log being recorded.
struct Log {
    name: &'static str,
    writer: Writer,
    session: SessionId,
    next_t_ms: i64,
    channels: usize,
}

impl Life {
    fn mark(&mut self, log: &str, word: &str, from: i64, to: i64) -> Done {
        Ok(self
            .marks
            .write_all(format!("{log} {word} {from} {to}\n").as_bytes())?)
    }

    fn phase(&mut self, name: &str) -> Done {
        self.mark(name, "phase", 0, 0)
    }

    fn begin(
        &mut self,
        name: &'static str,
        mut writer: Writer,
        channels: usize,
    ) -> Result<Log, Box<dyn std::error::Error>> {
        let t_ms = writer.last_t_ms().unwrap_or(LogMs(0)).plus(10_000);
        let t_ms = t_ms.plus(-(t_ms.0 % STEP_MS));
        let start = SessionStart {
            boot_id: format!("boot-{t_ms}"),
            t_ms,
            program: "store-steps".into(),
            origin: "live".into(),
            start_boot_ms: Some(BootMs(5_000)),
        };
        let session = writer.begin_session(&start, &rig(channels))?;
        Ok(Log {
            name,
            writer,
            session,
            next_t_ms: t_ms.0,
            channels,
        })
    }

    fn commits(&mut self, log: &mut Log, how_many: usize) -> Done {
        for _ in 0..how_many {
            let from = log.next_t_ms;
            let to = from + (PER_COMMIT - 1) * STEP_MS;
            self.mark(log.name, "asked", from, to)?;
            log.writer
                .append(log.session, &commit(from, log.channels))?;
            self.mark(log.name, "acknowledged", from, to)?;
            log.next_t_ms = to + STEP_MS;
        }
        Ok(())
    }

    fn close(&mut self, mut log: Log) -> Done {
        log.writer
            .end_session(log.session, LogMs(log.next_t_ms), EndReason::Stopped)?;
        log.writer.close()?;
        Ok(())
    }

    fn record(&mut self) -> Done {
        self.phase("start-up")?;
        let writer = Writer::create(&self.at("trip.db"))?;
        self.phase("first-session")?;
        let mut log = self.begin("trip.db", writer, 3)?;
        self.commits(&mut log, 5)?;
        self.phase("commits-and-checkpoints")?;
        self.commits(&mut log, 500)?;
        self.phase("close")?;
        self.close(log)
    }

    /// A start on a closed log, a new channel, and an end without notice.
    fn killed(&mut self) -> Done {
        self.phase("start-on-closed-log")?;
        let writer = Writer::open(&self.at("trip.db"))?;
        let mut log = self.begin("trip.db", writer, CHANNELS.len())?;
        self.commits(&mut log, 60)?;
        std::process::exit(0);
    }

    fn retention(&mut self) -> Done {
        self.phase("start-after-power-loss")?;
        let writer = Writer::open(&self.at("trip.db"))?;
        let mut log = self.begin("trip.db", writer, CHANNELS.len())?;
        self.commits(&mut log, 10)?;
        self.phase("snapshot")?;
        let to = log.next_t_ms;
        self.mark("copy.db", "begun", 0, to)?;
        snapshot(&self.at("trip.db"), &self.at("copy.db"))?;
        self.mark("copy.db", "copied", 0, to)?;
        self.commits(&mut log, 5)?;
        self.phase("retention")?;
        while let Some(oldest) = log.writer.oldest_deletable(log.session)? {
            let (from, to) = (oldest.from_t_ms, oldest.to_t_ms);
            self.mark("trip.db", "deleting", from.0, to.0)?;
            log.writer.delete_readings(oldest)?;
            self.commits(&mut log, 10)?;
        }
        self.close(log)
    }

    /// A log of an older version, on the disk since long ago.
    fn migration(&mut self, old: &Path) -> Done {
        let path = self.at("old.db");
        std::fs::write(&path, std::fs::read(old)?)?;
        File::open(&path)?.sync_all()?;
        File::open(&self.folder)?.sync_all()?;
        self.mark("old.db", "old", 0, 0)?;
        self.phase("migration")?;
        let writer = Writer::open(&path)?;
        self.mark("old.db", "migrated", 0, 0)?;
        let mut log = self.begin("old.db", writer, CHANNELS.len())?;
        self.commits(&mut log, 5)?;
        self.close(log)
    }

    /// A damaged log is moved away with all that lies beside it.
    fn set_aside(&mut self) -> Done {
        let path = self.at("bad.db");
        let bytes = vec![0xA5; 40_000];
        std::fs::write(&path, &bytes)?;
        File::open(&path)?.sync_all()?;
        let wal = self.at("bad.db-wal");
        std::fs::write(&wal, &bytes)?;
        File::open(&wal)?.sync_all()?;
        File::open(&self.folder)?.sync_all()?;
        self.mark("bad.db", "damaged", 0, 0)?;
        self.phase("set-aside")?;
        set_aside(&path)?;
        let writer = Writer::create(&path)?;
        let mut log = self.begin("bad.db", writer, 3)?;
        self.commits(&mut log, 5)?;
        self.close(log)
    }

    /// Say what comes of opening the log to go on with it.
    fn reopen(&mut self) -> Done {
        match Writer::open(&self.at("trip.db")) {
            Ok(_) => println!("opened"),
            Err(e @ (StoreError::Damaged { .. } | StoreError::NotSqlite { .. })) => {
                println!("damaged: {e}");
            }
            Err(e) if e.is_unreadable() => println!("unreadable"),
            Err(e) => println!("other: {e}"),
        }
        Ok(())
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }
}
