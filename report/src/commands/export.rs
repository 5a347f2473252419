//! `seep export`: the recorded rows for other programs.

mod dataset;

use crate::export::{
    Chunk, ExportTable, ForPeople, ParquetError, ParquetFile, Sink, chunks, csv, json_lines,
};
use crate::output::{Destination, OutputError, write_with};
use crate::recording::{Recording, RecordingError};

use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// In which form rows leave.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RowForm {
    /// Comma-separated values.
    Csv,
    /// One JSON object per line.
    JsonLines,
    /// One Parquet file.
    Parquet,
    /// Parquet files in folders by vehicle and day.
    ParquetByDay {
        /// Replace files that are there.
        replace: bool,
    },
}

/// Why rows could not be exported.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// The log cannot be read.
    #[error(transparent)]
    Recording(#[from] RecordingError),
    /// The columns cannot be written.
    #[error(transparent)]
    Columns(#[from] ParquetError),
    /// The output cannot be written.
    #[error(transparent)]
    Output(#[from] OutputError),
    /// A file of the data set is there already.
    #[error("{}: exists already; use --replace to write it again, or another --out", .0.display())]
    Exists(PathBuf),
    /// The file system reports an error.
    #[error("{}: {doing}", .path.display())]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// The system's error.
        source: io::Error,
    },
    /// Parquet is not for a terminal, a data set needs a folder.
    #[error("Parquet needs --out: a file, or with --by-day a folder")]
    NeedsOut,
    /// Only Parquet is written by day, and only readings.
    #[error("--by-day is for readings as Parquet: add --format parquet and leave --table away")]
    NotByDay,
    /// Raised inside a writer; see the inner error.
    #[error(transparent)]
    Write(#[from] io::Error),
}

/// Where the rows go.
#[derive(Debug, Clone, Copy)]
pub struct OutFile<'a> {
    /// A file, or a folder by day; `None` and `-` are standard output.
    pub out: Option<&'a Path>,
    /// Replace a file that is there.
    pub replace: bool,
}

impl OutFile<'_> {
    /// A file that is there is replaced only when asked for; a pipe or device is written to.
    fn checked(&self) -> Result<Destination, ExportError> {
        let to = Destination::from_option(self.out);
        match &to {
            Destination::File(path) if path.is_file() && !self.replace => {
                Err(ExportError::Exists(path.clone()))
            }
            _ => Ok(to),
        }
    }
}

/// Write the rows of a table; says in a sentence what was written.
///
/// # Errors
/// [`ExportError`]; a closed pipe is not an error.
pub fn run(
    recording: &Recording,
    table: ExportTable,
    form: RowForm,
    to: &OutFile,
    people: &ForPeople,
) -> Result<String, ExportError> {
    let to = to.checked()?;
    match (form, &to) {
        (RowForm::Csv, _) => rows(recording, table, &mut csv(), &to, people),
        (RowForm::JsonLines, _) => rows(recording, table, &mut json_lines(), &to, people),
        (RowForm::Parquet, Destination::File(_)) => parquet(recording, table, &to, people),
        (RowForm::ParquetByDay { .. }, _) if table != ExportTable::Readings => {
            Err(ExportError::NotByDay)
        }
        (RowForm::ParquetByDay { replace }, Destination::File(folder)) => {
            dataset::write(recording, folder, replace)
        }
        (_, Destination::Stdout) => Err(ExportError::NeedsOut),
    }
}

fn rows(
    recording: &Recording,
    table: ExportTable,
    sink: &mut dyn Sink,
    to: &Destination,
    people: &ForPeople,
) -> Result<String, ExportError> {
    let mut count = 0;
    stream(recording, to, &mut |out| {
        chunks(recording, table, |chunk| -> Result<(), ExportError> {
            count += chunk.len();
            Ok(sink.chunk(&people.apply(chunk), out)?)
        })
    })?;
    Ok(format!("{count} rows written"))
}

fn parquet(
    recording: &Recording,
    table: ExportTable,
    to: &Destination,
    people: &ForPeople,
) -> Result<String, ExportError> {
    let mut count = 0;
    let about = about(recording);
    stream(recording, to, &mut |out| {
        let mut out = Some(out);
        let mut file: Option<ParquetFile<_>> = None;
        chunks(
            recording,
            table,
            |chunk: &Chunk| -> Result<(), ExportError> {
                count += chunk.len();
                let chunk = people.apply(chunk);
                if let Some(out) = out.take() {
                    file = Some(ParquetFile::begin(out, &chunk, &about)?);
                }
                Ok(file.as_mut().map_or(Ok(()), |f| f.push(&chunk))?)
            },
        )?;
        Ok(file.map_or(Ok(()), ParquetFile::finish)?)
    })?;
    Ok(format!("{count} rows written"))
}

/// What the footer of every Parquet file says of its origin.
fn about(recording: &Recording) -> Vec<(&'static str, String)> {
    vec![
        ("seep_version", env!("CARGO_PKG_VERSION").to_string()),
        ("seep_log_sha256", recording.log_sha256().into()),
        ("seep_rig_sha256", recording.rig_sha256.clone()),
        ("seep_vehicle", recording.rig.vehicle.clone()),
    ]
}

/// Run a writer that may fail for reasons of the log too; those come back as
/// they are, and a closed pipe comes back as success.
fn stream(
    recording: &Recording,
    to: &Destination,
    fill: &mut dyn FnMut(&mut (dyn Write + Send)) -> Result<(), ExportError>,
) -> Result<(), ExportError> {
    let mut other = None;
    let done = write_with(to, recording.path(), &mut |out| match fill(out) {
        Ok(()) => Ok(()),
        Err(ExportError::Write(e)) => Err(e),
        Err(e) => {
            other = Some(e);
            Err(io::Error::other("see the inner error"))
        }
    });
    match other {
        Some(e) => Err(e),
        None => Ok(done?),
    }
}
