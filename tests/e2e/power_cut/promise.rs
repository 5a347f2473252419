//! What was promised until a moment, and whether a folder keeps it.

use seep_common::store::{
    EndReason, Reader, SessionStart, StoreError, Writer, inspect, set_aside, snapshot,
};
use seep_common::time::{BootMs, LogMs};
use seep_tests::pattern::{CHANNELS, PER_COMMIT, STEP_MS, commit, count, rig};
use std::collections::{BTreeMap, HashSet};
use std::path::Path;

/// Marks of the recorded program, folded.
#[derive(Debug, Clone, Default)]
pub(super) struct Promise {
    /// The part of the life that runs.
    pub(super) phase: String,
    logs: BTreeMap<String, Told>,
    /// A snapshot was begun.
    copying: bool,
}

#[derive(Debug, Clone, Default)]
struct Told {
    /// Acknowledged spans of ticks, first and last.
    acknowledged: Vec<(i64, i64)>,
    /// The last tick that was asked to be stored.
    asked_ms: Option<i64>,
    /// Spans that retention may have taken.
    deleting: Vec<(i64, i64)>,
    /// A snapshot is complete.
    copied: bool,
    /// Began as a log of an older version.
    old: bool,
    migrated: bool,
    /// Began as a damaged file.
    damaged: bool,
}

/// What was found after a cut.
#[derive(Debug, Clone, Default)]
pub(super) struct Found {
    pub(super) damaged: Vec<String>,
    pub(super) lost_ticks: usize,
    /// Data asked to be stored and not there, s.
    pub(super) loss_s: f64,
}

impl Promise {
    /// Take a mark.
    pub(super) fn take(&mut self, line: &str, old_ticks: &[(i64, i64)]) {
        let words: Vec<&str> = line.split_whitespace().collect();
        let number = |i: usize| words[i].parse::<i64>().expect("a log time");
        let (name, word, span) = (words[0], words[1], (number(2), number(3)));
        if word == "phase" {
            self.phase = name.into();
            return;
        }
        if word == "begun" {
            self.copying = true;
            return;
        }
        let before = self.logs.get("trip.db").cloned().unwrap_or_default();
        let told = self.logs.entry(name.into()).or_default();
        match word {
            "asked" => told.asked_ms = Some(span.1),
            "acknowledged" => told.acknowledged.push(span),
            "deleting" => told.deleting.push(span),
            "copied" => {
                told.acknowledged = before.acknowledged;
                told.copied = true;
            }
            "old" => {
                told.old = true;
                told.acknowledged = old_ticks.to_vec();
            }
            "migrated" => told.migrated = true,
            "damaged" => told.damaged = true,
            other => panic!("no such mark: {other}"),
        }
    }

    /// Open what lies in the folder as the recorder would, and look at it.
    pub(super) fn check(&self, folder: &Path) -> Found {
        let mut found = Found::default();
        for (name, told) in &self.logs {
            let path = folder.join(name);
            let mut say = |what: String| found.damaged.push(format!("{name}: {what}"));
            if told.copied {
                if let Err(e) = sound(&path) {
                    say(format!("snapshot: {e}"));
                }
            } else if let Err(e) = go_on(&path, told.damaged) {
                say(e);
                continue;
            }
            if told.old {
                check_old_copy(&path, told, &mut say);
            }
            match stored(&path, told) {
                Ok((lost, in_flight)) => {
                    found.lost_ticks += lost;
                    let loss_s = ((lost + in_flight) as i64 * STEP_MS) as f64 / 1000.0;
                    found.loss_s = found.loss_s.max(loss_s);
                }
                Err(e) => say(e),
            }
        }
        // The copy is begun, or was made: it may lie there in any state.
        if self.copying {
            copy_again(folder, &mut found);
        }
        found
    }
}

/// A copy never lies empty or half made under its final name, and what the cut
/// left of it beside is gone after the next one.
fn copy_again(folder: &Path, found: &mut Found) {
    let copy = folder.join("copy.db");
    let mut say = |what: String| found.damaged.push(format!("copy.db: {what}"));
    if copy.exists() {
        if let Err(e) = sound(&copy) {
            say(format!("half made: {e}"));
        }
        std::fs::remove_file(&copy).expect("removed");
    }
    match snapshot(&folder.join("trip.db"), &copy) {
        Ok(()) => {}
        Err(e) => say(format!("cannot be made again: {e}")),
    }
    let left = std::fs::read_dir(folder).expect("a folder").any(|entry| {
        let name = entry.expect("an entry").file_name();
        name.to_string_lossy().contains(".part")
    });
    if left {
        say("something unfinished is left behind".into());
    }
}

/// The copy made before a migration is complete, or is not there yet.
fn check_old_copy(path: &Path, told: &Told, say: &mut impl FnMut(String)) {
    let copy = path.with_extension("db.schema-1");
    if !copy.exists() {
        if told.migrated {
            say("migrated, and the copy aside is gone".into());
        }
        return;
    }
    let ticks = sound(&copy).and_then(|()| {
        Reader::open(&copy)
            .and_then(|r| r.tick_count())
            .map_err(|e| e.to_string())
    });
    let old: i64 = told
        .acknowledged
        .iter()
        .take(2)
        .map(|s| (s.1 - s.0) / STEP_MS + 1)
        .sum();
    match ticks {
        Ok(n) if n as i64 == old => {}
        Ok(n) => say(format!("the copy aside has {n} of {old} ticks")),
        Err(e) => say(format!("the copy aside: {e}")),
    }
}

/// Open, record a little, close; `damaged` when the log was garbage before.
pub(super) fn go_on(path: &Path, damaged: bool) -> Result<(), String> {
    let words = |e: StoreError| e.to_string();
    let opened = if path.exists() {
        // `seepd run` and `seep` look first.
        match Reader::open(path) {
            Ok(_) | Err(StoreError::NothingYet { .. }) => {}
            Err(_) if damaged => {}
            Err(e) => return Err(format!("looked at first: {e}")),
        }
        Writer::open(path)
    } else {
        Writer::create(path)
    };
    let mut writer = match opened {
        Ok(writer) => writer,
        // Garbage from the beginning: kept aside, whatever became of the move.
        Err(StoreError::Damaged { .. } | StoreError::NotSqlite { .. }) if damaged => {
            set_aside(path).map_err(words)?;
            Writer::create(path).map_err(words)?
        }
        Err(e) => return Err(e.to_string()),
    };
    if damaged {
        garbage_is_kept(path)?;
    }
    let after_ms = writer.last_t_ms().map_or(0, |t| t.0) + 3_600_000;
    let t_ms = after_ms - after_ms % STEP_MS + 1;
    let start = SessionStart {
        boot_id: "after the cut".into(),
        t_ms: LogMs(t_ms),
        program: "test".into(),
        origin: "live".into(),
        start_boot_ms: Some(BootMs(1)),
    };
    let session = writer
        .begin_session(&start, &rig(CHANNELS.len()))
        .map_err(words)?;
    writer
        .append(session, &commit(t_ms, CHANNELS.len()))
        .map_err(words)?;
    writer
        .end_session(session, LogMs(t_ms + 10_000), EndReason::Stopped)
        .map_err(words)?;
    writer.close().map_err(words)?;
    sound(path)
}

fn garbage_is_kept(path: &Path) -> Result<(), String> {
    let folder = path.parent().expect("a folder");
    let kept = |ending: &str| {
        std::fs::read_dir(folder).expect("a folder").any(|entry| {
            let path = entry.expect("an entry").path();
            let is_it = path.to_string_lossy().ends_with(ending);
            is_it && std::fs::read(&path).is_ok_and(|b| b == vec![0xA5; 40_000])
        })
    };
    match (kept("damaged-1"), kept("damaged-1-wal")) {
        (true, true) => Ok(()),
        (file, wal) => Err(format!(
            "set aside: file kept {file}, its write-ahead log {wal}"
        )),
    }
}

fn sound(path: &Path) -> Result<(), String> {
    let inspection = inspect(path, i64::MAX).map_err(|e| e.to_string())?;
    // The program that was recorded notes no clock; that is no fault here.
    let disorder: Vec<_> = inspection
        .disorder
        .iter()
        .filter(|d| !d.contains("clock record"))
        .collect();
    if inspection.damage.is_empty() && disorder.is_empty() {
        return Ok(());
    }
    Err(format!("{:?} {disorder:?}", inspection.damage))
}

/// How many acknowledged ticks are not there, and how many of the commit that
/// was under way.
fn stored(path: &Path, told: &Told) -> Result<(usize, usize), String> {
    let reader = Reader::open(path).map_err(|e| e.to_string())?;
    let columns = reader
        .columns(&CHANNELS, LogMs::MIN, LogMs::MAX)
        .map_err(|e| e.to_string())?;
    for channel in reader.channels().map_err(|e| e.to_string())? {
        let i = CHANNELS
            .iter()
            .position(|c| *c == channel.name)
            .expect("known");
        for (t_ms, value) in columns.t_ms.iter().zip(&columns.values[i]) {
            let right = (count(*t_ms, i) as f64 * channel.resolution) as f32;
            if !value.is_nan() && value.to_bits() != right.to_bits() {
                return Err(format!(
                    "{} at {t_ms} ms is {value}, not {right}",
                    channel.name
                ));
            }
        }
    }
    if told.deleting.is_empty() {
        // A commit is there whole or not at all.
        let counters = reader
            .counters(LogMs::MIN, LogMs::MAX)
            .map_err(|e| e.to_string())?;
        let counted: i64 = counters.iter().map(|c| c.count).sum();
        if counted != columns.t_ms.len() as i64 {
            return Err(format!("{} ticks, counted {counted}", columns.t_ms.len()));
        }
    }
    // The ticks added after the cut are off the grid.
    let there: HashSet<i64> = columns
        .t_ms
        .iter()
        .copied()
        .filter(|t| t % STEP_MS == 0)
        .collect();
    let taken = |t: i64| told.deleting.iter().any(|d| d.0 <= t && t < d.1);
    let lost = told
        .acknowledged
        .iter()
        .flat_map(|s| (s.0..=s.1).step_by(STEP_MS as usize))
        .filter(|t| !there.contains(t) && !taken(*t))
        .count();
    let in_flight = told.asked_ms.map_or(0, |to| {
        (to - (PER_COMMIT - 1) * STEP_MS..=to)
            .step_by(STEP_MS as usize)
            .filter(|t| !there.contains(t) && !told.acknowledged.iter().any(|s| s.1 == to))
            .count()
    });
    Ok((lost, in_flight))
}
