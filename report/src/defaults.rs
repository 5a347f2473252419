//! A person's defaults (`seep.toml`): what neither an option nor the environment
//! says is taken from there.

use crate::cli::{
    Command, Common, LengthWord, PressureWord, Source, Stretch, TemperatureWord, Units,
};
use jiff::tz::TimeZone;
use seep_common::defaults::{
    Defaults, DefaultsError, LengthChoice, PressureChoice, TemperatureChoice,
};
use std::path::Path;

/// Reason why a command cannot start with the options and defaults it has.
#[derive(Debug, thiserror::Error)]
pub(crate) enum SettingsError {
    /// The file of defaults cannot be used.
    #[error(transparent)]
    File(#[from] DefaultsError),
    /// The zone of the file is not known.
    #[error(
        "seep.toml: zone: `{0}` is not a time zone; use an IANA name such as Europe/Berlin, or UTC"
    )]
    Zone(String),
    /// No log is named anywhere.
    #[error(
        "which log? give --log FILE, or write `log = \"…\"` once into ~/.config/seep/seep.toml"
    )]
    NoLog,
}

/// Completes a command with this user's defaults.
///
/// # Errors
/// [`SettingsError`] when the file cannot be used. Commands that read no log do
/// not read the file.
pub(crate) fn complete(command: &mut Command) -> Result<(), SettingsError> {
    let parts = parts(command);
    if parts.units.is_none() && parts.stretch.is_none() {
        return Ok(());
    }
    let defaults = Defaults::of_this_user()?;
    let environment_zone = std::env::var_os("TZ").is_some_and(|zone| !zone.is_empty());
    fill(parts, &defaults, environment_zone)
}

/// Returns the log that the options, the environment or the defaults name.
///
/// # Errors
/// [`SettingsError::NoLog`] when none of them does.
pub(crate) fn log(source: &Source) -> Result<&Path, SettingsError> {
    source.log.as_deref().ok_or(SettingsError::NoLog)
}

/// Returns the command that is to be told what asks for attention; empty without one.
///
/// # Errors
/// [`SettingsError::File`] when the file cannot be used.
pub(crate) fn notify_command() -> Result<Vec<String>, SettingsError> {
    let notify = Defaults::of_this_user()?.notify;
    Ok(notify.map_or_else(Vec::new, |n| n.command))
}

/// Options of a command that have defaults.
#[derive(Default)]
struct Parts<'a> {
    log: Option<&'a mut Option<std::path::PathBuf>>,
    stretch: Option<&'a mut Stretch>,
    units: Option<&'a mut Units>,
}

fn parts(command: &mut Command) -> Parts<'_> {
    match command {
        Command::Sessions(c) | Command::Volumes(c) => of_common(c),
        Command::Leaks(l) => of_common(&mut l.compared.common),
        Command::Trip(t) => of_common(&mut t.compared.common),
        Command::Duty(c) | Command::Moves(c) | Command::Diagnose(c) => of_common(&mut c.common),
        Command::Verify(v) => of_common(&mut v.common),
        Command::Proof(p) => of_common(&mut p.common),
        Command::Hold(h) => of_common(&mut h.common),
        Command::Moment(m) => of_common(&mut m.common),
        Command::Bundle(b) => Parts {
            units: Some(&mut b.units),
            ..of_source(&mut b.source)
        },
        Command::Export(e) => Parts {
            units: Some(&mut e.units),
            ..of_source(&mut e.source)
        },
        Command::Compare(c) => Parts {
            log: None,
            stretch: Some(&mut c.stretch),
            units: Some(&mut c.layout.units),
        },
        Command::Cars(c) => Parts {
            log: None,
            stretch: Some(&mut c.stretch),
            units: Some(&mut c.layout.units),
        },
        Command::Completions { .. } | Command::Manual { .. } => Parts::default(),
    }
}

fn of_common(common: &mut Common) -> Parts<'_> {
    Parts {
        units: Some(&mut common.layout.units),
        ..of_source(&mut common.source)
    }
}

fn of_source(source: &mut Source) -> Parts<'_> {
    Parts {
        log: Some(&mut source.log),
        stretch: Some(&mut source.stretch),
        units: None,
    }
}

fn fill(
    parts: Parts<'_>,
    defaults: &Defaults,
    environment_zone: bool,
) -> Result<(), SettingsError> {
    if let Some(log) = parts.log {
        *log = log.take().or_else(|| defaults.log.clone());
    }
    if let Some(stretch) = parts.stretch
        && stretch.zone.is_none()
        && !environment_zone
        && let Some(zone) = &defaults.zone
    {
        TimeZone::get(zone).map_err(|_| SettingsError::Zone(zone.clone()))?;
        stretch.zone = Some(zone.clone());
    }
    if let Some(units) = parts.units {
        units.unit = units.unit.or(defaults.unit.map(pressure));
        units.temperature = units.temperature.or(defaults.temperature.map(temperature));
        units.length = units.length.or(defaults.length.map(length));
    }
    Ok(())
}

fn pressure(choice: PressureChoice) -> PressureWord {
    match choice {
        PressureChoice::Kpa => PressureWord::Kpa,
        PressureChoice::Bar => PressureWord::Bar,
        PressureChoice::Psi => PressureWord::Psi,
    }
}

fn temperature(choice: TemperatureChoice) -> TemperatureWord {
    match choice {
        TemperatureChoice::C => TemperatureWord::C,
        TemperatureChoice::F => TemperatureWord::F,
    }
}

fn length(choice: LengthChoice) -> LengthWord {
    match choice {
        LengthChoice::Mm => LengthWord::Mm,
        LengthChoice::In => LengthWord::In,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::Cli;
    use clap::Parser;

    const FILE: &str = "unit = \"psi\"\ntemperature = \"f\"\nlength = \"in\"\nzone = \"Asia/Tokyo\"\nlog = \"/kept/trip.db\"\n";

    fn completed(words: &[&str], file: &str, environment_zone: bool) -> Command {
        let mut command = Cli::try_parse_from(words).expect("parsed").command;
        let defaults = Defaults::parse(file).expect("valid");
        fill(parts(&mut command), &defaults, environment_zone).expect("filled");
        command
    }

    #[test]
    fn the_file_fills_what_is_not_said() {
        let Command::Trip(c) = completed(&["seep", "trip"], FILE, false) else {
            panic!("another command");
        };
        let Common { source, layout } = &c.compared.common;
        assert_eq!(log(source).expect("a log"), Path::new("/kept/trip.db"));
        assert_eq!(source.stretch.zone.as_deref(), Some("Asia/Tokyo"));
        assert_eq!(layout.units.unit, Some(PressureWord::Psi));
        assert_eq!(layout.units.temperature, Some(TemperatureWord::F));
        assert_eq!(layout.units.length, Some(LengthWord::In));
    }

    #[test]
    fn options_and_environment_come_first() {
        let words = [
            "seep", "leaks", "--log", "mine.db", "--unit", "bar", "--length", "mm",
        ];
        let Command::Leaks(c) = completed(&words, FILE, true) else {
            panic!("another command");
        };
        let Common { source, layout } = &c.compared.common;
        assert_eq!(log(source).expect("a log"), Path::new("mine.db"));
        assert_eq!(source.stretch.zone, None, "TZ says it");
        assert_eq!(layout.units.unit, Some(PressureWord::Bar));
        assert_eq!(layout.units.length, Some(LengthWord::Mm));
        assert_eq!(
            layout.units.temperature,
            Some(TemperatureWord::F),
            "not said"
        );
    }

    #[test]
    fn every_command_that_reads_a_log_takes_the_defaults() {
        for words in [
            "sessions",
            "leaks",
            "duty",
            "moves",
            "trip",
            "diagnose",
            "verify",
            "export",
            "proof --plan p.toml",
            "cars folder",
        ] {
            let words: Vec<_> = std::iter::once("seep").chain(words.split(' ')).collect();
            let mut command = completed(&words, FILE, false);
            let parts = parts(&mut command);
            let zone = parts.stretch.and_then(|s| s.zone.clone());
            assert_eq!(zone.as_deref(), Some("Asia/Tokyo"), "{words:?}");
            assert!(parts.log.is_none_or(|log| log.is_some()), "{words:?}");
        }
    }

    #[test]
    fn no_log_and_an_unknown_zone_are_told() {
        let mut command = Cli::try_parse_from(["seep", "trip"])
            .expect("parsed")
            .command;
        let defaults = Defaults::parse("zone = \"Mars/Base\"\n").expect("no zone list here");
        let refusal = fill(parts(&mut command), &defaults, false).expect_err("no such zone");
        assert!(refusal.to_string().contains("Mars/Base"), "{refusal}");
        let Command::Trip(c) = &command else {
            panic!("another command");
        };
        let refusal = log(&c.compared.common.source).expect_err("no log");
        assert!(refusal.to_string().contains("--log FILE"), "{refusal}");
    }
}
