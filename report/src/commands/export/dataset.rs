//! A Parquet data set in folders: `vehicle=…/day=…/session-N.parquet`.
//!
//! The folder names carry the values of two columns, as engines that read
//! partitioned data sets expect. Files are written aside and moved into place
//! together, so that a reader never meets half of one.

use super::{ExportError, about};
use crate::export::{Chunk, ExportTable, ParquetFile, chunks};
use crate::recording::Recording;
use jiff::Timestamp;
use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// Folder name for rows without a wall time, as data sets name a missing value.
const NO_DAY: &str = "__HIVE_DEFAULT_PARTITION__";

/// Write the readings under `folder`.
pub(super) fn write(
    recording: &Recording,
    folder: &Path,
    replace: bool,
) -> Result<String, ExportError> {
    fs::create_dir_all(folder).map_err(|e| failed(folder, "creating the folder", e))?;
    let aside = tempfile::Builder::new()
        .prefix(".seep-export-")
        .tempdir_in(folder)
        .map_err(|e| failed(folder, "creating a folder for unfinished files", e))?;
    let about = about(recording);
    let mut files: Vec<(PathBuf, PathBuf)> = Vec::new();
    let mut rows = 0;
    chunks(
        recording,
        ExportTable::Readings,
        |chunk| -> Result<(), ExportError> {
            for (day, part) in by_day(recording, chunk) {
                let unfinished = aside.path().join(files.len().to_string());
                one_file(&unfinished, &part, &about)?;
                rows += part.len();
                files.push((unfinished, place(recording, folder, &day, part.session)));
            }
            Ok(())
        },
    )?;
    if !replace && let Some((_, there)) = files.iter().find(|f| f.1.exists()) {
        return Err(ExportError::Exists(there.clone()));
    }
    for (unfinished, target) in &files {
        let parent = target.parent().unwrap_or(folder);
        fs::create_dir_all(parent).map_err(|e| failed(parent, "creating the folder", e))?;
        fs::rename(unfinished, target)
            .map_err(|e| failed(target, "moving the file into place", e))?;
    }
    Ok(format!("{rows} rows written to {} files", files.len()))
}

fn place(recording: &Recording, folder: &Path, day: &str, session: i64) -> PathBuf {
    folder
        .join(format!("vehicle={}", escaped(&recording.rig.vehicle)))
        .join(format!("day={day}"))
        .join(format!("session-{session}.parquet"))
}

/// Everything but letters, digits and `_.-` as `%XX`: what engines undo.
fn escaped(text: &str) -> String {
    text.bytes().fold(String::new(), |mut out, byte| {
        if byte.is_ascii_alphanumeric() || b"_.-".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
        out
    })
}

/// A chunk cut where the day changes, in the zone of the report.
fn by_day(recording: &Recording, chunk: &Chunk) -> Vec<(String, Chunk)> {
    let day = |t: Option<i64>| {
        t.and_then(|t| Timestamp::from_millisecond(t).ok())
            .map_or_else(
                || NO_DAY.to_string(),
                |t| {
                    t.to_zoned_datetime(recording.span.zone.clone())
                        .date()
                        .to_string()
                },
            )
    };
    let times = chunk.times().unwrap_or(&[]);
    let mut out = Vec::new();
    let mut start = 0;
    while start < times.len() {
        let today = day(times[start]);
        let length = times[start..]
            .iter()
            .position(|t| day(*t) != today)
            .unwrap_or(times.len() - start);
        out.push((today, chunk.rows(start, start + length)));
        start += length;
    }
    joined(out)
}

/// A clock that was set back gives a day twice in one session: one file still.
fn joined(parts: Vec<(String, Chunk)>) -> Vec<(String, Chunk)> {
    let mut out: Vec<(String, Chunk)> = Vec::new();
    for (day, part) in parts {
        match out.iter_mut().find(|o| o.0 == day) {
            Some(known) => known.1.extend(&part),
            None => out.push((day, part)),
        }
    }
    out
}

fn one_file(path: &Path, part: &Chunk, about: &[(&str, String)]) -> Result<(), ExportError> {
    let file = fs::File::create_new(path).map_err(|e| failed(path, "creating the file", e))?;
    let mut out = BufWriter::new(file);
    let mut parquet = ParquetFile::begin(&mut out, part, about)?;
    parquet.push(part)?;
    parquet.finish()?;
    out.flush()
        .and_then(|()| out.get_ref().sync_all())
        .map_err(|e| failed(path, "writing the file", e))
}

fn failed(path: &Path, doing: &'static str, source: io::Error) -> ExportError {
    ExportError::Io {
        path: path.into(),
        doing,
        source,
    }
}

#[cfg(test)]
mod tests {
    use super::escaped;

    #[test]
    fn folder_names_are_safe_everywhere() {
        assert_eq!(
            escaped("Blue coupe (invented)"),
            "Blue%20coupe%20%28invented%29"
        );
        assert_eq!(escaped("../ä=1"), "..%2F%C3%A4%3D1");
    }
}
