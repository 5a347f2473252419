//! The command line.

use clap::{Args, CommandFactory, FromArgMatches, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Leak rates, compressor duty and slow valves from a recording of seepd.
#[derive(Debug, Parser)]
#[command(name = "seep", version, about, after_help = EXIT_CODES)]
pub struct Cli {
    /// What to find out.
    #[command(subcommand)]
    pub command: Command,
}

/// What a person looks for first stands first.
const EXAMPLES_FIRST: &str = "{about}{after-help}\n\n{usage-heading} {usage}\n\n{all-args}";

/// The command line with the examples of every command above its options.
#[must_use]
pub fn command_line() -> clap::Command {
    Cli::command()
        .help_template(EXAMPLES_FIRST)
        .mut_subcommands(|c| c.help_template(EXAMPLES_FIRST))
}

/// Reads the command line.
///
/// # Errors
/// What clap prints instead: help, the version, or a mistake.
pub fn parse(args: impl IntoIterator<Item = std::ffi::OsString>) -> Result<Cli, clap::Error> {
    let matches = command_line().try_get_matches_from(args)?;
    Cli::from_arg_matches(&matches)
}

const EXIT_CODES: &str = "Examples:
  seep trip --log trip.db                        # the whole trip, on one screen
  seep leaks --log trip.db --last night
  seep moment --log trip.db --finding 1          # what shows the first finding
  seep trip --log trip.db --out trip.html        # a page with every table and plot
  seep cars customers                            # many cars, the most urgent first

Exit codes: 0 fine; 1 a finding asks for attention (only with --fail-on-finding); \
2 wrong use; 65 the log is damaged or no log; 66 no such log; 73 the output exists or cannot be made; 74 input/output error; 78 the plan has mistakes.";

/// Commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// What was recorded, session by session.
    #[command(after_help = "Example:\n  seep sessions --log trip.db")]
    Sessions(Common),
    /// What each corner and the tank lose at rest.
    #[command(
        after_help = "Examples:\n  seep leaks --log trip.db --last night --unit psi\n  seep leaks --log trip.db --from \"2026-08-14 22:00\" --to \"2026-08-15 07:00\"\n  seep leaks --log trip.db --last night --why rear_left --plot"
    )]
    Leaks(Leaks),
    /// How much the compressor runs.
    #[command(after_help = "Example:\n  seep duty --log trip.db --last week")]
    Duty(Compared),
    /// How long each fill and dump takes, and whether it gets slower.
    #[command(
        after_help = "Example:\n  seep moves --log trip.db --last trip --format csv --out moves.csv"
    )]
    Moves(Compared),
    /// Volume and effective area of each corner, from what fills take out of the tank.
    ///
    /// Needs the tank's volume in the rig, and fills with the compressor off and some
    /// minutes at rest before and after, best one corner at a time, and loads that
    /// change while nothing moves air. Prints lines for the rig.
    #[command(after_help = "Example:\n  seep volumes --log trip.db")]
    Volumes(Common),
    /// The whole trip: one sentence first, the evidence behind it.
    #[command(
        after_help = "Examples:\n  seep trip --log trip.db --last trip\n  seep trip --log trip.db --last week --against \"week before\"\n  seep trip --log trip.db --format html --out trip.html"
    )]
    Trip(Trip),
    /// What can be behind a fault: explanations ranked, and what tells the first two apart.
    #[command(
        after_help = "Examples:\n  seep diagnose --log week.db\n  seep diagnose --log week.db --from \"2026-08-14 22:00\" --format html --out diagnosis.html"
    )]
    Diagnose(Compared),
    /// Whether the file itself is sound: integrity, gaps, clock, counts of loss.
    #[command(
        after_help = "Examples:\n  seep verify --log trip.db\n  seep verify --log trip.db --salvage saved.db    # copies what can be read; the old file is only read"
    )]
    Verify(Verify),
    /// A case in one file to send: report, rig, plan, and the readings behind each finding.
    #[command(
        after_help = "Examples:\n  seep bundle --log trip.db --out case.tar\n  seep bundle --log week.db --last week --plan show.toml --out case.tar"
    )]
    Bundle(Bundle),
    /// Two logs side by side: before and after a repair, or two cars.
    #[command(
        after_help = "Examples:\n  seep compare may.db june.db\n  seep compare --last week coupe.db van.db --out both.html"
    )]
    Compare(Compare),
    /// Everything recorded around one moment: traces, valves, readings.
    #[command(
        after_help = "Examples:\n  seep moment --log trip.db --at \"2026-10-17 13:08\"\n  seep moment --log trip.db --finding 1 --minutes 30 --format html --out moment.html\n  seep moment --log trip.db --at \"2026-10-17 13:08\" --minutes 2 --format csv"
    )]
    Moment(Moment),
    /// Proof before a show: a plan of limits, each pass, fail or not enough evidence.
    #[command(after_help = PROOF_HELP)]
    Proof(Proof),
    /// A hold of minutes: valves closed, you beside it. What leaks, and the smallest leak it can show.
    #[command(
        after_help = "Examples:\n  seep hold --log trip.db --from \"2026-08-14 10:05\" --to \"2026-08-14 10:15\"\n  seep hold --log bench.db --place tank --settled 20"
    )]
    Hold(Hold),
    /// Words that a shell completes: write them where your shell looks for them.
    #[command(
        after_help = "Example:\n  seep completions bash > ~/.local/share/bash-completion/completions/seep"
    )]
    Completions {
        /// The shell.
        #[arg(value_enum)]
        shell: clap_complete::Shell,
    },
    /// Manual pages: `seep.1` and one for every command, into a folder.
    #[command(after_help = "Example:\n  seep manual ~/.local/share/man/man1")]
    Manual {
        /// The folder; it must exist.
        folder: PathBuf,
    },
    /// The recorded rows for other programs: CSV, JSON lines or Parquet.
    #[command(after_help = EXPORT_HELP)]
    Export(Export),
    /// Many cars at once: every log of a folder judged, the most urgent car first.
    #[command(after_help = CARS_HELP)]
    Cars(Cars),
}

const CARS_HELP: &str = "Examples:
  seep cars customers
  seep cars customers --last week --format html --out monday.html
  seep cars customers another.db --jobs 2 --format csv --out cars.csv

Folders are looked through with the folders in them. A log that cannot be read is listed with the reason \
and stops nothing. Of several logs of one car (same name, same rig) the newest is judged, the others are listed.";

/// Options of `cars`.
#[derive(Debug, Args)]
pub struct Cars {
    /// Folders that hold logs; single logs may be named too.
    #[arg(value_name = "FOLDER", required = true)]
    pub places: Vec<PathBuf>,
    /// Which part of each.
    #[command(flatten)]
    pub stretch: Stretch,
    /// Logs judged at the same time; as many as there are processors unless said.
    #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(u16).range(1..))]
    pub jobs: Option<u16>,
    /// How it is written.
    #[command(flatten)]
    pub layout: Layout,
}

const PROOF_HELP: &str = "Examples:
  seep proof --check show.toml
  seep proof --log week.db --plan show.toml
  seep proof --log week.db --plan show.toml --format html --out proof.html    # with signature lines on the print

A plan, every part optional:
  name = \"Autumn show\"
  signatures = [\"Builder\", \"Judge\"]
  [[hold]]
  place = \"all\"          # or a circuit, or tank
  hours = 48
  within_mm = 10         # or within_kpa
  [[cycle]]
  place = \"all\"
  times = 10
  fill_under_s = 8.0     # and/or dump_under_s
  [[duty]]
  compressor = \"all\"
  below_percent = 30
  window_min = 10
  [recording]
  unexplained_gaps = 0
  coverage_percent = 90

With --fail-on-finding the exit code is 1 unless every limit is met.";

/// Options of `proof`.
#[derive(Debug, Args)]
pub struct Proof {
    /// Options all commands share.
    #[command(flatten)]
    pub common: Common,
    /// The plan, a TOML file.
    #[arg(long, value_name = "FILE", required_unless_present = "check")]
    pub plan: Option<PathBuf>,
    /// Only look the plan over for mistakes; with a log, its places against the rig too.
    #[arg(long, value_name = "PLAN", conflicts_with = "plan")]
    pub check: Option<PathBuf>,
}

/// Options of `hold`.
#[derive(Debug, Args)]
pub struct Hold {
    /// Options all commands share; --from and --to are the begin and end of the hold.
    #[command(flatten)]
    pub common: Common,
    /// Only this circuit, or tank.
    #[arg(long, value_name = "PLACE")]
    pub place: Option<String>,
    /// Minutes from the last fill, dump or run to the begin of the hold, where the log does not
    /// show them.
    #[arg(long, value_name = "MINUTES", value_parser = minutes, allow_hyphen_values = true)]
    pub settled: Option<f64>,
}

/// Options of `bundle`.
#[derive(Debug, Args)]
pub struct Bundle {
    /// Which log.
    #[command(flatten)]
    pub source: Source,
    /// A plan of limits to go with it, a TOML file.
    #[arg(long, value_name = "FILE")]
    pub plan: Option<PathBuf>,
    /// The archive to make; it must not exist.
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// In which units.
    #[command(flatten)]
    pub units: Units,
}

/// Options of `compare`.
#[derive(Debug, Args)]
pub struct Compare {
    /// The log to compare with.
    #[arg(value_name = "BEFORE")]
    pub before: PathBuf,
    /// The log reported on.
    #[arg(value_name = "NOW")]
    pub now: PathBuf,
    /// Which part of each.
    #[command(flatten)]
    pub stretch: Stretch,
    /// How it is written.
    #[command(flatten)]
    pub layout: Layout,
}

/// Options of `moment`.
#[derive(Debug, Args)]
pub struct Moment {
    /// Options all commands share.
    #[command(flatten)]
    pub common: Common,
    /// The moment: "2026-08-14 22:00", with an offset if not local.
    #[arg(long, value_name = "TIME", required_unless_present = "finding")]
    pub at: Option<String>,
    /// The moment that shows a finding best: its number in `seep trip --full`.
    #[arg(long, value_name = "NUMBER", conflicts_with = "at", value_parser = clap::value_parser!(u16).range(1..))]
    pub finding: Option<u16>,
    /// Minutes before and after it.
    #[arg(long, value_name = "MINUTES", default_value = "10", value_parser = minutes)]
    pub minutes: f64,
}

/// A length of time in minutes, not negative.
fn minutes(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(minutes) if (0.0..=100_000.0).contains(&minutes) => Ok(minutes),
        _ => Err("give minutes, such as 20".into()),
    }
}

const EXPORT_HELP: &str = "Examples:
  seep export --log trip.db > trip.csv
  seep export --log trip.db --table events --format json
  seep export --log trip.db --out trip.parquet
  seep export --log trip.db --spreadsheet --filled --unit psi --out trip.csv
  seep export --log trip.db --format parquet --by-day --out rows    # rows/vehicle=…/day=…/session-1.parquet

Values are as recorded: in the channel's unit and resolution, empty where it was silent (unless \
--spreadsheet or --filled is asked for). \
There is no candump export: the log keeps decoded readings, not frames, and made-up frames would pass \
for a recording. Keep the bus log itself; `seepd replay` reads it again.";

/// Options of `export`.
#[derive(Debug, Args)]
pub struct Export {
    /// Which log.
    #[command(flatten)]
    pub source: Source,
    /// Which rows.
    #[arg(long, value_enum, default_value_t = TableWord::Readings)]
    pub table: TableWord,
    /// In which form [default: by the name of --out, or csv].
    #[arg(long, alias = "as", value_enum)]
    pub format: Option<RowsWord>,
    /// Where to write; stdout unless said. A folder with --by-day.
    #[arg(long, value_name = "PATH")]
    pub out: Option<PathBuf>,
    /// Parquet only: a data set in folders vehicle=…/day=… under --out.
    #[arg(long)]
    pub by_day: bool,
    /// Replace the file that is there; with --by-day, files of the same session and day.
    #[arg(long)]
    pub replace: bool,
    /// Values in your units and times of your zone, with other headings; else as recorded.
    #[arg(long)]
    pub spreadsheet: bool,
    /// Fill each row with the last reading of each channel in its session.
    #[arg(long)]
    pub filled: bool,
    /// Units, with --spreadsheet.
    #[command(flatten)]
    pub units: Units,
}

/// Tables to export.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum TableWord {
    /// One row per tick, one column per channel.
    Readings,
    /// Valve and compressor changes.
    Events,
    /// Stretches without data and their causes.
    Gaps,
    /// Sessions.
    Sessions,
    /// Counts of lost and bad items.
    Counters,
}

/// Forms of exported rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum RowsWord {
    /// Comma-separated values, headings first.
    Csv,
    /// One JSON object per line.
    Json,
    /// Apache Parquet.
    Parquet,
}

/// Options of the commands that can set one span beside another.
#[derive(Debug, Args)]
pub struct Compared {
    /// Options all commands share.
    #[command(flatten)]
    pub common: Common,
    /// Compare with another span of this log: before, "week before", "3 days before",
    /// "2026-08-01..2026-08-08", "session 2".
    #[arg(long, value_name = "SPAN")]
    pub against: Option<String>,
}

/// Options of `trip`.
#[derive(Debug, Args)]
pub struct Trip {
    /// Options all commands share, and the other span.
    #[command(flatten)]
    pub compared: Compared,
    /// Run `command` of `[notify]` in seep.toml when something new asks for attention.
    #[arg(long, conflicts_with = "against")]
    pub notify: bool,
}

/// Options of `leaks`.
#[derive(Debug, Args)]
pub struct Leaks {
    /// Options all commands share, and the other span.
    #[command(flatten)]
    pub compared: Compared,
    /// Take the longest parked period of this circuit, or of the tank, apart: leak, heat, creep,
    /// settling, weather, remainder.
    #[arg(long, value_name = "PLACE", conflicts_with = "against")]
    pub why: Option<String>,
}

/// Options of `verify`.
#[derive(Debug, Args)]
pub struct Verify {
    /// Options all commands share.
    #[command(flatten)]
    pub common: Common,
    /// Copy what can be read into this new file; never writes over anything.
    #[arg(long, value_name = "NEW")]
    pub salvage: Option<PathBuf>,
}

/// Which part of a log.
#[derive(Debug, Args)]
pub struct Stretch {
    /// Only from this time on: "2026-08-14 22:00", with an offset if not local.
    #[arg(long, value_name = "TIME")]
    pub from: Option<String>,
    /// Only up to this time.
    #[arg(long, value_name = "TIME")]
    pub to: Option<String>,
    /// Only the last trip, night, session, day or week, since the last note, or "3 days": counted back from the end of
    /// the recording, so that the same log gives the same report next year.
    #[arg(long, value_name = "WORDS")]
    pub last: Option<String>,
    /// Zone of the times written and shown, IANA name [default: TZ, or `zone` of
    /// seep.toml, or this computer's].
    #[arg(long, value_name = "ZONE")]
    pub zone: Option<String>,
    /// Compute everything anew: neither use nor keep results in the cache folder.
    #[arg(long)]
    pub no_cache: bool,
}

/// Which log, and which part of it.
#[derive(Debug, Args)]
pub struct Source {
    /// The log that seepd wrote [default: `log` of seep.toml].
    #[arg(long, value_name = "FILE", env = "SEEP_LOG")]
    pub log: Option<PathBuf>,
    /// Which part of it.
    #[command(flatten)]
    pub stretch: Stretch,
    /// Only this session (see `seep sessions`).
    #[arg(long, value_name = "NUMBER")]
    pub session: Option<i64>,
}

/// Options of the commands that give a report.
#[derive(Debug, Args)]
pub struct Common {
    /// Which log.
    #[command(flatten)]
    pub source: Source,
    /// How it is written.
    #[command(flatten)]
    pub layout: Layout,
}

/// How a report is written.
#[derive(Debug, Args)]
pub struct Layout {
    /// What to write [default: by the name of --out, or text].
    #[arg(long, value_enum)]
    pub format: Option<FormatWord>,
    /// Where to write it; stdout unless said.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// In which units.
    #[command(flatten)]
    pub units: Units,
    /// Everything: evidence, tables, data health (text; pages and data are always whole).
    #[arg(long)]
    pub full: bool,
    /// One sheet to hand over: verdict, picture, what to do, cautions, lines to sign (a page only).
    #[arg(long, conflicts_with_all = ["full", "plot"])]
    pub one_sheet: bool,
    /// Everything, with plots in plain characters (text only).
    #[arg(long)]
    pub plot: bool,
    /// Exit with 1 when a finding asks for attention.
    #[arg(long)]
    pub fail_on_finding: bool,
}

impl Layout {
    /// The form asked for, else that of the name of `--out`, else text.
    #[must_use]
    pub fn form(&self) -> FormatWord {
        let by_name = self.out.as_ref().and_then(|out| out.extension()?.to_str());
        match (self.format, by_name) {
            (Some(word), _) => word,
            (None, _) if self.one_sheet => FormatWord::Html,
            (None, Some("html" | "htm")) => FormatWord::Html,
            (None, Some("json")) => FormatWord::Json,
            (None, Some("csv")) => FormatWord::Csv,
            (None, _) => FormatWord::Text,
        }
    }
}

impl Export {
    /// The form asked for, else that of the name of `--out`, else CSV.
    #[must_use]
    pub fn form(&self) -> RowsWord {
        let by_name = self.out.as_ref().and_then(|out| out.extension()?.to_str());
        match (self.format, by_name) {
            (Some(word), _) => word,
            (None, Some("json" | "jsonl" | "ndjson")) => RowsWord::Json,
            (None, Some("parquet")) => RowsWord::Parquet,
            (None, _) => RowsWord::Csv,
        }
    }
}

/// Units of what is printed.
#[derive(Debug, Clone, Args)]
pub struct Units {
    /// Unit of pressures; JSON keeps kPa, mm and °C whatever is asked [default:
    /// `unit` of seep.toml, or kpa].
    #[arg(long, value_enum)]
    pub unit: Option<PressureWord>,
    /// Unit of temperatures [default: `temperature` of seep.toml, or c].
    #[arg(long, value_enum)]
    pub temperature: Option<TemperatureWord>,
    /// Unit of heights [default: `length` of seep.toml, or mm].
    #[arg(long, value_enum)]
    pub length: Option<LengthWord>,
}

/// Output formats.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum FormatWord {
    /// For a terminal or a mail.
    Text,
    /// One self-contained page for a browser, phone or printer.
    Html,
    /// For programs.
    Json,
    /// Tables for a spreadsheet.
    Csv,
}

/// Pressure units.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum PressureWord {
    /// Kilopascal.
    Kpa,
    /// Bar.
    Bar,
    /// Pound-force per square inch.
    Psi,
}

/// Temperature units.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum TemperatureWord {
    /// Degree Celsius.
    C,
    /// Degree Fahrenheit.
    F,
}

/// Height units.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LengthWord {
    /// Millimetre.
    Mm,
    /// Inch.
    In,
}
