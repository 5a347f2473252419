//! Hashes of rows against what SQLite itself says of the file.

use super::super::tests::{batch, begun, tick};
use super::super::{EndReason, SessionId, Writer};
use super::*;
use rusqlite::Connection;
use std::path::Path;

const ALL: (LogMs, LogMs) = (LogMs(i64::MIN), LogMs(i64::MAX));

/// Adds a row each second from one log time to another.
pub(in super::super) fn record(
    writer: &mut Writer,
    session: SessionId,
    seconds: std::ops::Range<i64>,
) {
    let rows = seconds.map(|s| tick(1000 * s, &[Some(10_000 + s % 977), Some(s % 31)]));
    let stored = writer.append(session, &batch(rows.collect()));
    stored.expect("stored");
}

/// A log of one session, ended and closed, with a row each second.
pub(in super::super) fn closed(path: &Path, seconds: std::ops::Range<i64>) {
    let (mut writer, session) = begun(path);
    let end = LogMs(1000 * seconds.end);
    record(&mut writer, session, seconds);
    writer
        .end_session(session, end, EndReason::Stopped)
        .expect("ended");
    writer.close().expect("closed");
}

fn tree(path: &Path) -> TickTree {
    TickTree::of(&Reader::open(path).expect("opens")).expect("a sound tree")
}

fn hash(path: &Path, from_s: i64, to_s: i64) -> RowsHash {
    let of = tree(path).hash(LogMs(1000 * from_s), LogMs(1000 * to_s));
    of.expect("sound pages")
}

#[test]
fn every_leaf_that_sqlite_knows_is_found() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    closed(&path, 1..200_000);
    let sql = Connection::open(&path).expect("opens");
    let of_kind = |kind: &str| -> i64 {
        let asked = "SELECT count(*) FROM dbstat WHERE name = 'tick' AND pagetype = ?1";
        sql.query_row(asked, [kind], |row| row.get(0))
            .expect("told")
    };
    assert!(of_kind("internal") > 1, "three levels");
    let found = tree(&path);
    assert_eq!(found.leaves.len() as i64, of_kind("leaf"));
    assert!(found.leaves.is_sorted_by_key(|leaf| leaf.last));
    let mut cells = Vec::new();
    let mut pages = Vec::new();
    let read = found.pages.read_all(&found.leaves, &mut pages);
    read.expect("read");
    for page in pages.chunks_exact(found.pages.page_bytes) {
        cells_within(&found.pages, page, i64::MIN..i64::MAX, &mut cells).expect("sound");
    }
    let payload: i64 = sql
        .query_row(
            "SELECT sum(payload) FROM dbstat WHERE name = 'tick' AND pagetype = 'leaf'",
            [],
            |row| row.get(0),
        )
        .expect("told");
    let heads = cells.len() as i64 - payload;
    assert!(
        (2 * 199_999..10 * 199_999).contains(&heads),
        "{heads} bytes of sizes and keys"
    );
}

#[test]
fn rows_keep_their_hash_while_the_log_grows_in_and_out_of_the_write_ahead_log() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    let (mut writer, session) = begun(&path);
    record(&mut writer, session, 1..5_000);
    assert!(super::super::write_ahead_bytes(&path) > 0, "rows wait");
    let live = hash(&path, 0, 5_000);
    for seconds in [5_000..5_001, 5_001..5_500, 5_500..40_000] {
        record(&mut writer, session, seconds);
        assert_eq!(hash(&path, 0, 5_000), live);
    }
    let later = hash(&path, 5_000, 40_000);
    writer
        .end_session(session, LogMs(40_000_000), EndReason::Stopped)
        .expect("ended");
    writer.close().expect("closed");
    assert_eq!(super::super::write_ahead_bytes(&path), 0, "all moved");
    assert_eq!(
        (hash(&path, 0, 5_000), hash(&path, 5_000, 40_000)),
        (live, later)
    );
    // A copy made by SQLite lays the pages anew; the rows are the same.
    let copy = folder.path().join("copy.db");
    let sql = Connection::open(&path).expect("opens");
    sql.execute("VACUUM INTO ?1", [copy.to_str().expect("text")])
        .expect("copied");
    assert_eq!(
        (hash(&copy, 0, 5_000), hash(&copy, 5_000, 40_000)),
        (live, later)
    );
}

#[test]
fn a_row_changed_added_or_taken_away_changes_the_hash_of_its_span_alone() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    closed(&path, 1..9_000);
    let spans = [(0, 3_000), (3_000, 6_000), (6_000, 9_000)];
    let hashes = || spans.map(|(from, to)| hash(&path, from, to));
    let sql = Connection::open(&path).expect("opens");
    let column = sql
        .query_row("SELECT column_name FROM channel WHERE id = 1", [], |row| {
            row.get::<_, String>(0)
        })
        .expect("one");
    let mut before = hashes();
    for change in [
        format!("UPDATE tick SET {column} = {column} + 1 WHERE t_ms = 4500000"),
        format!("UPDATE tick SET {column} = NULL WHERE t_ms = 5999000"),
        "DELETE FROM tick WHERE t_ms = 3000000".to_string(),
        "INSERT INTO tick (t_ms) VALUES (3000001)".to_string(),
        "UPDATE tick SET t_ms = 3000002 WHERE t_ms = 3000001".to_string(),
        "DELETE FROM tick WHERE t_ms BETWEEN 3100000 AND 5900000".to_string(),
    ] {
        assert!(sql.execute(&change, []).expect("done") > 0, "{change}");
        let after = hashes();
        let changed = [0, 1, 2].map(|i| before[i] != after[i]);
        assert_eq!(changed, [false, true, false], "{change}");
        before = after;
    }
    let all = || tree(&path).hash(ALL.0, ALL.1).expect("sound");
    let whole = all();
    sql.execute("DELETE FROM tick", []).expect("done");
    assert_ne!(all(), whole, "none left");
    assert_eq!(
        tree(&path).hash(LogMs(0), LogMs(1)),
        tree(&path).hash(ALL.0, ALL.1)
    );
}

#[test]
fn pages_that_are_not_as_known_prove_nothing_and_do_no_harm() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    closed(&path, 1..3_000);
    let sound = hash(&path, 0, 3_000);
    let whole = std::fs::read(&path).expect("read");
    let reader = Reader::open(&path).expect("opens");
    let mut random = 9_u64;
    let mut seen = [[0; 2]; 2];
    for _ in 0..400 {
        random = random
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        let at = 100 + (random >> 20) as usize % (whole.len() - 100);
        let mut damaged = whole.clone();
        damaged[at] ^= 1 << ((random >> 60) % 8);
        let other = folder.path().join("b.db");
        std::fs::write(&other, &damaged).expect("written");
        // The reader of the sound file tells the root: only the pages are damaged.
        let (root, columns) = reader.tick_table().expect("told");
        let Some(pages) = Pages::open(&other) else {
            continue;
        };
        let Some(leaves) = pages.leaves(root, i64::MIN..i64::MAX) else {
            continue;
        };
        let found = TickTree {
            pages,
            leaves,
            columns,
        }
        .hash(LogMs(0), LogMs(3_000_000));
        seen[usize::from(found.is_some())][usize::from(found == Some(sound))] += 1;
    }
    // Damage to rows shows; to other tables and free room it does not count.
    assert!(seen[1][0] > 100 && seen[1][1] > 10, "{seen:?}");
}
