//! `seepd match` on invented buses: how often the true signal comes first, how
//! often it is found, and how often something wrong is called found.

use clap::Parser;
use seep_daemon::matching::{MatchVerdict, NoteError, find_gauge};
use seep_tests::unknown_bus::{CLOCK_MS, ROUNDING_KPA, UnknownBus};
use std::process::ExitCode;

/// Measures `seepd match` on invented buses of 100 identifiers.
#[derive(Debug, Parser)]
struct Options {
    /// Buses with the gauge's signal, and as many without
    #[arg(long, default_value_t = 500)]
    trials: u64,
    /// First seed; the bench was tuned on seeds below 3 000 000 only
    #[arg(long, default_value_t = 3_000_000)]
    seed: u64,
    /// Readings that the person notes
    #[arg(long, default_value_t = 8)]
    readings: usize,
    /// The person notes while the gauge stands still, not at any moment
    #[arg(long)]
    still: bool,
}

#[derive(Debug, Default)]
struct Tally {
    first: u64,
    right: u64,
    wrong: u64,
    near: u64,
    follow: u64,
    few: u64,
    nothing: u64,
}

fn trial(seed: u64, options: &Options, carried: bool, tally: &mut Tally) {
    let invented = UnknownBus::noted(seed, options.readings, carried, options.still);
    let error = NoteError {
        rounding: ROUNDING_KPA,
        clock_ms: CLOCK_MS,
    };
    let result = find_gauge(&invented.bus, &invented.readings, error);
    let right = result.best.is_some_and(|best| invented.is_right(&best));
    tally.first += u64::from(right);
    match result.verdict {
        MatchVerdict::Found(_) if right => tally.right += 1,
        MatchVerdict::Found(_) => {
            tally.wrong += 1;
            eprintln!(
                "wrong: seed {seed}, {:?}, {}",
                result.best,
                invented.truth()
            );
        }
        MatchVerdict::RunnerUpTooNear(_) => tally.near += 1,
        MatchVerdict::MayOnlyFollow(_) => tally.follow += 1,
        MatchVerdict::TooFewReadings(_) => tally.few += 1,
        MatchVerdict::NothingFits => tally.nothing += 1,
    }
    if carried && !right {
        eprintln!(
            "not first: seed {seed}, {:?}, best {:?}, {}",
            result.verdict,
            result.best.map(|b| (b.group, b.field, b.ln_evidence)),
            invented.truth()
        );
    }
}

fn main() -> ExitCode {
    let options = Options::parse();
    let (mut with, mut without) = (Tally::default(), Tally::default());
    for n in 0..options.trials {
        trial(options.seed + n, &options, true, &mut with);
        trial(options.seed + n, &options, false, &mut without);
    }
    let share = |n: u64| 100.0 * n as f64 / options.trials.max(1) as f64;
    println!(
        "{} buses of 100 identifiers with the signal and {} without, {} readings {}, seeds from {}",
        options.trials,
        options.trials,
        options.readings,
        if options.still {
            "of the gauge at rest"
        } else {
            "at any moment"
        },
        options.seed
    );
    println!("| | with the signal | without |\n|---|---|---|");
    for (name, of) in [
        ("true signal first", (|t| t.first) as fn(&Tally) -> u64),
        ("found, right", |t| t.right),
        ("found, wrong", |t| t.wrong),
        ("runner-up too near", |t| t.near),
        ("may only follow the gauge", |t| t.follow),
        ("too few readings", |t| t.few),
        ("nothing fits", |t| t.nothing),
    ] {
        println!(
            "| {name} | {:.1} % | {:.1} % |",
            share(of(&with)),
            share(of(&without))
        );
    }
    let met = share(with.first) >= 95.0 && share(with.wrong) <= 1.0 && without.wrong == 0;
    println!(
        "bars (first in 95 %, wrong in 1 % at most, none found without): {}",
        if met { "met" } else { "MISSED" }
    );
    ExitCode::from(u8::from(!met))
}
