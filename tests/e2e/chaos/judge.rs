//! Finds every reading that was sent, or the reason why it is not there.

use super::deeds::is_trouble;
use super::history::{DEVICE_AWAY, History, boot_ms};
use super::sender::{BASE_KPA, CHANNELS, Sent, channel};
use crate::SEEP;
use crate::live::process::Bench;
use seep_common::store::cause::{LOG_CHANGED, NOT_RUNNING, RECORDER_PAUSED};
use seep_common::store::{ClockMap, Gap, Reader, Session};
use seep_common::time::LogMs;
use seep_tests::{code, run};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::path::{Path, PathBuf};

/// A row bears the time of its beginning; it is 1 s long at most (`rest_period_s`).
const ROW_MS: i64 = 1_000;
/// A reading may be dated late by as much as a pause lasts that is not told.
const LATE_MS: i64 = 2_500;
/// Two clocks read one after the other, on a busy machine.
const BUSY_MS: i64 = 500;

const PAUSED: &str = "lost, recorder paused";
const STORED: &str = "stored once at the right time";

/// The recorder notes a drift of the clock from this on, ms; and two clocks are read
/// one after the other.
const CLOCK_MS: i64 = 200 + BUSY_MS;

/// What became of the readings.
#[derive(Debug, Default)]
pub(super) struct Verdict {
    sent: usize,
    deeds: usize,
    kinds: BTreeMap<String, usize>,
    fates: BTreeMap<&'static str, usize>,
    /// Readings that waited in the line until it was opened.
    unread: usize,
    /// Readings whose wall time was looked at, and those under a stepped clock.
    dated: (usize, usize),
    complaints: Vec<String>,
}

/// Everything in all files: readings with the boot times of their rows, and gaps.
#[derive(Default)]
struct Files {
    found: BTreeMap<usize, BTreeSet<i64>>,
    /// Wall time minus boot time of each reading as the log dates it, ms.
    wall: BTreeMap<usize, (i64, i64)>,
    /// Boot times, ms.
    /// At boot times, ms.
    gaps: Vec<Gap<i64>>,
    undated: i64,
}

pub(super) fn judge(bench: &Bench, history: &History, sent: &[Sent]) -> Verdict {
    let mut verdict = Verdict {
        sent: sent.len(),
        deeds: history.happened.len(),
        ..Verdict::default()
    };
    for happened in &history.happened {
        let kind = match happened.name.split_once(':') {
            Some(("client", _)) => "client",
            _ => happened.name.split(" {").next().unwrap_or_default(),
        };
        *verdict.kinds.entry(kind.into()).or_default() += 1;
        if is_trouble(happened) {
            verdict.complaints.push(happened.name.clone());
        }
    }
    let mut files = Files::default();
    for path in files_under(bench.folder.path()) {
        files.read(&path, &mut verdict.complaints);
    }
    let (mut to_count, mut lost) = (0, 0);
    for (n, when) in sent.iter().enumerate() {
        let fate = files.fate(n, *when, history);
        let is_lost = fate != Ok(STORED);
        lost += i64::from(is_lost);
        let unread = is_lost && history.was_unread(*when);
        if (fate == Ok(PAUSED) && !history.forgot_counts(when.1))
            || (unread && !history.forgot_later_counts(when.1))
        {
            to_count += 1;
        }
        verdict.unread += usize::from(unread);
        match fate {
            Ok(fate) => *verdict.fates.entry(fate).or_default() += 1,
            Err(why) => verdict.complaints.push(why),
        }
    }
    if to_count > files.undated {
        verdict.complaints.push(format!(
            "{to_count} readings could not be dated, {} were counted",
            files.undated
        ));
    }
    // A log that another program copied holds its counts twice.
    let copied = verdict.kinds.keys().any(|k| k.contains("copy"));
    if !copied && files.undated > lost {
        verdict.complaints.push(format!(
            "{} readings were counted as not dated, {lost} are not stored",
            files.undated
        ));
    }
    files.judge_clock(history, &mut verdict);
    for gap in &files.gaps {
        if !history.makes_true(&gap.cause, gap.from_t_ms, gap.to_t_ms) {
            verdict
                .complaints
                .push(format!("a gap with a false cause: {gap:?}"));
        }
    }
    if let Some(n) = files.found.keys().find(|n| **n >= sent.len()) {
        verdict
            .complaints
            .push(format!("reading {n} was never sent"));
    }
    verdict.look_over(&bench.log());
    verdict
}

fn files_under(top: &Path) -> Vec<PathBuf> {
    let (mut out, mut folders) = (Vec::new(), vec![top.to_path_buf()]);
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
            let path = entry.path();
            let name = path.to_string_lossy().into_owned();
            if path.is_dir() {
                folders.push(path);
            } else if path.is_file()
                && !["-wal", "-shm", "-journal", ".toml", ".json", ".copy"]
                    .iter()
                    .any(|end| name.ends_with(end))
            {
                out.push(path);
            }
        }
    }
    out.sort();
    out
}

impl Files {
    fn read(&mut self, path: &Path, complaints: &mut Vec<String>) {
        let Ok(reader) = Reader::open(path) else {
            return;
        };
        let Ok(sessions) = reader.sessions() else {
            return;
        };
        let boot = |t_ms: i64| t_ms - shift_ms(&sessions, t_ms);
        let clock = reader.clock_rows().ok().map(|rows| ClockMap::new(&rows));
        let names: Vec<String> = (0..CHANNELS).map(channel).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        // A file that something else wrote into may not be readable.
        let Ok(columns) = reader.columns(&names, LogMs::MIN, LogMs::MAX) else {
            return;
        };
        for (i, values) in columns.values.iter().enumerate() {
            for (t_ms, value) in columns.t_ms.iter().zip(values).filter(|v| !v.1.is_nan()) {
                let n = (f64::from(*value) - BASE_KPA as f64) * CHANNELS as f64 + i as f64;
                let whole = n.round();
                if (n - whole).abs() > 0.01 * CHANNELS as f64 || whole < 0.0 {
                    complaints.push(format!("{} at {t_ms} ms was never sent: {value}", names[i]));
                    continue;
                }
                let times = self.found.entry(whole as usize).or_default();
                times.insert(boot(*t_ms));
                if let Some(wall_ms) = clock.as_ref().and_then(|c| c.wall_ms(*t_ms)) {
                    let of = boot(*t_ms);
                    self.wall.insert(whole as usize, (of, wall_ms - of));
                }
            }
        }
        for gap in reader.gaps(LogMs::MIN, LogMs::MAX).unwrap_or_default() {
            self.gaps.push(gap.laid(|t| boot(t.0)));
        }
        let counters = reader.counters(LogMs::MIN, LogMs::MAX).unwrap_or_default();
        let undated = counters.iter().filter(|c| c.name == "readings not dated");
        self.undated += undated.map(|c| c.count).sum::<i64>();
    }

    /// Every reading has the wall time that the clock showed when it came.
    fn judge_clock(&self, history: &History, verdict: &mut Verdict) {
        let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
        let true_ms = now.expect("after 1970").as_millis() as i64 - boot_ms();
        for (n, (t_ms, offset_ms)) in &self.wall {
            let ahead = history.clock_ahead_ms(*t_ms);
            let off_ms = |ahead: &i64| (offset_ms - true_ms - ahead).abs();
            verdict.dated.0 += 1;
            verdict.dated.1 += usize::from(ahead != [0]);
            if ahead.iter().map(off_ms).min() > Some(CLOCK_MS) {
                verdict.complaints.push(format!(
                    "reading {n}, at {t_ms}: the wall clock was {ahead:?} ms ahead, the log says {} ms",
                    offset_ms - true_ms
                ));
            }
        }
    }

    /// What became of one reading.
    fn fate(&self, n: usize, sent: Sent, history: &History) -> Result<&'static str, String> {
        let (before, after) = sent;
        if let Some(times) = self.found.get(&n) {
            let right = before - ROW_MS - BUSY_MS..=after + LATE_MS + BUSY_MS;
            return match times.iter().collect::<Vec<_>>()[..] {
                [t] if history.was_unread(sent) => Err(format!(
                    "reading {n}, sent at {before} when nobody read the line, is dated {t}"
                )),
                [t] if right.contains(t) => Ok(STORED),
                [t] => Err(format!("reading {n}, sent at {before}, is dated {t}")),
                _ => Err(format!("reading {n}, sent at {before}, is at {times:?}")),
            };
        }
        // A gap begins with the row before it, and ends with that after it.
        let covers = |g: &&Gap<i64>| g.from_t_ms - ROW_MS <= after && g.to_t_ms + ROW_MS >= before;
        let mut causes = self.gaps.iter().filter(covers).map(|g| g.cause.as_str());
        if let Some(cause) = causes.next() {
            return match cause {
                RECORDER_PAUSED => Ok(PAUSED),
                c if c.contains(DEVICE_AWAY) => Ok("lost, device away"),
                NOT_RUNNING if history.was_young(before) || history.was_away(before, after) => {
                    Ok("lost, recorder not running")
                }
                LOG_CHANGED if history.was_destroyed(after) => {
                    Ok("lost, log changed by another program")
                }
                c => Err(format!(
                    "reading {n}, sent at {before}..{after}, is older than the promise and lost, {c}"
                )),
            };
        }
        if history.was_young(before) {
            return Ok("younger than the promise");
        }
        if history.was_destroyed(after) {
            return Ok("destroyed with an earlier session");
        }
        Err(format!(
            "reading {n}, sent at {before}..{after}, is nowhere"
        ))
    }
}

/// Log time minus boot time at a log time, ms: that of its session.
fn shift_ms(sessions: &[Session], t_ms: i64) -> i64 {
    let of = |s: &Session| {
        s.start
            .t_ms
            .minus_boot(s.start.start_boot_ms.unwrap_or_default())
    };
    let mine = sessions.iter().rev().find(|s| s.start.t_ms <= LogMs(t_ms));
    mine.or(sessions.first()).map_or(0, of)
}

impl Verdict {
    pub(super) fn is_sound(&self) -> bool {
        self.complaints.is_empty()
    }

    /// The first of them.
    pub(super) fn complaints(&self) -> String {
        let first: Vec<&str> = self
            .complaints
            .iter()
            .take(20)
            .map(String::as_str)
            .collect();
        format!(
            "{} complaints:\n{}",
            self.complaints.len(),
            first.join("\n")
        )
    }

    /// The log that was written last is whole.
    fn look_over(&mut self, log: &Path) {
        let log = log.display().to_string();
        let done = run(SEEP, &["verify", "--log", &log, "--zone", "UTC"]);
        if code(&done) != 0 {
            let text = String::from_utf8_lossy(&done.stdout).into_owned();
            self.complaints.push(format!("seep verify: {text}"));
        }
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} readings sent, {} deeds {:?}: {:?}; {} waited in the line and are not \
             stored; wall time of {} looked at, {} of them under a stepped clock",
            self.sent, self.deeds, self.kinds, self.fates, self.unread, self.dated.0, self.dated.1
        )
    }
}
