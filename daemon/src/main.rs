//! The recorder `seepd`; everything it does is in the library.

use std::io::{stderr, stdout};
use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(seep_daemon::main_with(
        std::env::args_os(),
        &mut stdout(),
        &mut stderr(),
    ))
}
