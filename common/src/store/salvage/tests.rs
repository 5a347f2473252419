//! Damage of our own making, and what comes back. All data invented.

use super::super::tests::{batch, start, tick};
use super::super::{Reader, StoreError, Writer, inspect};
use super::{UNREADABLE, salvage};
use crate::rig::Rig;
use crate::time::LogMs;
use std::path::{Path, PathBuf};

const RIG: &str = r#"
[vehicle]
name = "invented"
[[source]]
name = "box"
kind = "nmea"
[[channel]]
name = "tank_kpa_gauge"
source = "box"
transducer = "TANK"
"#;

const PAGE: usize = 1024;
const TICKS: i64 = 20_000;

/// Two sessions of ticks, long enough to fill hundreds of pages.
fn log(folder: &Path) -> PathBuf {
    let path = folder.join("trip.db");
    let rig = Rig::parse(RIG).expect("valid");
    let mut writer = Writer::create(&path).expect("created");
    for begin in [1_000_000, 1_000_000 + (TICKS / 2 + 500) * 1_000] {
        let session = writer.begin_session(&start(begin), &rig).expect("session");
        let ticks = (0..TICKS / 2)
            .map(|i| tick(begin + i * 1_000, &[Some(1_000_000 + i)]))
            .collect();
        let mut rows = batch(ticks);
        rows.clock.push(super::super::ClockRow {
            noted_t_ms: LogMs(begin),
            from_t_ms: LogMs(begin),
            offset_ms: 0,
            state: super::super::ClockState::AsRecorded,
        });
        writer.append(session, &rows).expect("stored");
        let end = begin + (TICKS / 2 - 1) * 1_000;
        let reason = super::super::EndReason::Stopped;
        writer
            .end_session(session, LogMs(end), reason)
            .expect("ended");
    }
    writer.close().expect("closed");
    path
}

/// Write noise over whole pages, as a worn card does.
fn spoil(path: &Path, pages: impl IntoIterator<Item = usize>) {
    let mut bytes = std::fs::read(path).expect("there");
    for page in pages {
        for (i, byte) in bytes[page * PAGE..(page + 1) * PAGE].iter_mut().enumerate() {
            *byte = (i.wrapping_mul(2_654_435_761) >> 7) as u8;
        }
    }
    std::fs::write(path, bytes).expect("written");
}

fn times(path: &Path) -> Vec<i64> {
    let reader = Reader::open(path).expect("opens");
    let all = reader
        .columns(&["tank_kpa_gauge"], LogMs::MIN, LogMs::MAX)
        .expect("reads");
    all.t_ms
}

#[test]
fn a_sound_log_is_called_sound_and_copied_whole() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = log(folder.path());
    let bytes = std::fs::read(&path).expect("there");
    let seen = inspect(&path, 10_000).expect("opens");
    assert!(seen.is_sound(), "{seen:?}");
    assert_eq!(seen.unexplained_holes, []);
    let copy = folder.path().join("copy.db");
    let saved = salvage(&path, &copy).expect("copied");
    assert_eq!(saved.lost, []);
    assert_eq!(saved.sessions_added, 0);
    let (old, new) = (Reader::open(&path), Reader::open(&copy));
    let (old, new) = (old.expect("opens"), new.expect("opens"));
    assert_eq!(old.sessions().ok(), new.sessions().ok());
    assert_eq!(old.channels().ok(), new.channels().ok());
    let all = |r: &Reader| r.columns(&["tank_kpa_gauge"], LogMs::MIN, LogMs::MAX).ok();
    assert_eq!(all(&old), all(&new));
    assert_eq!(std::fs::read(&path).expect("there"), bytes, "untouched");
}

#[test]
fn around_spoilt_pages_everything_is_saved_and_the_loss_is_a_gap() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = log(folder.path());
    let whole = times(&path);
    let pages = std::fs::metadata(&path).expect("there").len() as usize / PAGE;
    let bad = [pages / 3, pages / 2, pages - 2];
    spoil(&path, bad);
    let before = std::fs::read(&path).expect("there");
    let seen = inspect(&path, 10_000).expect("opens");
    assert!(!seen.damage.is_empty());
    let copy = folder.path().join("copy.db");
    let saved = salvage(&path, &copy).expect("copied");
    let kept = times(&copy);
    // A page holds at most 1024 bytes / 10 bytes a row.
    assert!(
        kept.len() >= whole.len() - bad.len() * 103,
        "{}",
        kept.len()
    );
    assert!(kept.len() < whole.len(), "noise must not be read as ticks");
    assert!(kept.iter().all(|t| whole.binary_search(t).is_ok()));
    let lost: Vec<i64> = whole
        .iter()
        .copied()
        .filter(|t| kept.binary_search(t).is_err())
        .collect();
    for t in lost {
        assert!(
            saved.lost.iter().any(|l| l.0 <= t && t < l.1),
            "{t} has no gap"
        );
    }
    let reader = Reader::open(&copy).expect("opens");
    let gaps = reader.gaps(LogMs::MIN, LogMs::MAX).expect("reads");
    assert_eq!(
        gaps.iter().filter(|g| g.cause == UNREADABLE).count(),
        saved.lost.len()
    );
    assert!(inspect(&copy, 10_000).expect("opens").damage.is_empty());
    assert_eq!(std::fs::read(&path).expect("there"), before, "untouched");
}

#[test]
fn a_cut_file_gives_what_is_left_of_it() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = log(folder.path());
    let bytes = std::fs::read(&path).expect("there");
    std::fs::write(&path, &bytes[..bytes.len() / 2 / PAGE * PAGE]).expect("cut");
    assert!(!inspect(&path, 10_000).expect("opens").damage.is_empty());
    let copy = folder.path().join("copy.db");
    let saved = salvage(&path, &copy).expect("copied");
    let kept = times(&copy).len() as i64;
    assert!(kept > TICKS / 3 && kept < TICKS, "{kept}: {saved:?}");
}

#[test]
fn ticks_whose_session_row_is_lost_get_one() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = log(folder.path());
    let whole = times(&path).len();
    let connection = rusqlite::Connection::open(&path).expect("opens");
    for sql in [
        "PRAGMA foreign_keys = OFF",
        "DELETE FROM session WHERE id = 1",
    ] {
        connection.execute_batch(sql).expect("done");
    }
    drop(connection);
    let seen = inspect(&path, 10_000).expect("opens");
    assert!(
        seen.disorder
            .iter()
            .any(|d| d.contains("outside every session")),
        "{seen:?}"
    );
    let copy = folder.path().join("copy.db");
    let saved = salvage(&path, &copy).expect("copied");
    assert_eq!(saved.sessions_added, 1);
    let sessions = Reader::open(&copy)
        .expect("opens")
        .sessions()
        .expect("reads");
    assert_eq!(sessions.len(), 2);
    assert_eq!(sessions[0].start.t_ms, LogMs(1_000_000));
    assert_eq!(times(&copy).len(), whole);
}

#[test]
fn nothing_is_written_over_and_nothing_half_done_is_left() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = log(folder.path());
    let there = folder.path().join("there.db");
    std::fs::write(&there, "mine").expect("written");
    assert!(matches!(
        salvage(&path, &there),
        Err(StoreError::Exists { .. })
    ));
    assert!(matches!(
        salvage(&path, &path),
        Err(StoreError::Exists { .. })
    ));
    assert_eq!(std::fs::read(&there).expect("there"), b"mine");
    let foreign = folder.path().join("foreign.db");
    std::fs::write(&foreign, vec![7_u8; 9_000]).expect("written");
    let copy = folder.path().join("copy.db");
    assert!(matches!(
        salvage(&foreign, &copy),
        Err(StoreError::NotSqlite { .. })
    ));
    assert!(!copy.exists());
}

#[test]
fn silence_without_a_cause_is_found() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("trip.db");
    let rig = Rig::parse(RIG).expect("valid");
    let mut writer = Writer::create(&path).expect("created");
    let session = writer.begin_session(&start(0), &rig).expect("session");
    let mut b = batch(
        [0, 1_000, 61_000, 62_000, 122_000]
            .map(|t| tick(t, &[Some(1)]))
            .to_vec(),
    );
    b.gaps.push(super::super::Gap {
        from_t_ms: LogMs(1_000),
        to_t_ms: LogMs(61_000),
        cause: "source silent".into(),
        what: Some("box".into()),
    });
    writer.append(session, &b).expect("stored");
    let reason = super::super::EndReason::Stopped;
    writer
        .end_session(session, LogMs(122_000), reason)
        .expect("ended");
    writer.close().expect("closed");
    let seen = inspect(&path, 10_000).expect("opens");
    assert_eq!(seen.unexplained_holes, [(62_000, 122_000)]);
}
