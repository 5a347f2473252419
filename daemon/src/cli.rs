//! The command line; the only place that knows clap.

use crate::exit::Exit;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args, CommandFactory, FromArgMatches, Parser, Subcommand};
use seep_common::defaults::{LengthChoice, PressureChoice, TemperatureChoice};
use std::ffi::OsString;
use std::io::Write;
use std::path::PathBuf;

const FIRST_STEPS: &str = "Examples:
  seepd listen                                   # what can be heard here
  seepd draft --out rig.toml                     # a rig from that and a few answers
  seepd check --rig rig.toml
  seepd run --rig rig.toml --log trip.db
  seepd note --log trip.db fitting replaced, rear left";

/// What a person looks for first stands first.
const EXAMPLES_FIRST: &str = "{about}{after-help}\n\n{usage-heading} {usage}\n\n{all-args}";

/// Records pressures, heights, temperatures, valves and compressors of a
/// vehicle on air suspension, from CAN and serial to an SQLite log.
#[derive(Debug, Parser)]
#[command(name = "seepd", version, max_term_width = 100, after_help = FIRST_STEPS)]
struct CommandLine {
    #[command(subcommand)]
    command: Command,
}

/// What `seepd` is asked to do.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Read a rig file and its bus databases, say what is wrong or what it means
    ///
    /// Lists every mistake with its line, or what the rig means and what weakens
    /// its answers. Opens no device and no bus. Exit code 0 when the rig can be
    /// used, 78 when it has mistakes.
    #[command(
        after_help = "Examples:\n  seepd check --rig rig.toml\n  seepd check --rig rig.toml --log trip.db"
    )]
    Check(CheckArgs),
    /// Turn recorded files into a log, by the same way as a live recording
    ///
    /// Inputs are CAN logs (candump's log or what it prints, ASC, TRC), NMEA 0183
    /// captures (times from TAG blocks, in front of each line, or from ZDA
    /// sentences) and CSV tables; the kind is told from the content. Several
    /// inputs are merged by time. An existing log is never written over.
    /// A file may end anywhere: a last candump or table line without its end is
    /// counted and not read, for its data may be cut short; an NMEA sentence is
    /// whole with its checksum.
    ///
    /// Exit codes: 65 an input is not understood, 66 an input is missing,
    /// 73 the log exists, 74 reading or writing failed, 78 the rig has mistakes.
    #[command(
        after_help = "Examples:\n  seepd replay --rig rig.toml --log trip.db bus.log box.nmea\n  seepd replay --rig rig.toml --log trip.db --append friday.asc --zone Europe/Paris"
    )]
    Replay(ReplayArgs),
    /// Find the bits of an unknown bus that carry what a gauge shows
    ///
    /// Note readings of the gauge while the bus is recorded, far apart and while it
    /// stands still. On 500 invented buses the likeliest signal was the right one in
    /// 98 % with 8 readings at any moment; 40 readings at rest were enough to call it
    /// found in 80 %, never wrongly. Prints the signal with its scale and the lines for a DBC
    /// file, or says how many more readings are needed.
    ///
    /// Exit code 0 when the signal was found, 1 when not, 65 when a file is no
    /// CAN log.
    #[command(
        after_help = "Examples:\n  seepd match bus.log --reading 12:00:05=620 --reading 12:04:40=780\n  seepd match bus.log --readings gauge.csv --round 5 --unit psi"
    )]
    Match(MatchArgs),
    /// Record until told to stop
    ///
    /// Reads every live source of the rig and stores what it says. SIGTERM and
    /// SIGINT store everything and end; SIGHUP reads the rig anew and begins a
    /// new session, or keeps the old rig and says why. A log that exists is
    /// added to; a damaged one is set aside, never deleted.
    ///
    /// Exit codes: 65 the file is another program's, 73 the log cannot be made
    /// or the status would be written over another file, 74 rows could not be
    /// stored, 75 another recorder has the log, 78 the rig has mistakes.
    #[command(after_help = "Example:\n  seepd run --rig rig.toml --log trip.db")]
    Run(RunArgs),
    /// Say how a running recorder fares: last value, age and rate of every channel
    ///
    /// Exit code 0 when all is well, 1 when a channel is silent, a source is
    /// lost or the log cannot be written, 69 when no recorder runs.
    #[command(
        after_help = "Examples:\n  seepd status\n  seepd status --unit psi\n  seepd status --json"
    )]
    Status(StatusArgs),
    /// Listen to serial lines and CAN buses, or to recorded files, without a rig
    ///
    /// Shows every transducer with last value, unit and rate; messages of a bus
    /// by name where a database knows them, others by identifier, rate and the
    /// bytes that move. The speed of a serial line is found by the rate of good
    /// checksums. Nothing is sent. On a terminal the screen is renewed until
    /// Ctrl-C; with --seconds, or into a file, it is printed once.
    ///
    /// Exit code 0 when something was understood, 1 when nothing was, 65 a file
    /// is not understood, 66 a file is missing, 69 there is nothing to listen to.
    #[command(
        after_help = "Examples:\n  seepd listen\n  seepd listen --can can0 --seconds 10\n  seepd listen bus.log --format json > heard.json"
    )]
    Listen(ListenArgs),
    /// Write a rig from what is heard and a few answers
    ///
    /// Listens as `seepd listen` does, or reads what that heard. What cannot be
    /// heard is asked on a terminal; every answer is also an option. What stays
    /// open is a marked blank in the rig.
    ///
    /// Exit codes: 2 an answer makes no sense, 65 nothing was heard, 69 there is
    /// nothing to listen to, 73 the file exists.
    #[command(
        after_help = "Examples:\n  seepd draft --out rig.toml\n  seepd draft --heard heard.json --circuits 4 --tank-l 19 --out rig.toml"
    )]
    Draft(DraftArgs),
    /// Look at the machine that is to record: clock, card, bus, lines, log
    ///
    /// Opens nothing for writing and sends nothing. Exit code 0 when nothing
    /// will fail, 1 when something would fail or lose data.
    #[command(
        after_help = "Examples:\n  seepd doctor\n  seepd doctor --rig rig.toml --log trip.db"
    )]
    Doctor(DoctorArgs),
    /// Copy a log into a new file, complete, while it is recorded or not
    ///
    /// The file alone, copied by other means, may lack its last rows.
    #[command(after_help = "Example:\n  seepd snapshot --log trip.db copy.db")]
    Snapshot(SnapshotArgs),
    /// Note a reading by hand or words in a log, while it is recorded or not
    ///
    /// A tape measure at the wing in the evening and in the morning shows what a
    /// car without height sensors cannot; gauge, odometer and repairs are kept
    /// beside the recording too. `seep sessions` lists them.
    ///
    /// Exit codes: 2 the reading makes no sense, 65 the file is no log, 66 there
    /// is no log, 75 the running recorder is of an older version.
    #[command(
        after_help = "Examples:\n  seepd note --log trip.db --reading front_left_mm=412 --at 22:15\n  seepd note --log trip.db fitting replaced, rear left"
    )]
    Note(NoteArgs),
    /// Manual pages: `seepd.1` and one for every command, into a folder
    #[command(after_help = "Example:\n  seepd manual ~/.local/share/man/man1")]
    Manual(ManualArgs),
    /// Print a shell completion script
    #[command(
        after_help = "Example:\n  seepd completions bash > ~/.local/share/bash-completion/completions/seepd"
    )]
    Completions(CompletionsArgs),
}

/// The rig file.
#[derive(Debug, Args)]
pub(crate) struct RigArgs {
    /// The rig file: the vehicle, its sensors and how they are recorded
    #[arg(long, value_name = "FILE")]
    pub rig: PathBuf,
}

/// What `seepd check` is told.
#[derive(Debug, Args)]
pub(crate) struct CheckArgs {
    #[command(flatten)]
    pub rig: RigArgs,
    /// Also look whether this file is a log that could be added to, and whether
    /// its values fit the rig
    #[arg(long, value_name = "FILE")]
    pub log: Option<PathBuf>,
}

/// What `seepd replay` is told.
#[derive(Debug, Args)]
pub(crate) struct ReplayArgs {
    #[command(flatten)]
    pub rig: RigArgs,
    /// The log to create
    #[arg(long, value_name = "OUT.db")]
    pub log: PathBuf,
    /// Add to the log when it exists
    #[arg(long)]
    pub append: bool,
    /// Replay at the speed of the recording, not as fast as possible
    #[arg(long, conflicts_with = "speed")]
    pub realtime: bool,
    /// Replay so many times faster than the recording
    #[arg(long, value_name = "TIMES", value_parser = speed)]
    pub speed: Option<f64>,
    /// When a CAN log without dates starts, such as 2025-08-10T10:00:00Z
    #[arg(long, value_name = "TIME")]
    pub start: Option<String>,
    /// The zone of dates in CAN logs, which name none [default: `zone` of
    /// seep.toml, or UTC]
    #[arg(long, value_name = "ZONE")]
    pub zone: Option<String>,
    /// Recorded files, `-` for standard input, or SOURCE=FILE to say which
    /// source of the rig a file belongs to
    #[arg(required = true, value_name = "INPUT")]
    pub inputs: Vec<OsString>,
}

/// What `seepd match` is told.
#[derive(Debug, Args)]
pub(crate) struct MatchArgs {
    /// A reading, TIME=VALUE; the time as 12:00:05, 2025-08-10T12:00:05Z or +35
    /// (seconds from the start of the recording); may be given many times
    #[arg(long, value_name = "TIME=VALUE")]
    pub reading: Vec<String>,
    /// A table of readings: time and value in each line
    #[arg(long, value_name = "FILE.csv")]
    pub readings: Option<PathBuf>,
    /// Step to which the readings are rounded, in their unit
    #[arg(long, value_name = "STEP", default_value = "10", value_parser = speed)]
    pub round: f64,
    /// How far a noted time may be off, seconds either way
    #[arg(long, value_name = "SECONDS", default_value = "1", value_parser = speed)]
    pub clock: f64,
    /// Unit of the gauge, for the printed lines
    #[arg(long, value_name = "UNIT", default_value = "kPa")]
    pub unit: String,
    /// When a CAN log without dates starts, such as 2025-08-10T10:00:00Z
    #[arg(long, value_name = "TIME")]
    pub start: Option<String>,
    /// The zone of times that name none [default: UTC]
    #[arg(long, value_name = "ZONE")]
    pub zone: Option<String>,
    /// CAN logs of one bus
    #[arg(required = true, value_name = "LOG")]
    pub inputs: Vec<PathBuf>,
}

/// What `seepd run` is told.
#[derive(Debug, Args)]
pub(crate) struct RunArgs {
    #[command(flatten)]
    pub rig: RigArgs,
    /// The log to create or add to [default: `log` of seep.toml]
    #[arg(long, value_name = "OUT.db", env = "SEEP_LOG")]
    pub log: Option<PathBuf>,
    /// Where to tell the status every second [default: status.json in the
    /// service's runtime folder, or the user's]
    #[arg(long, value_name = "FILE")]
    pub status_file: Option<PathBuf>,
}

/// What `seepd status` is told.
#[derive(Debug, Args)]
pub(crate) struct StatusArgs {
    /// The status file, when it is not in the usual place
    #[arg(long, value_name = "FILE")]
    pub status_file: Option<PathBuf>,
    /// As JSON; keeps kPa, °C and mm
    #[arg(long)]
    pub json: bool,
    /// Unit of pressures [default: `unit` of seep.toml, or kpa]
    #[arg(long, value_parser = PossibleValuesParser::new(["kpa", "bar", "psi"]).map(|w| pressure(&w)))]
    pub unit: Option<PressureChoice>,
    /// Unit of temperatures [default: `temperature` of seep.toml, or c]
    #[arg(long, value_parser = PossibleValuesParser::new(["c", "f"]).map(|w| temperature(&w)))]
    pub temperature: Option<TemperatureChoice>,
    /// Unit of heights [default: `length` of seep.toml, or mm]
    #[arg(long, value_parser = PossibleValuesParser::new(["mm", "in"]).map(|w| length(&w)))]
    pub length: Option<LengthChoice>,
}

/// What is listened to.
#[derive(Debug, Args)]
pub(crate) struct Heeded {
    /// Recorded files instead of live lines: CAN logs, captures of sentences,
    /// `-` for standard input
    #[arg(value_name = "FILE", conflicts_with_all = ["port", "can"])]
    pub inputs: Vec<PathBuf>,
    /// Only this serial line; may be given more than once [default: every USB
    /// line and CAN interface of this computer]
    #[arg(long, value_name = "DEVICE")]
    pub port: Vec<String>,
    /// Only this CAN interface; may be given more than once
    #[arg(long, value_name = "NAME")]
    pub can: Vec<String>,
    /// A DBC file that names messages of the bus; may be given more than once
    #[arg(long, value_name = "FILE")]
    pub dbc: Vec<PathBuf>,
}

/// What `seepd listen` is told.
#[derive(Debug, Args)]
pub(crate) struct ListenArgs {
    #[command(flatten)]
    pub what: Heeded,
    /// Listen so long, then print once
    #[arg(long, value_name = "N", value_parser = seconds)]
    pub seconds: Option<f64>,
    /// As text, or as JSON for scripts and `seepd draft --heard`
    #[arg(long, value_enum, default_value_t = ListenFormat::Text)]
    pub format: ListenFormat,
}

/// Forms of what was heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum ListenFormat {
    /// A page of text.
    Text,
    /// For scripts.
    Json,
}

/// What `seepd draft` is told.
#[derive(Debug, Args)]
pub(crate) struct DraftArgs {
    #[command(flatten)]
    pub what: Heeded,
    /// What `seepd listen --format json` heard, instead of listening now
    #[arg(long, value_name = "FILE", conflicts_with_all = ["inputs", "port", "can", "dbc"])]
    pub heard: Option<PathBuf>,
    /// Listen so long
    #[arg(long, value_name = "N", value_parser = seconds, default_value = "5")]
    pub seconds: f64,
    /// Name of the vehicle
    #[arg(long, value_name = "TEXT")]
    pub name: Option<String>,
    /// Altitude where the vehicle lives, m
    #[arg(long, value_name = "M", value_parser = metres, allow_negative_numbers = true)]
    pub altitude_m: Option<f64>,
    /// How many circuits: one for each air spring, or pair with one valve
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(0..=32).map(usize::from))]
    pub circuits: Option<usize>,
    /// Volume of the tank, litres
    #[arg(long, value_name = "LITRES", value_parser = litres)]
    pub tank_l: Option<f64>,
    /// What a transducer's value means: `TANK=0..200psi` (at 0.5 and 4.5 V),
    /// `FLH=-100..100mm@1..4V`, or `TANK=psi` when it sends numbers without a unit
    #[arg(long, value_name = "NAME=RANGE")]
    pub sensor: Vec<String>,
    /// Where a transducer is: `PT1=tank`, `PT2=front_left`, `PT3=other_hose`
    #[arg(long, value_name = "NAME=PLACE")]
    pub place: Vec<String>,
    /// Where to write the rig; never over a file [default: standard output]
    #[arg(long, value_name = "RIG.toml")]
    pub out: Option<PathBuf>,
}

/// What `seepd doctor` is told.
#[derive(Debug, Args)]
pub(crate) struct DoctorArgs {
    /// The rig file, to look at its buses and lines
    #[arg(long, value_name = "FILE")]
    pub rig: Option<PathBuf>,
    /// The log, to look at the medium it lies on
    #[arg(long, value_name = "LOG.db")]
    pub log: Option<PathBuf>,
}

/// What `seepd snapshot` is told.
#[derive(Debug, Args)]
pub(crate) struct SnapshotArgs {
    /// The log to copy
    #[arg(long, value_name = "LOG.db")]
    pub log: PathBuf,
    /// The file to make
    #[arg(value_name = "COPY.db")]
    pub copy: PathBuf,
}

/// What `seepd note` is told.
#[derive(Debug, Args)]
pub(crate) struct NoteArgs {
    /// The log [default: `log` of seep.toml]
    #[arg(long, value_name = "LOG.db", env = "SEEP_LOG")]
    pub log: Option<PathBuf>,
    /// A reading: `front_left_mm=412`, `tank_kpa_gauge=8.2bar`, `odometer_km=81234`;
    /// may be given more than once
    #[arg(long, value_name = "NAME=VALUE")]
    pub reading: Vec<String>,
    /// Standard error of the readings, in the unit of their names [default: 3 mm,
    /// 5 kPa, 1 °C, 0.5 km]
    #[arg(long, value_name = "NUMBER", allow_negative_numbers = true)]
    pub error: Option<f64>,
    /// When it was so: "22:15" (the last time), "2026-08-14 22:15" [default: now]
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
    /// Zone of the time, IANA name [default: this computer's]
    #[arg(long, value_name = "ZONE")]
    pub zone: Option<String>,
    /// Words
    #[arg(value_name = "TEXT")]
    pub text: Vec<String>,
}

/// What `seepd manual` is told.
#[derive(Debug, Args)]
pub(crate) struct ManualArgs {
    /// The folder; it must exist
    pub folder: PathBuf,
}

/// What `seepd completions` is told.
#[derive(Debug, Args)]
pub(crate) struct CompletionsArgs {
    /// The shell
    #[arg(value_enum)]
    pub shell: clap_complete::Shell,
}

fn pressure(word: &str) -> PressureChoice {
    match word {
        "bar" => PressureChoice::Bar,
        "psi" => PressureChoice::Psi,
        _ => PressureChoice::Kpa,
    }
}

fn temperature(word: &str) -> TemperatureChoice {
    if word == "f" {
        TemperatureChoice::F
    } else {
        TemperatureChoice::C
    }
}

fn length(word: &str) -> LengthChoice {
    if word == "in" {
        LengthChoice::In
    } else {
        LengthChoice::Mm
    }
}

fn seconds(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if (0.1..=86_400.0).contains(&x) => Ok(x),
        _ => Err("give a number of seconds from 0.1 to 86400".into()),
    }
}

fn metres(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if (-500.0..=6_000.0).contains(&x) => Ok(x),
        _ => Err("give a number of metres from -500 to 6000".into()),
    }
}

fn litres(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if x.is_finite() && x > 0.0 => Ok(x),
        _ => Err("give a number of litres above 0, such as 19".into()),
    }
}

fn speed(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if x.is_finite() && x > 0.0 => Ok(x),
        _ => Err("give a number above 0, such as 10".into()),
    }
}

/// What the parser has to say instead of a command.
#[derive(Debug)]
pub(crate) struct ClapExit(clap::Error);

/// Read the command line.
pub(crate) fn parse(args: impl Iterator<Item = OsString>) -> Result<Command, ClapExit> {
    let matches = command_line().try_get_matches_from(args);
    matches
        .and_then(|m| CommandLine::from_arg_matches(&m))
        .map(|line| line.command)
        .map_err(ClapExit)
}

/// Print help, version or a usage error where it belongs.
pub(crate) fn print(exit: &ClapExit, out: &mut dyn Write, err: &mut dyn Write) -> Exit {
    let rendered = exit.0.render();
    // A closed pipe is the reader's choice, not a fault.
    if exit.0.use_stderr() {
        let _ = write!(err, "{rendered}");
        Exit::Usage
    } else {
        let _ = write!(out, "{rendered}");
        Exit::Fine
    }
}

/// The command line, for man pages and completions.
#[must_use]
pub fn command_line() -> clap::Command {
    CommandLine::command()
        .help_template(EXAMPLES_FIRST)
        .mut_subcommands(|c| c.help_template(EXAMPLES_FIRST))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_is_consistent() {
        command_line().debug_assert();
    }

    #[test]
    fn speed_must_be_a_number_above_zero() {
        for bad in ["0", "-1", "fast", "inf", "nan"] {
            assert!(speed(bad).is_err(), "{bad}");
        }
        assert!(speed("0.5").is_ok());
    }
}
