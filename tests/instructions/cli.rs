//! The command line.

use clap::Parser;
use std::path::PathBuf;

/// Count the instructions of both programs on small fixed inputs, invented all
/// of them, and compare with the counts noted before.
///
/// Needs valgrind. Exit code 1: a count has grown by more than the ratio; 69:
/// nothing could be judged, and the last line says why.
#[derive(Debug, Parser)]
#[command(name = "instruction-count", version)]
pub(crate) struct Options {
    /// Folder of the programs to count: seepd, seep and peer-logs
    #[arg(long, value_name = "FOLDER")]
    pub programs: PathBuf,
    /// The counts noted before
    #[arg(
        long,
        value_name = "FILE",
        default_value = "tests/instructions/baseline.toml"
    )]
    pub baseline: PathBuf,
    /// Note the counts of this run as the new ones; with --only, of those cases
    #[arg(long)]
    pub renew: bool,
    /// Growth that is called out: this many times the count noted
    #[arg(long, default_value_t = 1.3)]
    pub most: f64,
    /// Only cases whose name holds this
    #[arg(long, value_name = "WORDS", default_value = "")]
    pub only: String,
    /// Count every case this many times and say how far the counts lie apart
    #[arg(long, default_value_t = 1)]
    pub times: u32,
}

/// What was asked for.
pub(crate) fn options() -> Options {
    Options::parse()
}
