//! Completions and manual pages, made from the command line's own description and
//! the list of the plan's keys.

use crate::cli::command_line;
use crate::exit;
use crate::output::{Destination, write_with};
use crate::proof::PLAN_KEYS;
use anyhow::Context;
use clap_complete::Shell;
use seep_common::defaults::{ABOUT_THE_DEFAULTS, DEFAULTS_KEYS};
use seep_common::file_key::manual_page;
use std::path::Path;

/// First paragraph of the page on the plan file.
const ABOUT_THE_PLAN: [&str; 1] = [
    "A plan says in TOML what a vehicle must show before it goes: how long it holds, how fast it moves, how little the compressor runs. seep proof judges a log by it.",
];

/// Completions on standard output.
pub(crate) fn completions(shell: Shell) -> anyhow::Result<u8> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut command_line(), "seep", &mut script);
    let nowhere = Path::new("");
    write_with(&Destination::Stdout, nowhere, &mut |out| {
        out.write_all(&script)
    })?;
    Ok(exit::FINE)
}

/// One page for the program and one for every command.
pub(crate) fn pages(folder: &Path) -> anyhow::Result<u8> {
    let mut command = command_line();
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
    let plan = manual_page(
        "seep-plan",
        "the plan of a proof run",
        &ABOUT_THE_PLAN,
        PLAN_KEYS,
    );
    let defaults = manual_page(
        "seep.toml",
        "a person's defaults for seep and seepd",
        &ABOUT_THE_DEFAULTS,
        DEFAULTS_KEYS,
    );
    for (file, page) in [("seep-plan.5", plan), ("seep.toml.5", defaults)] {
        let path = folder.join(file);
        std::fs::write(&path, page).with_context(|| format!("{}: cannot write", path.display()))?;
    }
    Ok(exit::FINE)
}
