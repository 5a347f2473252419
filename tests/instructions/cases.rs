//! What is counted: each a program, its arguments and what it writes.

use crate::Failure;
use std::path::{Path, PathBuf};
use std::process::Command;

/// One thing a program does.
#[derive(Debug)]
pub(crate) struct Case {
    pub(crate) name: &'static str,
    pub(crate) program: PathBuf,
    pub(crate) args: Vec<String>,
    /// Made anew by every run.
    pub(crate) makes: Option<PathBuf>,
}

/// Where programs and inputs are.
pub(crate) struct Places<'a> {
    pub(crate) programs: &'a Path,
    pub(crate) scratch: &'a Path,
}

impl Places<'_> {
    /// Every case whose name holds `only`, with the logs they read.
    pub(crate) fn cases(&self, only: &str) -> Result<Vec<Case>, Failure> {
        let trip = self.replayed("healthy-road-trip")?;
        let leak = self.replayed("slow-leak-overnight")?;
        let day = self.day()?;
        let mut cases = vec![
            self.replay("replay-bus", "bus.candump.log"),
            self.replay("replay-box", "box.nmea.log"),
            self.report("sessions", &["sessions", "--log", &trip]),
            self.report("trip", &["trip", "--log", &trip]),
            self.report("trip-day", &["trip", "--log", &day]),
            self.report(
                "diagnose",
                &["diagnose", "--log", &leak, "--format", "json"],
            ),
            self.report("verify", &["verify", "--log", &trip]),
        ];
        let rows = self.at("rows.parquet");
        let mut export = self.report(
            "export",
            &["export", "--log", &trip, "--as", "parquet", "--out", &rows],
        );
        export.makes = Some(rows.into());
        cases.push(export);
        cases.retain(|case| case.name.contains(only));
        match cases.is_empty() {
            true => Err(Failure::Use(format!("no case is named like `{only}`"))),
            false => Ok(cases),
        }
    }

    fn at(&self, name: &str) -> String {
        self.scratch.join(name).display().to_string()
    }

    fn report(&self, name: &'static str, args: &[&str]) -> Case {
        Case {
            name,
            program: self.programs.join("seep"),
            args: args.iter().map(ToString::to_string).collect(),
            makes: None,
        }
    }

    fn replay(&self, name: &'static str, input: &str) -> Case {
        let log = self.at("replayed.db");
        Case {
            name,
            program: self.programs.join("seepd"),
            args: replay_args("healthy-road-trip", &log, &[input]),
            makes: Some(log.into()),
        }
    }

    /// A sample log as a recording.
    fn replayed(&self, sample: &str) -> Result<String, Failure> {
        let log = self.at(&format!("{sample}.db"));
        let args = replay_args(sample, &log, &["bus.candump.log", "box.nmea.log"]);
        make(&self.programs.join("seepd"), &args)?;
        Ok(log)
    }

    /// A day of an invented car: two hours of driving, 80,000 rows.
    fn day(&self) -> Result<String, Failure> {
        let log = self.at("day.db");
        let args = ["--days", "1", "--out", &log].map(String::from);
        make(&self.programs.join("peer-logs"), &args)?;
        Ok(log)
    }
}

fn replay_args(sample: &str, log: &str, inputs: &[&str]) -> Vec<String> {
    let folder = seep_tests::sample(sample);
    let at = |name: &str| folder.join(name).display().to_string();
    let rig = at("rig.toml");
    let mut args: Vec<String> = ["replay", "--rig", &rig, "--log", log]
        .map(String::from)
        .into();
    args.extend(inputs.iter().map(|name| at(name)));
    args
}

fn make(program: &Path, args: &[String]) -> Result<(), Failure> {
    let done = Command::new(program).args(args).output();
    let done = done.map_err(|e| Failure::Run(format!("{}: {e}", program.display())))?;
    match done.status.success() {
        true => Ok(()),
        false => Err(Failure::Run(format!(
            "{} {}: {}",
            program.display(),
            args.join(" "),
            String::from_utf8_lossy(&done.stderr).trim()
        ))),
    }
}
