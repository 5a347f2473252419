//! `seepd manual`: manual pages, made from the command line's own description.

use crate::cli::{ManualArgs, command_line};
use crate::exit::{Exit, Failure};
use std::path::Path;

/// One page for the program and one for every command.
pub(super) fn run(args: &ManualArgs) -> Result<Exit, Failure> {
    let mut program = command_line();
    program.build();
    let commands = program.get_subcommands().cloned();
    let pages = commands.map(|c| (format!("seepd-{}.1", c.get_name()), c));
    for (name, command) in pages.chain([("seepd.1".to_string(), program.clone())]) {
        write(&args.folder.join(name), command)?;
    }
    Ok(Exit::Fine)
}

fn write(path: &Path, command: clap::Command) -> Result<(), Failure> {
    let mut page = Vec::new();
    clap_mangen::Man::new(command)
        .render(&mut page)
        .and_then(|()| std::fs::write(path, page))
        .map_err(|e| Failure::say(Exit::CannotCreate, format!("{}: {e}", path.display())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_has_a_page() {
        let folder = tempfile::tempdir().expect("scratch");
        let folder = folder.path();
        let args = ManualArgs {
            folder: folder.into(),
        };
        assert_eq!(run(&args).expect("written"), Exit::Fine);
        for (page, word) in [("seepd.1", "doctor"), ("seepd-run.1", "SIGHUP")] {
            let text = std::fs::read_to_string(folder.join(page)).expect("there");
            assert!(text.starts_with(".ie") && text.contains(word), "{text}");
        }
        let args = ManualArgs {
            folder: folder.join("not there"),
        };
        let failure = run(&args).expect_err("no folder");
        assert_eq!(failure.exit, Exit::CannotCreate);
    }
}
