//! Rows to the log. The folder is in memory where the system has such a place,
//! so it is the work that is timed, not the disk.

use crate::inputs::{rig, rows};
use divan::Bencher;
use divan::counter::ItemsCount;
use seep_common::rig::Rig;
use seep_common::store::{
    Batch, ClockRow, ClockState, EndReason, SessionId, SessionStart, Writer, inspect,
};
use seep_common::time::LogMs;
use seep_tests::scratch::scratch;
use tempfile::TempDir;

/// A new log with a session begun.
struct Begun {
    writer: Writer,
    session: SessionId,
    /// Removed after the writer is closed.
    _folder: TempDir,
}

impl Begun {
    fn new(rig: &Rig) -> Self {
        let folder = scratch();
        let mut writer = Writer::create(&folder.path().join("log.db")).expect("a new log");
        let start = SessionStart {
            boot_id: "bench".into(),
            t_ms: rows().ticks[0].t_ms,
            program: "bench".into(),
            origin: "bench".into(),
            start_boot_ms: None,
        };
        let session = writer.begin_session(&start, rig).expect("a session");
        Begun {
            writer,
            session,
            _folder: folder,
        }
    }

    fn append(&mut self, batch: &Batch) {
        self.writer.append(self.session, batch).expect("stored");
    }
}

/// All rows in one transaction, as a replay stores them; items are rows.
#[divan::bench(sample_size = 1, sample_count = 50)]
fn append_as_replay(bencher: Bencher) {
    let rig = rig();
    bencher
        .counter(ItemsCount::new(rows().ticks.len()))
        .with_inputs(|| Begun::new(&rig))
        .bench_local_refs(|begun| begun.append(rows()));
}

/// The same rows 20 at a time, as a recorder commits while the car is driven;
/// items are rows.
#[divan::bench(sample_size = 1, sample_count = 50)]
fn append_as_recorder(bencher: Bencher) {
    let rig = rig();
    let commits: Vec<Batch> = rows().ticks.chunks(20).map(commit).collect();
    bencher
        .counter(ItemsCount::new(rows().ticks.len()))
        .with_inputs(|| Begun::new(&rig))
        .bench_local_refs(|begun| commits.iter().for_each(|batch| begun.append(batch)));
}

fn commit(ticks: &[seep_common::tick::Tick]) -> Batch {
    Batch {
        ticks: ticks.to_vec(),
        ..Batch::default()
    }
}

/// `seep verify` looks over a log of so many sessions of two rows each; items are
/// sessions, so that the rate stays when the work is linear in them.
#[divan::bench(args = [100, 1_000, 10_000], sample_size = 1, sample_count = 5)]
fn inspect_sessions(bencher: Bencher, sessions: usize) {
    let (folder, path) = log_of_sessions(sessions);
    bencher
        .counter(ItemsCount::new(sessions))
        .bench_local(|| assert!(inspect(&path, 60_000).expect("looked over").is_sound()));
    drop(folder);
}

fn log_of_sessions(sessions: usize) -> (TempDir, std::path::PathBuf) {
    let (folder, rig) = (scratch(), rig());
    let path = folder.path().join("log.db");
    let mut writer = Writer::create(&path).expect("a new log");
    for i in 0..sessions as i64 {
        let t_ms = LogMs(i * 120_000);
        let start = SessionStart {
            boot_id: format!("bench {i}"),
            t_ms,
            program: "bench".into(),
            origin: "bench".into(),
            start_boot_ms: None,
        };
        let session = writer.begin_session(&start, &rig).expect("a session");
        let mut ticks = rows().ticks[..2].to_vec();
        ticks[0].t_ms = t_ms;
        ticks[1].t_ms = t_ms.plus(100);
        let clock = ClockRow {
            noted_t_ms: t_ms,
            from_t_ms: t_ms,
            offset_ms: 0,
            state: ClockState::Synced,
        };
        let batch = Batch {
            clock: vec![clock],
            ..commit(&ticks)
        };
        writer.append(session, &batch).expect("stored");
        writer
            .end_session(session, t_ms.plus(1_000), EndReason::Stopped)
            .expect("ended");
    }
    writer.close().expect("closed");
    (folder, path)
}
