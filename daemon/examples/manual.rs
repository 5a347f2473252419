//! Manual pages of `seepd`, into a folder: `cargo run --example manual -- FOLDER`.
//! An example, so that the recorder itself need not carry what makes them.

use std::path::PathBuf;
use std::process::ExitCode;

fn main() -> ExitCode {
    let Some(folder) = std::env::args_os().nth(1).map(PathBuf::from) else {
        eprintln!("manual: give the folder for the pages; it must exist");
        return ExitCode::from(2);
    };
    match pages_into(&folder) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("manual: {}: {e}", folder.display());
            ExitCode::from(73)
        }
    }
}

/// One page for the program and one for every command.
fn pages_into(folder: &std::path::Path) -> std::io::Result<()> {
    let mut program = seep_daemon::command_line();
    program.build();
    let commands = program.get_subcommands().cloned();
    let pages = commands.map(|c| (format!("seepd-{}.1", c.get_name()), c));
    for (name, command) in pages.chain([("seepd.1".to_string(), program.clone())]) {
        let mut page = Vec::new();
        clap_mangen::Man::new(command).render(&mut page)?;
        std::fs::write(folder.join(name), page)?;
    }
    Ok(())
}
