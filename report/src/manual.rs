//! Completions and manual pages, made from the command line's own description.

use crate::cli::Cli;
use crate::exit;
use crate::output::{Destination, write_with};
use anyhow::Context;
use clap::CommandFactory;
use clap_complete::Shell;
use std::path::Path;

/// Completions on standard output.
pub(crate) fn completions(shell: Shell) -> anyhow::Result<u8> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "seep", &mut script);
    let nowhere = Path::new("");
    write_with(&Destination::Stdout, nowhere, &mut |out| {
        out.write_all(&script)
    })?;
    Ok(exit::FINE)
}

/// One page for the program and one for every command.
pub(crate) fn pages(folder: &Path) -> anyhow::Result<u8> {
    let mut command = Cli::command();
    command.build();
    let mut pages = vec![("seep.1".to_string(), command.clone())];
    for sub in command.get_subcommands() {
        let file = format!("seep-{}.1", sub.get_name());
        pages.push((file, sub.clone()));
    }
    for (file, command) in pages {
        let path = folder.join(&file);
        let mut page = Vec::new();
        clap_mangen::Man::new(command).render(&mut page)?;
        std::fs::write(&path, page).with_context(|| format!("{}: cannot write", path.display()))?;
    }
    Ok(exit::FINE)
}
