//! The rig file and the bus databases beside it.

use crate::databases::Databases;
use crate::exit::{Exit, Failure};
use crate::files::read_regular;
use crate::source::replay::check_time;
use seep_common::codec::dbc::{Database, builtin};
use seep_common::codec::decode::{CanDecoder, ModbusDecoder, NmeaDecoder};
use seep_common::rig::{Rig, SourceKind};
use std::path::Path;

/// No rig is larger, bytes.
const MOST_RIG_BYTES: u64 = 1 << 20;

/// No bus database is larger, bytes; the largest public ones have a few MB.
pub(crate) const MOST_DATABASE_BYTES: u64 = 8 << 20;

/// Read a rig, its databases, and try every decode rule.
///
/// # Errors
/// 66 when the rig cannot be read, or a database is missing and nothing else is
/// wrong; 78 with every mistake of the rig and its databases: file, line, key and
/// remedy.
pub(crate) fn load(path: &Path) -> Result<(Rig, Databases), Failure> {
    let text = text_of(path)?;
    let (rig, problems) = Rig::parse_leniently(&text);
    let mut wrong: Vec<String> = problems
        .iter()
        .map(|p| format!("{}: {p}", path.display()))
        .collect();
    let Some(rig) = rig else {
        return Err(Failure::say(Exit::Config, wrong.join("\n")));
    };
    let mut exit = if wrong.is_empty() {
        None
    } else {
        Some(Exit::Config)
    };
    let mut databases = Databases::default();
    let mut without_database = Vec::new();
    for (i, source) in rig.sources.iter().enumerate() {
        let mut found = Vec::new();
        if let SourceKind::SocketCan { dbc, .. } = &source.kind {
            let line = rig.line_of("source", &source.name).unwrap_or(1);
            let named_at = format!("{}: line {line}: source.dbc", path.display());
            for name in dbc {
                match database(path, &named_at, name) {
                    Ok(database) => found.push(database),
                    Err(failure) => {
                        without_database.push(i);
                        let same = exit.is_none_or(|known| known == failure.exit);
                        exit = Some(if same { failure.exit } else { Exit::Config });
                        wrong.push(failure.to_string());
                    }
                }
            }
        }
        databases.push(found);
    }
    let undecoded = undecoded(&rig, &databases, path, &without_database);
    if !undecoded.is_empty() {
        exit = Some(Exit::Config);
        wrong.extend(undecoded);
    }
    match exit {
        None => Ok((rig, databases)),
        Some(exit) => Err(Failure::say(exit, wrong.join("\n"))),
    }
}

/// A file that is about to be made must not be there yet.
///
/// # Errors
/// 73 when it is.
pub(crate) fn unused_path(path: &Path) -> Result<(), Failure> {
    if path.exists() {
        return Err(Failure::say(
            Exit::CannotCreate,
            format!(
                "{}: exists and is not written over; give another name",
                path.display()
            ),
        ));
    }
    Ok(())
}

/// Reads a rig to record by: the one check of the start and of a reload.
///
/// # Errors
/// Those of [`load`], and 78 when no source of the rig can be read live.
pub(crate) fn load_live(path: &Path) -> Result<(Rig, Databases), Failure> {
    let (rig, databases) = load(path)?;
    if rig.sources.iter().any(|s| s.kind.is_live()) {
        return Ok((rig, databases));
    }
    Err(Failure::say(
        Exit::Config,
        format!(
            "{}: no source can be read live; give a socketcan source, or a device to an nmea or modbus source",
            path.display()
        ),
    ))
}

/// The text of a rig file, of a size a rig can have.
fn text_of(path: &Path) -> Result<String, Failure> {
    let wrong = |what: String| Failure::say(Exit::Config, format!("{}: {what}", path.display()));
    let bytes = read_regular(path, MOST_RIG_BYTES).map_err(|e| match e.kind() {
        std::io::ErrorKind::InvalidInput => wrong(format!("{e}; give the rig's TOML file")),
        _ => Failure::say(Exit::NoInput, format!("{}: {e}", path.display())),
    })?;
    String::from_utf8(bytes).map_err(|e| {
        let before = &e.as_bytes()[..e.utf8_error().valid_up_to()];
        let line = before.iter().filter(|b| **b == b'\n').count() + 1;
        wrong(format!(
            "line {line}: is no text (not UTF-8); give the rig's TOML file, saved as UTF-8"
        ))
    })
}

/// A database named in the rig at `path`; a file name is meant from its folder.
fn database(path: &Path, named_at: &str, name: &str) -> Result<Database, Failure> {
    let wrong = |e: &dyn std::fmt::Display| Failure::say(Exit::Config, e.to_string());
    if let Some(text) = builtin(name) {
        return Database::parse(name, text).map_err(|e| wrong(&e));
    }
    if name.starts_with("builtin:") {
        return Err(wrong(&format!(
            "{named_at}: `{name}` is not built in; there are `builtin:j1939-air` and `builtin:nmea2000-air`, or give a DBC file"
        )));
    }
    let file = path.parent().unwrap_or(Path::new(".")).join(name);
    let bytes = read_regular(&file, MOST_DATABASE_BYTES).map_err(|e| {
        let what = format!(
            "{named_at}: {}: {e}; correct the name, or put the file there",
            file.display()
        );
        Failure::say(Exit::NoInput, what)
    })?;
    Database::parse_bytes(&file.display().to_string(), &bytes).map_err(|e| wrong(&e))
}

/// Decode rules that cannot work, told before anything is opened; sources whose
/// database could not be read are left out.
fn undecoded(rig: &Rig, databases: &Databases, path: &Path, without: &[usize]) -> Vec<String> {
    let mut problems = Vec::new();
    let mut note = |array: &str, name: &str, problem: String| {
        let line = rig.line_of(array, name).unwrap_or(1);
        problems.push(format!("{}: line {line}: {problem}", path.display()));
    };
    let sources = rig.sources.iter().enumerate();
    for (i, source) in sources.filter(|(i, _)| !without.contains(i)) {
        let tried = match &source.kind {
            SourceKind::SocketCan { .. } => CanDecoder::new(rig, i, databases.of(i)).map(drop),
            SourceKind::Nmea { .. } => NmeaDecoder::new(rig, i).map(drop),
            SourceKind::Modbus { .. } => ModbusDecoder::new(rig, i).map(drop),
            SourceKind::Csv {
                time_format, zone, ..
            } => {
                if let Err(problem) = check_time(time_format, zone) {
                    note("source", &source.name, format!("source: {problem}"));
                }
                Ok(())
            }
        };
        for problem in tried.err().into_iter().flat_map(|e| e.problems) {
            note("channel", &problem.channel, problem.to_string());
        }
    }
    problems
}
