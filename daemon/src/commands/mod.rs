//! One file per command.

mod check;
mod replay;

use crate::cli::Command;
use crate::exit::Exit;
use std::io::Write;

/// Run a command; data goes to `out`, messages to `err`.
pub(crate) fn run(command: &Command, out: &mut dyn Write, err: &mut dyn Write) -> Exit {
    let done = match command {
        Command::Check(args) => check::run(args, out),
        Command::Replay(args) => replay::run(args, err),
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
