//! From the command line to bytes and an exit code.

use crate::cli::{Cli, Command, Common, FormatWord, LengthWord, PressureWord, TemperatureWord};
use crate::model::Report;
use crate::output::{Destination, write};
use crate::plain_units::{LengthUnit, PlainUnits, PressureUnit, TemperatureUnit};
use crate::recording::{Recording, RecordingError, SpanRequest};
use crate::render::{Format, RenderOptions, render};
use crate::{commands, exit};
use anyhow::Context;
use clap::Parser;
use std::ffi::OsString;

/// Run `seep` with these arguments; the exit code is returned.
pub fn run(args: impl IntoIterator<Item = OsString>) -> u8 {
    let cli = match Cli::try_parse_from(args) {
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
    match answer(&cli.command) {
        Ok(code) => code,
        Err(error) => {
            anstream::eprintln!("seep: {error:#}");
            exit::code_of(&error)
        }
    }
}

fn answer(command: &Command) -> anyhow::Result<u8> {
    let common = command.common();
    let request = SpanRequest {
        from: common.from.clone(),
        to: common.to.clone(),
        session: common.session,
        zone: common.zone.clone(),
    };
    let reading = || format!("reading {}", common.log.display());
    let (report, damaged) = match command {
        Command::Verify(v) => {
            let verified = commands::verify::report(&common.log, &request, v.salvage.as_deref())?;
            (verified.report, verified.damaged)
        }
        _ => {
            let recording = Recording::open(&common.log, &request)?;
            (
                of_recording(command, &recording).with_context(reading)?,
                false,
            )
        }
    };
    let text = render(&report, format(common.format), &options(common));
    write(
        &text,
        &Destination::from_option(common.out.as_deref()),
        &common.log,
    )?;
    let alarming = report.verdict.severity > crate::model::Severity::Unknown;
    Ok(if damaged {
        exit::DATA
    } else if common.fail_on_finding && alarming {
        exit::FINDING
    } else {
        exit::FINE
    })
}

/// The report of a command that needs a readable recording.
fn of_recording(command: &Command, recording: &Recording) -> Result<Report, RecordingError> {
    match command {
        Command::Sessions(_) | Command::Verify(_) => commands::sessions::report(recording),
        Command::Leaks(_) => commands::leaks::report(recording),
        Command::Duty(_) => commands::duty::report(recording),
        Command::Moves(_) => commands::moves::report(recording),
        Command::Trip(_) => commands::trip::report(recording),
    }
}

fn format(word: FormatWord) -> Format {
    match word {
        FormatWord::Text => Format::Text,
        FormatWord::Html => Format::Html,
        FormatWord::Json => Format::Json,
        FormatWord::Csv => Format::Csv,
    }
}

fn options(common: &Common) -> RenderOptions {
    RenderOptions {
        units: PlainUnits {
            pressure: match common.unit {
                PressureWord::Kpa => PressureUnit::Kpa,
                PressureWord::Bar => PressureUnit::Bar,
                PressureWord::Psi => PressureUnit::Psi,
            },
            temperature: match common.temperature {
                TemperatureWord::C => TemperatureUnit::Celsius,
                TemperatureWord::F => TemperatureUnit::Fahrenheit,
            },
            length: match common.length {
                LengthWord::Mm => LengthUnit::Mm,
                LengthWord::In => LengthUnit::Inch,
            },
        },
        text_plots: common.plot,
        ..RenderOptions::default()
    }
}
