//! From the command line to bytes and an exit code.

use crate::cache::Cache;
use crate::cli::{
    Bundle, Cars, Command, Common, Compare, Compared, Export, FormatWord, Hold, Layout, Leaks,
    LengthWord, Moment, PressureWord, Proof, RowsWord, Source, Stretch, TableWord, TemperatureWord,
    Trip, Units, Verify,
};
use crate::commands::against::Beside;
use crate::commands::export::{ExportError, OutFile, RowForm};
use crate::export::{ExportTable, ForPeople};
use crate::model::Report;
use crate::output::{Destination, write};
use crate::proof::LimitPlan;
use crate::recording::{Recording, RecordingError, SpanRequest};
use crate::render::units::{DisplayUnits, LengthUnit, PressureUnit, TemperatureUnit};
use crate::render::{Format, RenderOptions, render};
use crate::{commands, defaults, exit, manual, notify};
use anyhow::Context;
use seep_common::text::escape_hidden;
use std::ffi::OsString;
use std::path::Path;

/// Run `seep` with these arguments; the exit code is returned.
pub fn run(args: impl IntoIterator<Item = OsString>) -> u8 {
    let mut cli = match crate::cli::parse(args) {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version go to stdout with code 0, mistakes to stderr with 2.
            let code = if error.use_stderr() {
                exit::USAGE
            } else {
                exit::FINE
            };
            let _ = error.print();
            return code;
        }
    };
    let done = defaults::complete(&mut cli.command)
        .map_err(anyhow::Error::from)
        .and_then(|()| answer(&cli.command));
    match done {
        Ok(code) => code,
        Err(error) => {
            let message = format!("seep: {error:#}");
            anstream::eprintln!("{}", escape_hidden(&message));
            exit::code_of(&error)
        }
    }
}

fn answer(command: &Command) -> anyhow::Result<u8> {
    match command {
        Command::Sessions(c) => of_recording(c, commands::sessions::report),
        Command::Leaks(l) => leaks(l),
        Command::Duty(c) => compared(c, commands::duty::report),
        Command::Moves(c) => compared(c, commands::moves::report),
        Command::Volumes(c) => of_recording(c, commands::volumes::report),
        Command::Trip(t) => trip(t),
        Command::Diagnose(c) => compared(c, commands::diagnose::report),
        Command::Verify(v) => verify(v),
        Command::Completions { shell } => manual::completions(*shell),
        Command::Manual { folder } => manual::pages(folder),
        Command::Proof(p) => proof(p),
        Command::Hold(h) => hold(h),
        Command::Moment(m) => moment(m),
        Command::Compare(c) => compare(c),
        Command::Bundle(b) => bundle(b),
        Command::Export(e) => export(e),
        Command::Cars(c) => cars(c),
    }
}

/// A command that needs a readable recording.
fn of_recording(
    common: &Common,
    make: fn(&Recording) -> Result<Report, RecordingError>,
) -> anyhow::Result<u8> {
    let log = defaults::log(&common.source)?;
    let recording = opened(log, common)?;
    let report = make(&recording).with_context(|| format!("reading {}", log.display()))?;
    publish(&report, &common.layout, log)
}

/// A command that can set another span beside its own.
fn compared(
    args: &Compared,
    make: fn(&Recording) -> Result<Report, RecordingError>,
) -> anyhow::Result<u8> {
    let Some(words) = &args.against else {
        return of_recording(&args.common, make);
    };
    let (common, source) = (&args.common, &args.common.source);
    let log = defaults::log(source)?;
    let recording = opened(log, common)?;
    let before = recording.other_span(words, source.stretch.zone.as_deref())?;
    let report = make(&recording).and_then(|mut report| {
        commands::against::add(&mut report, &recording, &before, Beside::Span)?;
        Ok(report)
    });
    let report = report.with_context(|| format!("reading {}", log.display()))?;
    publish(&report, &common.layout, log)
}

/// The whole trip; who is to be told of it is told after it is written.
fn trip(args: &Trip) -> anyhow::Result<u8> {
    if !args.notify {
        return compared(&args.compared, commands::trip::report);
    }
    let command = defaults::notify_command()?;
    let common = &args.compared.common;
    let log = defaults::log(&common.source)?;
    let recording = opened(log, common)?;
    let report =
        commands::trip::report(&recording).with_context(|| format!("reading {}", log.display()))?;
    let code = publish(&report, &common.layout, log)?;
    let told = notify::tell(&report, log, &command, options(&common.layout).units)?;
    anstream::eprintln!("seep: {}", escape_hidden(&told));
    Ok(code)
}

/// Air lost at rest; with a place, one parked period taken apart first.
fn leaks(args: &Leaks) -> anyhow::Result<u8> {
    let Some(place) = &args.why else {
        return compared(&args.compared, commands::leaks::report);
    };
    let common = &args.compared.common;
    let log = defaults::log(&common.source)?;
    let recording = opened(log, common)?;
    let report = commands::leaks::why(&recording, place)
        .with_context(|| format!("reading {}", log.display()))?;
    publish(&report, &common.layout, log)
}

/// A damaged file is looked over all the same; it shows in the exit code.
fn verify(args: &Verify) -> anyhow::Result<u8> {
    let source = &args.common.source;
    let log = defaults::log(source)?;
    let verified = commands::verify::report(log, &span_of(source), args.salvage.as_deref())?;
    let code = publish(&verified.report, &args.common.layout, log)?;
    Ok(if verified.damaged { exit::DATA } else { code })
}

/// Without a pass, `--fail-on-finding` fails: an open limit proves nothing.
fn proof(args: &Proof) -> anyhow::Result<u8> {
    let source = &args.common.source;
    if let Some(path) = &args.check {
        return check_plan(path, source);
    }
    let path = args.plan.as_deref().context("give --plan FILE")?;
    let log = defaults::log(source)?;
    let (plan, text) = LimitPlan::read(path)?;
    let recording = opened(log, &args.common)?;
    plan.fits(&recording.rig, &text, path)?;
    let report = commands::proof::report(&recording, &plan, &text)
        .with_context(|| format!("reading {}", log.display()))?;
    let code = publish(&report, &args.common.layout, log)?;
    let passed = report.verdict.severity == crate::model::Severity::Fine;
    Ok(if args.common.layout.fail_on_finding && !passed {
        exit::FINDING
    } else {
        code
    })
}

/// A plan without mistakes; its places are compared where a log is named.
fn check_plan(path: &Path, source: &Source) -> anyhow::Result<u8> {
    let (plan, text) = LimitPlan::read(path)?;
    let compared = match source.log.as_deref() {
        Some(log) => {
            let recording = Recording::open(log, &SpanRequest::default())?;
            plan.fits(&recording.rig, &text, path)?;
            format!("its places are those of the rig in {}", log.display())
        }
        None => "its places were compared with no rig: add --log FILE for that".into(),
    };
    let tables = plan.hold.len() + plan.cycle.len() + plan.duty.len();
    let limits = tables + usize::from(plan.recording.is_some());
    let said = format!(
        "{}: no mistakes in {limits} limits; {compared}",
        path.display()
    );
    anstream::println!("{}", escape_hidden(&said));
    Ok(exit::FINE)
}

/// The same log from its beginning tells when each place last moved.
fn hold(args: &Hold) -> anyhow::Result<u8> {
    let source = &args.common.source;
    let log = defaults::log(source)?;
    let recording = opened(log, &args.common)?;
    let before = Recording::open(log, &SpanRequest::default())?;
    let since_move_s = args.settled.map(|minutes| minutes * 60.0);
    let place = args.place.as_deref();
    let report = commands::hold::report(&recording, &before, place, since_move_s)
        .with_context(|| format!("reading {}", log.display()))?;
    publish(&report, &args.common.layout, log)
}

/// A few minutes of a log, around a time or around what shows a finding.
fn moment(args: &Moment) -> anyhow::Result<u8> {
    let source = &args.common.source;
    let log = defaults::log(source)?;
    let whole = span_of(source);
    let request = match args.finding {
        Some(number) => {
            let recording = opened(log, &args.common)?;
            let t_ms = commands::moment::of_finding_number(&recording, usize::from(number))?;
            SpanRequest {
                around_t_ms: Some((t_ms, args.minutes)),
                ..whole
            }
        }
        None => SpanRequest {
            around: args.at.clone().map(|at| (at, args.minutes)),
            ..whole
        },
    };
    let recording = Recording::open(log, &request)?
        .with_cache(cache(&source.stretch))
        .in_brief(is_brief(&args.common.layout));
    let report = commands::moment::report(&recording)
        .with_context(|| format!("reading {}", log.display()))?;
    publish(&report, &args.common.layout, log)
}

/// One log with another beside it.
fn compare(args: &Compare) -> anyhow::Result<u8> {
    let request = span(&args.stretch, None);
    let open = |log: &Path| -> Result<Recording, RecordingError> {
        Ok(Recording::open(log, &request)?
            .with_cache(cache(&args.stretch))
            .in_brief(is_brief(&args.layout)))
    };
    let (before, now) = (open(&args.before)?, open(&args.now)?);
    let report = commands::against::of_logs(&now, &before)
        .with_context(|| format!("reading {}", args.now.display()))?;
    publish(&report, &args.layout, &args.now)
}

/// A case in one file.
fn bundle(args: &Bundle) -> anyhow::Result<u8> {
    let log = defaults::log(&args.source)?;
    let plan = args.plan.as_deref().map(LimitPlan::read).transpose()?;
    let text = plan.as_ref().map(|p| p.1.as_str());
    let request = span_of(&args.source);
    let cache = cache(&args.source.stretch);
    let done = commands::bundle::run(log, &request, &cache, text, plain(&args.units), &args.out)
        .with_context(|| format!("reading {}", log.display()))?;
    anstream::eprintln!("seep: {}", escape_hidden(&done));
    Ok(exit::FINE)
}

/// Every log of some folders; the run goes on over those that cannot be read.
fn cars(args: &Cars) -> anyhow::Result<u8> {
    let request = span(&args.stretch, None);
    let jobs = args.jobs.map(usize::from);
    let how = commands::cars::HowRead {
        cache: cache(&args.stretch),
        is_brief: is_brief(&args.layout),
    };
    let seen = commands::cars::report(&args.places, &request, &how, jobs)?;
    for (file, why) in &seen.unread {
        anstream::eprintln!("seep: {file}: {why}");
    }
    let code = publish(&seen.report, &args.layout, &args.places[0])?;
    Ok(if seen.judged == 0 { exit::DATA } else { code })
}

fn export(args: &Export) -> anyhow::Result<u8> {
    let log = defaults::log(&args.source)?;
    let recording = Recording::open_as_stored(log, &span_of(&args.source))?
        .with_cache(cache(&args.source.stretch));
    let table = match args.table {
        TableWord::Readings => ExportTable::Readings,
        TableWord::Events => ExportTable::Events,
        TableWord::Gaps => ExportTable::Gaps,
        TableWord::Sessions => ExportTable::Sessions,
        TableWord::Counters => ExportTable::Counters,
    };
    let form = match (args.form(), args.by_day) {
        (RowsWord::Parquet, true) => RowForm::ParquetByDay {
            replace: args.replace,
        },
        (_, true) => return Err(ExportError::NotByDay.into()),
        (RowsWord::Csv, false) => RowForm::Csv,
        (RowsWord::Json, false) => RowForm::JsonLines,
        (RowsWord::Parquet, false) => RowForm::Parquet,
    };
    let people = ForPeople {
        spreadsheet: (args.spreadsheet).then(|| (plain(&args.units), recording.span.zone.clone())),
        filled: args.filled,
    };
    let out = args.out.as_deref();
    let to = OutFile {
        out,
        replace: args.replace,
    };
    let done = commands::export::run(&recording, table, form, &to, &people)?;
    anstream::eprintln!("seep: {done}");
    Ok(exit::FINE)
}

/// A log for a report, with what earlier reports computed.
fn opened(log: &Path, common: &Common) -> Result<Recording, RecordingError> {
    let source = &common.source;
    Ok(Recording::open(log, &span_of(source))?
        .with_cache(cache(&source.stretch))
        .in_brief(is_brief(&common.layout)))
}

fn cache(stretch: &Stretch) -> Cache {
    if stretch.no_cache {
        Cache::none()
    } else {
        Cache::of_this_user()
    }
}

/// Whether the answer is the one that fits a screen.
fn is_brief(layout: &Layout) -> bool {
    layout.form() == FormatWord::Text && options(layout).short
}

fn span_of(source: &Source) -> SpanRequest {
    span(&source.stretch, source.session)
}

fn span(stretch: &Stretch, session: Option<i64>) -> SpanRequest {
    SpanRequest {
        from: stretch.from.clone(),
        to: stretch.to.clone(),
        last: stretch.last.clone(),
        session,
        zone: stretch.zone.clone(),
        ..SpanRequest::default()
    }
}

/// Render and write a report; the exit code follows the verdict if asked for.
fn publish(report: &Report, layout: &Layout, log: &Path) -> anyhow::Result<u8> {
    let text = render(report, format(layout.form()), &options(layout));
    write(&text, &Destination::from_option(layout.out.as_deref()), log)?;
    let alarming = report.verdict.severity > crate::model::Severity::Unknown;
    Ok(if layout.fail_on_finding && alarming {
        exit::FINDING
    } else {
        exit::FINE
    })
}

fn format(word: FormatWord) -> Format {
    match word {
        FormatWord::Text => Format::Text,
        FormatWord::Html => Format::Html,
        FormatWord::Json => Format::Json,
        FormatWord::Csv => Format::Csv,
    }
}

fn options(layout: &Layout) -> RenderOptions {
    RenderOptions {
        units: plain(&layout.units),
        text_plots: layout.plot,
        short: !layout.full && !layout.plot,
        one_sheet: layout.one_sheet,
        ..RenderOptions::default()
    }
}

fn plain(units: &Units) -> DisplayUnits {
    DisplayUnits {
        pressure: units.unit.map_or_else(PressureUnit::default, |w| match w {
            PressureWord::Kpa => PressureUnit::Kpa,
            PressureWord::Bar => PressureUnit::Bar,
            PressureWord::Psi => PressureUnit::Psi,
        }),
        temperature: (units.temperature).map_or_else(TemperatureUnit::default, |w| match w {
            TemperatureWord::C => TemperatureUnit::Celsius,
            TemperatureWord::F => TemperatureUnit::Fahrenheit,
        }),
        length: units.length.map_or_else(LengthUnit::default, |w| match w {
            LengthWord::Mm => LengthUnit::Mm,
            LengthWord::In => LengthUnit::Inch,
        }),
    }
}
