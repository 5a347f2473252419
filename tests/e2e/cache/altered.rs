//! Logs that changed since an answer was kept.

use super::{SEEPD, SETTLED, User, replayed, sample, scratch};
use seep_tests::{code, run};
use std::fs::File;
use std::path::Path;

/// What a report says of this log: the hash is of the file, the rest of the rows.
const ASKED: [&[&str]; 2] = [&["--format", "json"], &["--full"]];

fn asked(user: &User, log: &str, what: &str) -> Vec<String> {
    let of = |form: &&[&str]| user.same(&[&["trip", "--log", log], *form].concat(), what);
    ASKED.iter().map(of).collect()
}

/// Replays one more session of another car's day into a log.
fn replay_into(log: &str, name: &str) {
    let logs = sample(name);
    let at = |file: &str| logs.join(file).display().to_string();
    let (rig, bus, wire) = (at("rig.toml"), at("bus.candump.log"), at("box.nmea.log"));
    let done = run(
        SEEPD,
        &[
            "replay", "--append", "--rig", &rig, "--log", log, &bus, &wire,
        ],
    );
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
}

#[test]
fn a_log_that_grew_by_a_session_is_read_on() {
    let folder = scratch();
    let log = replayed("slow-leak-overnight", folder.path());
    std::thread::sleep(SETTLED);
    let user = User::new(folder.path());
    let before = asked(&user, &log, "first");
    replay_into(&log, "slow-leak-overnight");
    let after = asked(&user, &log, "grown");
    assert!(before.iter().zip(&after).all(|(b, a)| b != a));
    std::thread::sleep(SETTLED);
    assert_eq!(asked(&user, &log, "grown and settled"), after);
    for form in ASKED {
        user.kept(&[&["trip", "--log", &log], form].concat(), "grown, again");
    }
}

#[test]
fn an_altered_row_is_seen_under_the_same_size_and_time() {
    let folder = scratch();
    let log = replayed("slow-leak-overnight", folder.path());
    std::thread::sleep(SETTLED);
    let user = User::new(folder.path());
    let before = asked(&user, &log, "first");
    let facts = std::fs::metadata(&log).expect("there");
    let sql = rusqlite::Connection::open(&log).expect("opens");
    let column: String = sql
        .query_row(
            "SELECT column_name FROM channel WHERE name = 'rear_right_kpa_gauge'",
            [],
            |row| row.get(0),
        )
        .expect("recorded");
    let half = "(SELECT (min(t_ms) + max(t_ms)) / 2 FROM tick)";
    let changed = sql
        .execute(
            &format!("UPDATE tick SET {column} = {column} - 100 WHERE t_ms > {half}"),
            [],
        )
        .expect("altered");
    assert!(changed > 100, "{changed} rows");
    drop(sql);
    let file = File::options().write(true).open(&log).expect("opens");
    file.set_modified(facts.modified().expect("known"))
        .expect("set back");
    let now = std::fs::metadata(&log).expect("there");
    assert_eq!(
        (now.len(), now.modified().expect("known")),
        (facts.len(), facts.modified().expect("known")),
        "the disguise fits"
    );
    let after = asked(&user, &log, "altered");
    assert!(before.iter().zip(&after).all(|(b, a)| b != a));
}

#[test]
fn a_log_put_in_the_place_of_another_is_read_itself() {
    let folder = scratch();
    let (one, two) = (folder.path().join("one"), folder.path().join("two"));
    for own in [&one, &two] {
        std::fs::create_dir(own).expect("made");
    }
    let first = replayed("slow-leak-overnight", &one);
    let second = replayed("worn-compressor", &two);
    std::thread::sleep(SETTLED);
    let user = User::new(folder.path());
    let of_first = asked(&user, &first, "first");
    let of_second = asked(&user, &second, "second");
    let aside = folder.path().join("aside.db");
    std::fs::rename(&first, &aside).expect("moved");
    std::fs::rename(&second, &first).expect("moved");
    std::fs::rename(&aside, &second).expect("moved");
    assert_eq!(asked(&user, &first, "swapped"), of_second);
    assert_eq!(asked(&user, &second, "swapped"), of_first);
}

#[test]
fn a_reading_by_hand_noted_later_counts() {
    let folder = scratch();
    let log = replayed("slow-leak-overnight", folder.path());
    std::thread::sleep(SETTLED);
    let user = User::new(folder.path());
    let before = asked(&user, &log, "first");
    let words = [
        "note",
        "--log",
        &log,
        "fitting replaced",
        "--at",
        "2026-10-17 12:00Z",
    ];
    let done = run(SEEPD, &words);
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    assert!(Path::new(&log).exists());
    let after = asked(&user, &log, "noted");
    assert!(before.iter().zip(&after).all(|(b, a)| b != a));
}
