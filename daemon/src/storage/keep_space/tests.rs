//! What retention takes, and what it leaves alone. All data invented.

use super::*;
use crate::session::StorageCommand;
use crate::time::ClockNote;
use seep_common::rig::Rig;
use seep_common::store::cause::DELETED;
use seep_common::store::{Batch, ClockState, EndReason, Reader};
use seep_common::tick::Tick;
use seep_common::time::{LogMs, WallMs};
use std::path::PathBuf;

/// 2026-01-01, ms.
const EPOCH_MS: i64 = 1_767_225_600_000;
const A_DAY_MS: i64 = 86_400_000;
const ROWS: i64 = 60_000;

struct SpaceBench {
    folder: tempfile::TempDir,
    log_file: LogFile,
    now_boot_ms: i64,
}

impl SpaceBench {
    fn log(&self) -> PathBuf {
        self.folder.path().join("a.db")
    }

    /// Sessions ten days apart, one per boot; the last goes on.
    fn new(limits: &str, sessions: i64, states: &[ClockState]) -> Self {
        let folder = tempfile::tempdir().expect("scratch");
        let mut bench = SpaceBench {
            log_file: LogFile::new(folder.path().join("a.db"), "boot".into()),
            folder,
            now_boot_ms: 0,
        };
        for n in 0..sessions {
            let state = states[n as usize % states.len()];
            bench.session(limits, n * 10 * A_DAY_MS, state);
            if n + 1 < sessions {
                bench.end();
            }
        }
        bench
    }

    fn command(&mut self, command: &StorageCommand) {
        self.log_file.carry_out(command).expect("carried out");
    }

    /// A session at so many ms after the epoch, of a boot of its own.
    fn session(&mut self, limits: &str, at_ms: i64, state: ClockState) {
        let text = format!(
            "[vehicle]\nname = \"invented\"\n[recorder]\n{limits}\n\
             [[source]]\nname = \"box\"\nkind = \"nmea\"\n\
             [[channel]]\nname = \"tank_kpa_gauge\"\nsource = \"box\"\ntransducer = \"TANK\"\n"
        );
        let wall_ms = EPOCH_MS + at_ms;
        self.command(&StorageCommand::Begin {
            rig: Box::new(Rig::parse(&text).expect("valid")),
            boot_ms: BootMs(0),
            wall_ms: WallMs(wall_ms),
        });
        self.command(&StorageCommand::Clock(ClockNote {
            noted_boot_ms: BootMs(0),
            from_boot_ms: BootMs(0),
            whole_boot: false,
            offset_ms: wall_ms,
            state,
        }));
        self.command(&rows(0..ROWS));
        self.now_boot_ms = ROWS;
    }

    fn end(&mut self) {
        self.command(&StorageCommand::End {
            boot_ms: BootMs(ROWS),
            reason: EndReason::Stopped,
        });
        self.log_file.close().expect("closes");
        // Another start of the machine.
        self.log_file = LogFile::new(self.log(), format!("boot {}", self.now_boot_ms));
    }

    /// Free space of an invented medium in units of 10 kB, as if they were MB.
    fn free(capacity: u64) -> impl Fn(&Path) -> Option<u64> + Send + 'static {
        move |log: &Path| {
            let files = std::fs::read_dir(log.parent()?).ok()?;
            let bytes: u64 = files
                .map(|f| f.expect("there").metadata().map_or(0, |m| m.len()))
                .sum();
            Some(capacity.saturating_sub(bytes / 10_000))
        }
    }

    /// A retention on an invented medium, whose unit is 10 kB instead of 1 MB.
    fn retention(free: impl Fn(&Path) -> Option<u64> + Send + 'static) -> Retention {
        Retention {
            short_since_ms: None,
            free_bytes: Box::new(move |path| free(path).map(|units| units * 10_000)),
            mb_bytes: 10_000,
        }
    }

    fn once(&mut self, retention: &mut Retention, disk_full: bool) -> Space {
        retention
            .look(
                &mut self.log_file,
                BootMs(self.now_boot_ms),
                true,
                disk_full,
            )
            .expect("looks")
    }

    /// Looks until nothing more goes, longer than any warning; how many went.
    fn look(&mut self, free: impl Fn(&Path) -> Option<u64> + Send + 'static) -> usize {
        let mut retention = Self::retention(free);
        let (mut went, mut warned) = (0, 0);
        while warned < 2 {
            match self.once(&mut retention, false) {
                Space::Enough => break,
                Space::Deleted => went += 1,
                Space::Short(_) => {
                    warned += 1;
                    self.now_boot_ms += WARNING_MS;
                }
            }
            assert!(went < 100, "no end");
        }
        went
    }

    /// Rows stored per session, oldest first.
    fn rows(&self) -> Vec<usize> {
        let reader = Reader::open(&self.log()).expect("a log");
        let sessions = reader.sessions().expect("read");
        let count = |from, to| {
            let columns = reader.columns(&["tank_kpa_gauge"], from, to);
            columns.expect("read").t_ms.len()
        };
        sessions
            .iter()
            .map(|s| count(s.start.t_ms, s.start.t_ms.plus(ROWS)))
            .collect()
    }
}

fn rows(boot_ms: std::ops::Range<i64>) -> StorageCommand {
    StorageCommand::Store(Batch {
        ticks: boot_ms
            .map(|t| Tick {
                t_ms: BootMs(t),
                counts: vec![Some(t % 97)],
            })
            .collect(),
        ..Batch::default()
    })
}

fn plenty(_: &Path) -> Option<u64> {
    Some(1_000_000)
}

#[test]
fn what_is_older_than_the_limit_goes_and_it_is_told() {
    let mut bench = SpaceBench::new("keep_days = 15", 4, &[ClockState::Synced]);
    // The last session began 30 days after the first.
    assert_eq!(bench.look(plenty), 2);
    let all = ROWS as usize;
    assert_eq!(bench.rows(), [0, 0, all, all]);
    bench.command(&rows(ROWS..ROWS + 10));
    let reader = Reader::open(&bench.log()).expect("a log");
    let notices = reader.notices(LogMs::MIN, LogMs::MAX).expect("read");
    let told: Vec<_> = notices.iter().map(|n| n.text.as_str()).collect();
    assert_eq!(
        told,
        [
            "60000 rows of session 1 were deleted: older than keep_days = 15",
            "60000 rows of session 2 were deleted: older than keep_days = 15"
        ]
    );
    let gaps = reader.gaps(LogMs::MIN, LogMs::MAX).expect("read");
    assert_eq!(gaps.iter().filter(|g| g.cause == DELETED).count(), 2);
}

#[test]
fn the_newest_session_stays_however_small_the_limits() {
    let mut bench = SpaceBench::new(
        "keep_days = 0.001\nkeep_free_mb = 1_000_000",
        3,
        &[ClockState::Synced],
    );
    bench.now_boot_ms = 400 * A_DAY_MS;
    assert_eq!(bench.look(|_| Some(0)), 2);
    assert_eq!(bench.rows(), [0, 0, ROWS as usize]);
}

#[test]
fn no_age_is_believed_while_the_clock_may_be_wrong() {
    // Now: a clock that may be decades ahead.
    let states = [ClockState::Synced, ClockState::Synced, ClockState::Unsynced];
    let mut bench = SpaceBench::new("keep_days = 15", 3, &states);
    bench.now_boot_ms += 70 * 365 * A_DAY_MS;
    assert_eq!(bench.look(plenty), 0);
    // Then: of the first session only its place before the second is known.
    let states = [ClockState::Unsynced, ClockState::Synced, ClockState::Synced];
    let mut bench = SpaceBench::new("keep_days = 15", 3, &states);
    assert_eq!(bench.look(plenty), 0, "over by day 10, and it is day 20");
    bench.now_boot_ms += 6 * A_DAY_MS;
    assert_eq!(bench.look(plenty), 2);
}

#[test]
fn no_more_goes_than_the_space_that_is_short() {
    let mut bench = SpaceBench::new("keep_free_mb = 50", 4, &[ClockState::Unsynced]);
    let used = 1_000 - SpaceBench::free(1_000)(&bench.log()).expect("told");
    assert!(used > 200, "the sessions weigh something: {used}");
    assert_eq!(bench.look(SpaceBench::free(used + 60)), 0);
    // Short by half a session: one is enough, and the file gets shorter at once.
    let half = used / 8;
    assert_eq!(bench.look(SpaceBench::free(used + 50 - half)), 1);
    let all = ROWS as usize;
    assert_eq!(bench.rows(), [0, all, all, all]);
}

#[test]
fn nothing_goes_for_space_while_a_reader_keeps_it_from_coming_free() {
    let mut bench = SpaceBench::new("keep_free_mb = 1", 3, &[ClockState::Synced]);
    let reader = rusqlite::Connection::open(bench.log()).expect("opens");
    reader
        .execute_batch("BEGIN; SELECT count(*) FROM tick")
        .expect("holds its view");
    bench.command(&rows(ROWS..ROWS + 10));
    assert_eq!(bench.look(|_| Some(0)), 0);
    reader.execute_batch("COMMIT").expect("lets go");
    assert_eq!(bench.look(|_| Some(0)), 2);
}

/// 0.7 MB of log on a card of 200 MB with the usual limit of 256 MB: no deletion
/// could ever make room enough, so nothing goes.
#[test]
fn nothing_goes_when_all_of_it_would_not_be_enough() {
    let mut bench = SpaceBench::new("keep_free_mb = 256", 4, &[ClockState::Synced]);
    let log = || std::fs::metadata(bench.log()).expect("there").len();
    assert!((500_000..5_000_000).contains(&log()), "{}", log());
    let mut retention = Retention {
        short_since_ms: None,
        free_bytes: Box::new(|_| Some(199_300_000)),
        mb_bytes: 1_000_000,
    };
    for minutes in [0, 5, 15, 600] {
        bench.now_boot_ms = minutes * 60_000;
        let Space::Short(why) = bench.once(&mut retention, false) else {
            panic!("something went after {minutes} minutes");
        };
        assert!(
            why.contains("none is deleted") && why.contains("256"),
            "{why}"
        );
    }
    assert_eq!(bench.rows(), [ROWS as usize; 4]);
}

#[test]
fn a_shortage_is_told_for_ten_minutes_before_anything_goes() {
    let mut bench = SpaceBench::new("keep_free_mb = 50", 3, &[ClockState::Synced]);
    let mut retention = SpaceBench::retention(|_| Some(49));
    let start_ms = bench.now_boot_ms;
    for minutes in [0, 5, 9] {
        bench.now_boot_ms = start_ms + minutes * 60_000;
        let Space::Short(why) = bench.once(&mut retention, false) else {
            panic!("something went after {minutes} minutes");
        };
        assert!(why.contains("10 minutes"), "{why}");
    }
    // Space came back meanwhile: the time starts again.
    retention.free_bytes = Box::new(|_| Some(1_000_000));
    assert_eq!(bench.once(&mut retention, false), Space::Enough);
    retention.free_bytes = Box::new(|_| Some(49 * 10_000));
    bench.now_boot_ms = start_ms + 11 * 60_000;
    assert!(matches!(bench.once(&mut retention, false), Space::Short(_)));
    bench.now_boot_ms = start_ms + 22 * 60_000;
    assert_eq!(bench.once(&mut retention, false), Space::Deleted);
}

#[test]
fn a_full_disk_costs_one_session_at_once_and_not_the_limit_of_free_space() {
    let mut bench = SpaceBench::new("keep_free_mb = 1_000_000", 3, &[ClockState::Synced]);
    let mut retention = SpaceBench::retention(|_| Some(0));
    assert_eq!(bench.once(&mut retention, true), Space::Deleted);
    let all = ROWS as usize;
    assert_eq!(bench.rows(), [0, all, all]);
    bench.command(&rows(ROWS..ROWS + 10));
    let reader = Reader::open(&bench.log()).expect("a log");
    let notices = reader.notices(LogMs::MIN, LogMs::MAX).expect("read");
    assert!(
        notices
            .iter()
            .any(|n| n.text.ends_with("deleted: the disk was full")),
        "{notices:?}"
    );
}
