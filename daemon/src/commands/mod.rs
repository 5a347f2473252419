//! One file per command.

mod check;
mod doctor;
mod draft;
mod listen;
mod manual;
mod matching;
mod note;
mod replay;
mod run;
mod snapshot;
mod status;

use crate::cli::Command;
use crate::exit::Exit;
use std::io::Write;

/// Run a command; data goes to `out`, messages to `err`.
pub(crate) fn run(command: &Command, out: &mut dyn Write, err: &mut dyn Write) -> Exit {
    let done = match command {
        Command::Check(args) => check::run(args, out),
        Command::Replay(args) => replay::run(args, err),
        Command::Match(args) => matching::run(args, out, err),
        Command::Doctor(args) => doctor::run(args, out),
        Command::Listen(args) => listen::run(args, out),
        Command::Draft(args) => draft::run(args, out, err),
        Command::Run(args) => run::run(args, err),
        Command::Status(args) => status::run(args, out),
        Command::Snapshot(args) => snapshot::run(args, err),
        Command::Note(args) => note::run(args, out),
        Command::Manual(args) => manual::run(args),
        Command::Completions(args) => manual::completions(args, out),
    };
    match done {
        Ok(exit) => exit,
        Err(failure) => {
            for line in failure.to_string().lines() {
                let _ = writeln!(err, "seepd: {line}");
            }
            failure.exit
        }
    }
}
