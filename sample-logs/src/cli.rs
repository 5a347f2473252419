//! The command line.

use anyhow::Context as _;
use clap::{Parser, Subcommand};
use seep_sample_logs::generate;
use seep_sample_logs::scenario::{BUILTIN, Nuisance, Scenario, builtin};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Simulate vehicles on air and write the logs they would leave. All data are invented.
#[derive(Debug, Parser)]
#[command(name = "sample-logs", version)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Name every scenario that comes with the project and what happens in it.
    List,
    /// Make the logs of scenarios that come with the project, or check those at hand.
    Gen {
        /// Names of scenarios; without any, those whose logs are kept.
        names: Vec<String>,
        /// Write nothing: make the logs anew and compare byte by byte; exit code 1
        /// names the first difference.
        #[arg(long)]
        check: bool,
        /// Folder that holds one folder per scenario.
        #[arg(long, default_value = DEFAULT_OUT)]
        out: PathBuf,
    },
    /// Make the logs of a scenario of your own.
    Write {
        /// The scenario, a TOML file.
        scenario: PathBuf,
        /// Folder for the files.
        #[arg(long)]
        out: PathBuf,
        /// Another seed than the file's.
        #[arg(long)]
        seed: Option<u64>,
        /// Add everything that disturbs a real car's readings, drawn from the seed.
        #[arg(long)]
        disturbed: bool,
        /// Leave a disturbance out, such as `sun` or `creep`; may be repeated.
        #[arg(long, value_name = "WORD", value_parser = nuisance)]
        without: Vec<Nuisance>,
    },
}

const DEFAULT_OUT: &str = "sample-logs/logs";

/// Do what was asked.
pub(crate) fn run(arguments: Arguments) -> anyhow::Result<ExitCode> {
    match arguments.command {
        Command::List => list(),
        Command::Gen { names, check, out } => make(&names, check, &out),
        Command::Write {
            scenario,
            out,
            seed,
            disturbed,
            without,
        } => {
            let change = |scenario: &mut Scenario| {
                scenario.seed = seed.unwrap_or(scenario.seed);
                if disturbed {
                    scenario.disturb();
                }
                without.iter().for_each(|n| scenario.leave_out(*n));
            };
            write(&scenario, &out, change)
        }
    }
}

fn nuisance(word: &str) -> Result<Nuisance, String> {
    Nuisance::parse(word).ok_or_else(|| {
        let known: Vec<&str> = Nuisance::ALL.iter().map(|n| n.word()).collect();
        format!("use one of {}", known.join(", "))
    })
}

fn list() -> anyhow::Result<ExitCode> {
    for known in BUILTIN {
        let scenario = Scenario::parse(known.text)?;
        let hours = scenario.seconds() / 3600.0;
        let logs = if known.kept {
            "logs at hand"
        } else {
            "logs made on demand"
        };
        println!(
            "{} ({hours:.0} h, {logs})\n    {}",
            known.name, scenario.summary
        );
    }
    Ok(ExitCode::SUCCESS)
}

fn make(names: &[String], check: bool, out: &Path) -> anyhow::Result<ExitCode> {
    let kept = BUILTIN.iter().filter(|known| known.kept);
    let kept: Vec<String> = kept.map(|known| known.name.to_string()).collect();
    for name in if names.is_empty() { &kept } else { names } {
        let logs = generate(&builtin(name)?);
        let folder = out.join(name);
        if !check {
            logs.write(&folder)
                .with_context(|| format!("writing {}", folder.display()))?;
            println!("{name}: written to {}", folder.display());
            continue;
        }
        let found = logs
            .first_difference(&folder)
            .with_context(|| format!("reading {}", folder.display()))?;
        if let Some(difference) = found {
            println!("{name}: {difference}");
            return Ok(ExitCode::from(1));
        }
        println!("{name}: every byte as made");
    }
    Ok(ExitCode::SUCCESS)
}

fn write(path: &Path, out: &Path, change: impl Fn(&mut Scenario)) -> anyhow::Result<ExitCode> {
    let text =
        std::fs::read_to_string(path).with_context(|| format!("reading {}", path.display()))?;
    let mut scenario = Scenario::parse(&text).with_context(|| format!("in {}", path.display()))?;
    change(&mut scenario);
    generate(&scenario)
        .write(out)
        .with_context(|| format!("writing {}", out.display()))?;
    println!("{}: written to {}", scenario.name, out.display());
    Ok(ExitCode::SUCCESS)
}
