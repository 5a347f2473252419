//! Targets for hostile input: each takes any bytes and must neither panic, nor
//! hang, nor grow without bound, nor break what its reader promises.
//!
//! One body for three drivers: the tests of this package (corpus and some seeded
//! mutations), `fuzz/long` (seeded mutations for so many minutes) and cargo-fuzz
//! (`fuzz/guided`, coverage-guided).

mod bus_database;
mod frames;
mod log_file;
pub mod mutate;
mod replays;
mod rigs;
mod sentences;
mod tables;

use seep_common::codec::dbc::{Database, builtin};
use seep_common::rig::Rig;
use std::path::Path;
use std::sync::OnceLock;

/// A body and what its driver needs to know.
#[derive(Debug, Clone, Copy)]
pub struct Target {
    /// Its name, that of its corpus folder.
    pub name: &'static str,
    /// The body; a panic is a finding.
    pub run: fn(&[u8]),
    /// Words of its language, for mutations.
    pub words: &'static [&'static str],
    /// Mutations in one test run; the slow bodies get fewer.
    pub rounds: usize,
}

/// Every target.
pub const TARGETS: [Target; 7] = [
    sentences::TARGET,
    frames::TARGET,
    bus_database::TARGET,
    rigs::TARGET,
    tables::TARGET,
    replays::TARGET,
    log_file::TARGET,
];

/// Run a target by name, for drivers outside this package.
///
/// # Panics
/// On a finding, and when there is no such target.
pub fn run(name: &str, data: &[u8]) {
    let target = TARGETS.iter().find(|target| target.name == name);
    (target.expect("a target").run)(data);
}

/// The inputs checked in for a target, in the order of their names.
///
/// # Panics
/// When there is none.
#[must_use]
pub fn corpus(name: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fuzz/corpus")
        .join(name);
    let mut paths: Vec<_> = std::fs::read_dir(&folder)
        .expect("a corpus folder")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    paths.sort();
    assert!(!paths.is_empty(), "{name} has an empty corpus");
    let read = |path| std::fs::read(path).expect("readable");
    paths.into_iter().map(read).collect()
}

/// Bytes in portions whose sizes come from the bytes themselves.
fn portions(data: &[u8]) -> impl Iterator<Item = &[u8]> {
    let mut rest = data;
    std::iter::from_fn(move || {
        let size = 1 + usize::from(*rest.first()? % 13);
        let (part, after) = rest.split_at(size.min(rest.len()));
        rest = after;
        Some(part)
    })
}

/// An invented rig with both kinds of wire.
fn rig() -> &'static Rig {
    static RIG: OnceLock<Rig> = OnceLock::new();
    let text = include_str!("../../../sample-logs/logs/kinked-line/rig.toml");
    RIG.get_or_init(|| Rig::parse(text).expect("checked in"))
}

/// The bus database that ships, read once.
fn air() -> &'static [Database; 1] {
    static AIR: OnceLock<[Database; 1]> = OnceLock::new();
    let name = "builtin:j1939-air";
    let text = builtin(name).expect("built in");
    AIR.get_or_init(|| [Database::parse(name, text).expect("checked in")])
}

/// A folder of this thread, emptied before each use.
fn with_folder(work: impl FnOnce(&Path)) {
    thread_local! {
        static FOLDER: tempfile::TempDir = crate::scratch::scratch();
    }
    FOLDER.with(|folder| {
        for entry in std::fs::read_dir(folder.path()).expect("a folder") {
            std::fs::remove_file(entry.expect("an entry").path()).expect("removed");
        }
        work(folder.path());
    });
}
