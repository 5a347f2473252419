//! `peer-load`: loads every reading of a log into columns as a report does, and
//! does nothing with them. Set against `scan.c`, which only steps through them.

use seep_report::recording::{Recording, SpanRequest};
use std::path::Path;
use std::process::ExitCode;

fn main() -> ExitCode {
    let Some(log) = std::env::args_os().nth(1) else {
        eprintln!("usage: peer-load LOG");
        return ExitCode::from(2);
    };
    match rows(Path::new(&log)) {
        Ok(rows) => {
            println!("{rows} rows");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("peer-load: {error}");
            ExitCode::FAILURE
        }
    }
}

fn rows(log: &Path) -> Result<usize, Box<dyn std::error::Error>> {
    let recording = Recording::open(log, &SpanRequest::default())?;
    let mut rows = 0;
    for session in &recording.sessions {
        rows += recording.frame(session)?.len();
    }
    Ok(rows)
}
