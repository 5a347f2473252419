//! The command line.

use crate::case::Case;
use crate::class::{Class, Power, Thermometers};
use clap::Parser;
use seep_sample_logs::scenario::Nuisance;
use std::path::PathBuf;

/// Run simulated cars with known faults through recorder and report, and score
/// what is found against the truth. All data are invented.
///
/// Each car is run sound, with a fault, and with a leak exactly at the limit that
/// the report printed for the sound one. Seeds 1 to 999 are for tuning, 500000 and
/// above for scoring, once: never tune on the latter.
#[derive(Debug, Clone, Parser)]
#[command(name = "truth-bench", version)]
pub(crate) struct Options {
    /// Cars to simulate
    #[arg(long, default_value_t = 210)]
    pub cars: u64,
    /// Weeks each car is watched
    #[arg(long, default_value_t = 2)]
    pub weeks: u32,
    /// Seed of the first car; the others follow
    #[arg(long, default_value_t = 500_000)]
    pub seed: u64,
    /// Only this fault, such as `tank_leak`
    #[arg(long, value_parser = case)]
    pub only: Option<Case>,
    /// Only this class: `heights` or `gauges`, `own`, `outside` or `none`, `always`
    /// or `ignition`, as in `heights,own,always`
    #[arg(long, value_parser = class)]
    pub class: Option<Class>,
    /// Leave a disturbance out, such as `sun`; may be repeated
    #[arg(long, value_name = "WORD", value_parser = nuisance)]
    pub without: Vec<Nuisance>,
    /// Leave the cars with faults out
    #[arg(long = "no-faults", action = clap::ArgAction::SetFalse)]
    pub faults: bool,
    /// Leave the leaks at the printed limit out
    #[arg(long = "no-limits", action = clap::ArgAction::SetFalse)]
    pub at_limit: bool,
    /// Ideal logs for the efficiency against the Cramér–Rao bound
    #[arg(long, default_value_t = 0)]
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
    /// Also print lines per car
    #[arg(long)]
    pub verbose: bool,
    /// Exit code 1 when a bar is not met
    #[arg(long)]
    pub bars: bool,
    /// Run the hand-made cases instead, or those whose name contains this
    #[arg(long, value_name = "NAME", num_args = 0..=1, default_missing_value = "")]
    pub cases: Option<String>,
    /// Lift so many cars of each class of readings instead, and score conductances
    #[arg(long, value_name = "CARS", num_args = 0..=1, default_missing_value = "40")]
    pub lifts: Option<u64>,
    /// Make faults of moves at their printed limits on so many cars of the lift bench instead
    #[arg(long, value_name = "CARS", num_args = 0..=1, default_missing_value = "40")]
    pub move_limits: Option<u64>,
    /// Keep the books of so many cars of the lift bench instead, and score the remainders
    #[arg(long, value_name = "CARS", num_args = 0..=1, default_missing_value = "36")]
    pub ledgers: Option<u64>,
}

fn case(word: &str) -> Result<Case, String> {
    let mut known = Case::FAULTS.into_iter();
    let found = known.find(|c| c.word() == word);
    found.ok_or_else(|| {
        let words: Vec<&str> = Case::FAULTS.iter().map(|c| c.word()).collect();
        format!("use one of {}", words.join(", "))
    })
}

fn class(text: &str) -> Result<Class, String> {
    let words: Vec<&str> = text.split(',').map(str::trim).collect();
    let [heights, thermometers, power] = words[..] else {
        return Err("give three words, such as `heights,own,always`".into());
    };
    Ok(Class {
        heights: match heights {
            "heights" => true,
            "gauges" => false,
            _ => return Err("the first word is `heights` or `gauges`".into()),
        },
        thermometers: match thermometers {
            "own" => Thermometers::Own,
            "outside" => Thermometers::Outside,
            "none" => Thermometers::None,
            _ => return Err("the second word is `own`, `outside` or `none`".into()),
        },
        power: match power {
            "always" => Power::Always,
            "ignition" => Power::Ignition,
            _ => return Err("the third word is `always` or `ignition`".into()),
        },
    })
}

fn nuisance(word: &str) -> Result<Nuisance, String> {
    Nuisance::parse(word).ok_or_else(|| {
        let known: Vec<&str> = Nuisance::ALL.iter().map(|n| n.word()).collect();
        format!("use one of {}", known.join(", "))
    })
}

/// What was asked for.
pub(crate) fn options() -> Options {
    Options::parse()
}
