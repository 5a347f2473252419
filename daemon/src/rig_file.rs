//! The rig file and the bus databases beside it.

use crate::exit::{Exit, Failure};
use seep_common::codec::dbc::{Database, builtin};
use seep_common::codec::decode::{CanDecoder, ModbusDecoder, NmeaDecoder};
use seep_common::rig::{Rig, SourceKind};
use std::path::Path;

/// Bus databases of each source of a rig, by its index; empty for other kinds.
#[derive(Debug, Default)]
pub(crate) struct Databases(Vec<Vec<Database>>);

impl Databases {
    /// As a test gives them.
    #[cfg(test)]
    pub(crate) fn from_lists(lists: Vec<Vec<Database>>) -> Self {
        Databases(lists)
    }

    /// Databases of one source.
    pub(crate) fn of(&self, source: usize) -> &[Database] {
        self.0.get(source).map_or(&[], Vec::as_slice)
    }
}

/// Read a rig, its databases, and try every decode rule.
///
/// # Errors
/// 66 when the rig cannot be read, 78 with file, line, key and remedy when it
/// or a database has mistakes.
pub(crate) fn load(path: &Path) -> Result<(Rig, Databases), Failure> {
    let bytes = std::fs::read(path)
        .map_err(|e| Failure::say(Exit::NoInput, format!("{}: {e}", path.display())))?;
    let text = String::from_utf8(bytes).map_err(|_| {
        Failure::say(
            Exit::Config,
            format!(
                "{}: is no text (not UTF-8); give the rig's TOML file",
                path.display()
            ),
        )
    })?;
    let rig = Rig::parse(&text).map_err(|e| {
        let lines: Vec<_> = e
            .problems
            .iter()
            .map(|p| format!("{}: {p}", path.display()))
            .collect();
        Failure::say(Exit::Config, lines.join("\n"))
    })?;
    let folder = path.parent().unwrap_or(Path::new("."));
    let mut databases = Databases::default();
    for source in &rig.sources {
        databases.0.push(match &source.kind {
            SourceKind::SocketCan { dbc, .. } => dbc
                .iter()
                .map(|name| database(folder, name))
                .collect::<Result<_, _>>()?,
            _ => Vec::new(),
        });
    }
    try_decoders(&rig, &databases, path)?;
    Ok((rig, databases))
}

fn database(folder: &Path, name: &str) -> Result<Database, Failure> {
    let wrong = |e: &dyn std::fmt::Display| Failure::say(Exit::Config, e.to_string());
    if let Some(text) = builtin(name) {
        return Database::parse(name, text).map_err(|e| wrong(&e));
    }
    if name.starts_with("builtin:") {
        return Err(Failure::say(
            Exit::Config,
            format!("`{name}` is not built in; there is `builtin:j1939-air`, or give a DBC file"),
        ));
    }
    let path = folder.join(name);
    let bytes = std::fs::read(&path)
        .map_err(|e| Failure::say(Exit::NoInput, format!("{}: {e}", path.display())))?;
    Database::parse_bytes(&path.display().to_string(), &bytes).map_err(|e| wrong(&e))
}

/// A decode rule that cannot work is told before anything is opened.
fn try_decoders(rig: &Rig, databases: &Databases, path: &Path) -> Result<(), Failure> {
    let mut problems = Vec::new();
    for (i, source) in rig.sources.iter().enumerate() {
        let tried = match &source.kind {
            SourceKind::SocketCan { .. } => CanDecoder::new(rig, i, databases.of(i)).map(drop),
            SourceKind::Nmea { .. } => NmeaDecoder::new(rig, i).map(drop),
            SourceKind::Modbus { .. } => ModbusDecoder::new(rig, i).map(drop),
            SourceKind::Csv { .. } => Ok(()),
        };
        if let Err(e) = tried {
            problems.extend(
                e.problems
                    .iter()
                    .map(|p| format!("{}: {p}", path.display())),
            );
        }
    }
    if problems.is_empty() {
        Ok(())
    } else {
        Err(Failure::say(Exit::Config, problems.join("\n")))
    }
}
