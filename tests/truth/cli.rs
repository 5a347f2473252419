//! The command line.

use clap::Parser;
use std::path::PathBuf;

/// Run simulated cars with known faults through recorder and report, and score
/// what is found against the truth. All data are invented.
///
/// Seeds 1 to 999 are for tuning, 100000 and above for scoring: never tune on
/// the latter.
#[derive(Debug, Clone, Parser)]
#[command(name = "truth-bench", version)]
pub(crate) struct Options {
    /// Cars to simulate
    #[arg(long, default_value_t = 220)]
    pub cars: u64,
    /// Weeks each car is watched
    #[arg(long, default_value_t = 2)]
    pub weeks: u32,
    /// Seed of the first car; the others follow
    #[arg(long, default_value_t = 100_000)]
    pub seed: u64,
    /// Only cars with this fault, such as `none` or `tank_leak`
    #[arg(long)]
    pub only: Option<String>,
    /// Ideal logs for the efficiency against the Cramér–Rao bound
    #[arg(long, default_value_t = 400)]
    pub ideal_logs: u32,
    /// Cars at a time; as many as there are processors by default
    #[arg(long)]
    pub jobs: Option<usize>,
    /// Keep logs and truths in this folder, and use those that are there: made
    /// by an earlier version of simulator or recorder, they are not looked at anew
    #[arg(long, value_name = "FOLDER")]
    pub keep: Option<PathBuf>,
    /// Write every fitted rest with its truth to this file, as CSV
    #[arg(long, value_name = "FILE")]
    pub rests: Option<PathBuf>,
    /// Also print one line per car
    #[arg(long)]
    pub verbose: bool,
    /// Exit code 1 when a bar is not met
    #[arg(long)]
    pub bars: bool,
}

/// What was asked for.
pub(crate) fn options() -> Options {
    Options::parse()
}
