//! Rows out of the pages against the same rows out of SQLite.

use super::super::super::tests::{RIG, batch, begun, start, tick};
use super::super::super::{EndReason, SessionId, Writer};
use super::super::gather;
use super::*;
use crate::rig::Rig;
use std::path::Path;

const NAMES: [&str; 4] = [
    "ambient_c",
    "front_left_kpa_gauge",
    "absent_c",
    "front_left_kpa_gauge",
];

/// Rows of numbers of every size, silences among them, over many pages.
fn record(writer: &mut Writer, session: SessionId, seconds: Range<i64>) {
    let sizes = [0, 1, -1, 127, -129, 40_000, -9_000_000, 2_000_000_000];
    let rows = seconds.map(|s| {
        let at = |s: i64| sizes[(s.unsigned_abs() % 8) as usize];
        let silent = s % 5 == 0;
        tick(
            1000 * s,
            &[Some(at(s)), (!silent).then(|| at(s / 8) + s % 3)],
        )
    });
    let stored = writer.append(session, &batch(rows.collect()));
    stored.expect("stored");
}

fn closed(path: &Path) {
    let (mut writer, session) = begun(path);
    record(&mut writer, session, 1..20_000);
    writer
        .end_session(session, LogMs(20_000_000), EndReason::Stopped)
        .expect("ended");
    writer.close().expect("closed");
}

fn by_pages(reader: &Reader, from: LogMs, to: LogMs) -> Option<Columns> {
    // Of another shape, and not empty.
    let room = Columns {
        t_ms: vec![1, 2, 3],
        names: Vec::new(),
        values: vec![vec![4.0; 5]; 7],
    };
    RowLeaves::of(reader)?.columns(reader, room, &NAMES, from..to)
}

fn by_sqlite(reader: &Reader, from: LogMs, to: LogMs) -> Option<Columns> {
    let stored = reader.channels().expect("channels");
    gather::columns(&reader.connection, &stored, &NAMES, from, to).ok()
}

/// Bit for bit, silence too.
fn same(a: &Columns, b: &Columns) -> bool {
    let bits = |c: &Columns| -> Vec<Vec<u32>> {
        let of = |v: &Vec<f32>| v.iter().map(|x| x.to_bits()).collect();
        c.values.iter().map(of).collect()
    };
    a.t_ms == b.t_ms && a.names == b.names && bits(a) == bits(b)
}

#[test]
fn pages_say_what_sqlite_says() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    closed(&path);
    let reader = Reader::open(&path).expect("opens");
    for (from, to) in [
        (i64::MIN, i64::MAX),
        (0, 1),
        (1_000, 1_001),
        (1_000, 1_000),
        (5_000, 4_000),
        (7_000_500, 14_000_000),
        (19_999_000, 70_000_000),
        (70_000_000, 80_000_000),
    ] {
        let (from, to) = (LogMs(from), LogMs(to));
        let asked = by_sqlite(&reader, from, to).expect("read");
        // An empty span may be left to SQLite.
        match by_pages(&reader, from, to) {
            Some(read) => assert!(same(&read, &asked), "{from:?} {to:?}"),
            None => assert!(to <= from, "{from:?} {to:?}"),
        }
    }
    let all = by_pages(&reader, LogMs::MIN, LogMs::MAX).expect("read");
    assert_eq!(all.len(), 19_999);
    let spoken = all.values[0].iter().filter(|v| !v.is_nan()).count();
    assert!((15_000..17_000).contains(&spoken), "{spoken}");
}

#[test]
fn a_column_added_later_is_silent_before_and_what_is_no_number_is_left_to_sqlite() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    closed(&path);
    let sql = rusqlite::Connection::open(&path).expect("opens");
    sql.execute_batch(
        "ALTER TABLE tick ADD COLUMN \"later\" INTEGER;
         INSERT INTO channel (name, column_name, unit, resolution, range_low, range_high,
                              source, decode)
             SELECT name, 'later', unit, 2.0 * resolution, range_low, range_high, source, decode
             FROM channel WHERE name = 'ambient_c';
         UPDATE tick SET later = 7 WHERE t_ms % 7000 = 0;",
    )
    .expect("changed");
    drop(sql);
    let reader = Reader::open(&path).expect("opens");
    let (from, to) = (LogMs::MIN, LogMs::MAX);
    let asked = by_sqlite(&reader, from, to).expect("read");
    let read = by_pages(&reader, from, to).expect("read");
    assert!(same(&read, &asked));
    let wanted = 7.0 * 2.0 * stored_resolution(&reader);
    assert!(
        read.values[0]
            .iter()
            .any(|v| f64::from(*v) == f64::from(wanted as f32))
    );
    for foreign in ["2.5", "'word'", "x'0102'"] {
        let sql = rusqlite::Connection::open(&path).expect("opens");
        let change = format!("UPDATE tick SET later = {foreign} WHERE t_ms = 11000");
        sql.execute_batch(&change).expect("changed");
        drop(sql);
        let reader = Reader::open(&path).expect("opens");
        assert!(by_pages(&reader, from, to).is_none(), "{foreign}");
        assert!(by_pages(&reader, LogMs(12_000), to).is_some(), "{foreign}");
        let read = reader.columns(&NAMES, from, to).expect("read");
        assert!(same(&read, &by_sqlite(&reader, from, to).expect("read")));
    }
}

fn stored_resolution(reader: &Reader) -> f64 {
    let stored = reader.channels().expect("channels");
    let found = stored.iter().find(|c| c.name == "ambient_c");
    found.expect("there").resolution
}

#[test]
fn a_write_ahead_log_is_left_to_sqlite() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    let (mut writer, session) = begun(&path);
    record(&mut writer, session, 1..100);
    let live = Reader::open(&path).expect("opens");
    assert!(by_pages(&live, LogMs::MIN, LogMs::MAX).is_none());
    drop(live);
    writer.close().expect("closed");
    let reader = Reader::open(&path).expect("opens");
    let read = |reader: &Reader| by_pages(reader, LogMs::MIN, LogMs::MAX).map(|c| c.len());
    assert_eq!(read(&reader), Some(99));
    // A recorder goes on with it while it is open.
    let leaves = RowLeaves::of(&reader).expect("pages");
    let mut writer = Writer::open(&path).expect("opens");
    let rig = Rig::parse(RIG).expect("valid");
    let session = writer.begin_session(&start(100_000), &rig);
    let session = session.expect("session");
    record(&mut writer, session, 100..200);
    let later = leaves.columns(&reader, Columns::default(), &NAMES, LogMs::MIN..LogMs::MAX);
    assert!(later.is_none());
    let all = reader.columns(&NAMES, LogMs::MIN, LogMs::MAX);
    assert_eq!(all.expect("read").len(), 199);
}

/// Whatever a flipped bit does: rows are those of SQLite, or SQLite is asked. Only where
/// SQLite sees damage that it comes upon in passing may the pages still say something.
#[test]
fn damaged_pages_never_say_anything_else() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    closed(&path);
    let bytes = std::fs::read(&path).expect("read");
    let other = folder.path().join("b.db");
    let mut seen = [0_usize; 3];
    let mut state = 11_u64;
    for _ in 0..200 {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let page = (state >> 33) as usize % (bytes.len() / 4096);
        // Heads, pointers and the first cells are where damage matters most.
        let place = (state >> 20) as usize % if state.is_multiple_of(3) { 4096 } else { 64 };
        let mut damaged = bytes.clone();
        damaged[page * 4096 + place] ^= 1 << (state >> 60 & 7);
        std::fs::write(&other, &damaged).expect("written");
        let Ok(reader) = Reader::open(&other) else {
            continue;
        };
        let (from, to) = (LogMs::MIN, LogMs::MAX);
        let Some(read) = by_pages(&reader, from, to) else {
            seen[0] += 1;
            continue;
        };
        match by_sqlite(&reader, from, to) {
            Some(asked) => {
                assert!(same(&read, &asked), "page {page}, byte {place}");
                seen[1] += 1;
            }
            None => seen[2] += 1,
        }
    }
    assert!(
        seen[0] > 10 && seen[1] > 10 && seen[2] * 20 < seen[1],
        "{seen:?}"
    );
}
