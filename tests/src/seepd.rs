//! `seepd` compiled into this crate, so that cargo hands its path to the tests.

fn main() -> std::process::ExitCode {
    std::process::ExitCode::from(seep_daemon::main_with(
        std::env::args_os(),
        &mut std::io::stdout(),
        &mut std::io::stderr(),
    ))
}
