//! `seep`: what a recording says.

fn main() -> std::process::ExitCode {
    std::process::ExitCode::from(seep_report::run(std::env::args_os()))
}
