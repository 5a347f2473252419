//! Makes the sample logs.

mod cli;

use clap::Parser as _;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments = cli::Arguments::parse();
    match cli::run(arguments) {
        Ok(code) => code,
        Err(error) => {
            eprintln!("sample-logs: {error:#}");
            ExitCode::from(2)
        }
    }
}
