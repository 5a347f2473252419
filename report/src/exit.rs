//! Exit codes, by sysexits where one fits.

use crate::commands::bundle::BundleError;
use crate::commands::cars::FindError;
use crate::commands::export::ExportError;
use crate::commands::hold::HoldError;
use crate::commands::leaks::WhyError;
use crate::commands::moment::MomentError;
use crate::defaults::SettingsError;
use crate::notify::NotifyError;
use crate::proof::PlanError;
use crate::recording::RecordingError;
use seep_common::defaults::DefaultsError;
use seep_common::store::{StoreError, StoreErrorClass};

/// All went well.
pub const FINE: u8 = 0;
/// A finding asks for attention (only with `--fail-on-finding`).
pub const FINDING: u8 = 1;
/// Wrong use of the command line, or a span that makes no sense.
pub const USAGE: u8 = 2;
/// The log is damaged, foreign, or of another schema.
pub const DATA: u8 = 65;
/// There is no such log.
pub const NO_INPUT: u8 = 66;
/// The output cannot be made.
pub const CANNOT_CREATE: u8 = 73;
/// Input or output failed.
pub const IO: u8 = 74;

/// The plan of a proof, or the file of defaults, has mistakes.
pub const CONFIG: u8 = 78;

/// The code for an error.
#[must_use]
pub fn code_of(error: &anyhow::Error) -> u8 {
    for cause in error.chain() {
        if let Some(e) = cause.downcast_ref::<RecordingError>() {
            return recording_code(e);
        }
        if let Some(e) = cause.downcast_ref::<SettingsError>() {
            return match e {
                SettingsError::NoLog => USAGE,
                SettingsError::Zone(_) | SettingsError::File(DefaultsError::Mistakes { .. }) => {
                    CONFIG
                }
                SettingsError::File(DefaultsError::Unreadable { .. }) => NO_INPUT,
            };
        }
        if let Some(e) = cause.downcast_ref::<PlanError>() {
            return match e {
                PlanError::Read { .. } => NO_INPUT,
                PlanError::Mistakes { .. } => CONFIG,
            };
        }
        if let Some(e) = cause.downcast_ref::<HoldError>() {
            return match e {
                HoldError::Recording(e) => recording_code(e),
                HoldError::TooLong(_) | HoldError::NoSuchPlace { .. } => USAGE,
            };
        }
        if let Some(e) = cause.downcast_ref::<WhyError>() {
            return match e {
                WhyError::Recording(e) => recording_code(e),
                WhyError::NoSuchPlace { .. } => USAGE,
                WhyError::NotFinite(_) => DATA,
            };
        }
        if let Some(e) = cause.downcast_ref::<FindError>() {
            return match e {
                FindError::NoSuchPlace(_) | FindError::NoLogs(_) => NO_INPUT,
                FindError::Folder { .. } => IO,
            };
        }
        if let Some(e) = cause.downcast_ref::<BundleError>() {
            return match e {
                BundleError::Recording(e) => recording_code(e),
                BundleError::Output(_) | BundleError::Exists(_) => CANNOT_CREATE,
            };
        }
        if let Some(e) = cause.downcast_ref::<MomentError>() {
            return match e {
                MomentError::Recording(e) => recording_code(e),
                MomentError::NoSuchFinding { .. } | MomentError::NoMoment(_) => USAGE,
            };
        }
        if let Some(e) = cause.downcast_ref::<NotifyError>() {
            return match e {
                NotifyError::NoCommand | NotifyError::NoFolder => CONFIG,
                NotifyError::Memory { .. }
                | NotifyError::Output(_)
                | NotifyError::Run { .. }
                | NotifyError::Failed { .. } => IO,
            };
        }
        if let Some(e) = cause.downcast_ref::<ExportError>() {
            return export_code(e);
        }
        if let Some(e) = cause.downcast_ref::<crate::output::OutputError>() {
            return output_code(e);
        }
        if cause.downcast_ref::<std::io::Error>().is_some() {
            return IO;
        }
    }
    IO
}

fn recording_code(error: &RecordingError) -> u8 {
    match error {
        RecordingError::Store(e) => store_code(e),
        RecordingError::Span(_) => USAGE,
        RecordingError::Empty | RecordingError::Rig(_) => DATA,
    }
}

fn export_code(error: &ExportError) -> u8 {
    match error {
        ExportError::Recording(e) => recording_code(e),
        ExportError::Output(e) => output_code(e),
        ExportError::NeedsOut | ExportError::NotByDay => USAGE,
        ExportError::Exists(_) => CANNOT_CREATE,
        ExportError::Columns(_) | ExportError::Io { .. } | ExportError::Write(_) => IO,
    }
}

fn store_code(error: &StoreError) -> u8 {
    match error.class() {
        StoreErrorClass::NotThere => NO_INPUT,
        StoreErrorClass::NotALog => DATA,
        StoreErrorClass::NotCreated => CANNOT_CREATE,
        // A report writes no log; only a writer is told that one is held.
        StoreErrorClass::Held | StoreErrorClass::InputOutput => IO,
    }
}

fn output_code(error: &crate::output::OutputError) -> u8 {
    use crate::output::OutputError;
    match error {
        OutputError::WouldOverwriteLog(_)
        | OutputError::WouldOverwriteDatabase(_)
        | OutputError::NoSuchFolder(_)
        | OutputError::IsFolder(_) => CANNOT_CREATE,
        OutputError::Write { .. } | OutputError::Stdout(_) => IO,
    }
}
