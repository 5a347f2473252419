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
            self.replay_dense()?,
            self.report("sessions", &["sessions", "--no-cache", "--log", &trip]),
            self.report("trip", &["trip", "--no-cache", "--log", &trip]),
            self.report("trip-day", &["trip", "--no-cache", "--log", &day]),
            self.report(
                "diagnose",
                &["diagnose", "--no-cache", "--log", &leak, "--format", "json"],
            ),
            self.report("verify", &["verify", "--no-cache", "--log", &trip]),
        ];
        let rows = self.at("rows.parquet");
        let mut export = self.report(
            "export",
            &[
                "export",
                "--no-cache",
                "--log",
                &trip,
                "--format",
                "parquet",
                "--out",
                &rows,
            ],
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

    /// A bus that says four pressures 500 times a second, of a car without wires
    /// at its valves: each reading is also looked at for what they did.
    fn replay_dense(&self) -> Result<Case, Failure> {
        let (frames, log) = (self.at("dense.candump.log"), self.at("replayed.db"));
        std::fs::write(&frames, dense_bus()).map_err(|e| Failure::Run(format!("{frames}: {e}")))?;
        let rig = concat!(env!("CARGO_MANIFEST_DIR"), "/peers/bus/rig.toml");
        Ok(Case {
            name: "replay-dense",
            program: self.programs.join("seepd"),
            args: ["replay", "--rig", rig, "--log", &log, &frames]
                .map(String::from)
                .into(),
            makes: Some(log.into()),
        })
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

/// 20,000 invented frames of the message 0x100 of `peers/bus/box.dbc`.
fn dense_bus() -> String {
    let mut out = String::new();
    for n in 0..20_000_u32 {
        let t_us = n * 2_000;
        // Up to 15 steps of noise.
        let rough = n.wrapping_mul(2_654_435_761) >> 28;
        let levels = [10_500 - n / 40, 5_200, 5_100, 4_300].map(|level| level + rough);
        let data: String = (levels.iter())
            .map(|level| format!("{:04X}", (*level as u16).swap_bytes()))
            .collect();
        let (s, us) = (1_790_000_000 + t_us / 1_000_000, t_us % 1_000_000);
        out.push_str(&format!("({s}.{us:06}) can0 100#{data}\n"));
    }
    out
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
