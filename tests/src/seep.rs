//! `seep` compiled into this crate, so that cargo hands its path to the tests.

fn main() -> std::process::ExitCode {
    std::process::ExitCode::from(seep_report::run(std::env::args_os()))
}
