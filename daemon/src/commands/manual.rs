//! `seepd manual` and `seepd completions`: made from the command line's own description and
//! the list of the rig's keys.

use crate::cli::{CompletionsArgs, ManualArgs, command_line};
use crate::exit::{Exit, Failure};
use seep_common::defaults::{ABOUT_THE_DEFAULTS, DEFAULTS_KEYS};
use seep_common::file_key::{FileKey, manual_page};
use seep_common::rig::RIG_KEYS;
use std::io::Write;
use std::path::Path;

/// First paragraphs of the page on the rig file.
const ABOUT_THE_RIG: [&str; 2] = [
    "The rig file says in TOML what the vehicle is, where its sensors are wired and how it is recorded. It is stored whole in every log.",
    "Names of channels say place, quantity and unit: front_left_kpa_gauge, tank_c, vehicle_kmh, compressor_1_on. seepd check says what a rig means, or each mistake with its line.",
];

/// Files with a page of their own: name, what it is, first paragraphs, keys.
const FILES: [(&str, &str, &[&str], &[FileKey]); 2] = [
    (
        "seep-rig",
        "the rig file of seepd",
        &ABOUT_THE_RIG,
        RIG_KEYS,
    ),
    (
        "seep.toml",
        "a person's defaults for seep and seepd",
        &ABOUT_THE_DEFAULTS,
        DEFAULTS_KEYS,
    ),
];

/// One page for the program and one for every command.
pub(super) fn run(args: &ManualArgs) -> Result<Exit, Failure> {
    let mut program = command_line();
    program.build();
    let commands = program.get_subcommands().cloned();
    let pages = commands.map(|c| (format!("seepd-{}.1", c.get_name()), c));
    for (name, command) in pages.chain([("seepd.1".to_string(), program.clone())]) {
        write(&args.folder.join(name), |page| {
            clap_mangen::Man::new(command).render(page)
        })?;
    }
    for (name, what, about, keys) in FILES {
        let text = manual_page(name, what, about, keys);
        write(&args.folder.join(format!("{name}.5")), |page| {
            page.write_all(text.as_bytes())
        })?;
    }
    Ok(Exit::Fine)
}

/// A completion script on standard output.
pub(super) fn completions(args: &CompletionsArgs, out: &mut dyn Write) -> Result<Exit, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut command_line(), "seepd", &mut script);
    match out.write_all(&script) {
        // A reader that hangs up has read enough.
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => Err(Failure::new(Exit::Io, e)),
        _ => Ok(Exit::Fine),
    }
}

fn write(
    path: &Path,
    fill: impl FnOnce(&mut Vec<u8>) -> std::io::Result<()>,
) -> Result<(), Failure> {
    let mut page = Vec::new();
    fill(&mut page)
        .and_then(|()| std::fs::write(path, page))
        .map_err(|e| Failure::say(Exit::CannotCreate, format!("{}: {e}", path.display())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap_complete::Shell;

    #[test]
    fn completions_name_every_command() {
        for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
            let mut script = Vec::new();
            let done = completions(&CompletionsArgs { shell }, &mut script);
            assert_eq!(done.expect("written"), Exit::Fine);
            let script = String::from_utf8(script).expect("text");
            for command in command_line().get_subcommands() {
                assert!(script.contains(command.get_name()), "{shell}: {script}");
            }
        }
    }

    #[test]
    fn every_command_has_a_page() {
        let folder = tempfile::tempdir().expect("scratch");
        let folder = folder.path();
        let args = ManualArgs {
            folder: folder.into(),
        };
        assert_eq!(run(&args).expect("written"), Exit::Fine);
        for (page, word) in [
            ("seepd.1", "doctor"),
            ("seepd-run.1", "SIGHUP"),
            ("seep-rig.5", "lowest_ok_mm"),
            ("seep.toml.5", "Europe/Berlin"),
            ("seepd-status.1", "seep.toml"),
        ] {
            let text = std::fs::read_to_string(folder.join(page)).expect("there");
            assert!(text.starts_with('.') && text.contains(word), "{text}");
        }
        let args = ManualArgs {
            folder: folder.join("not there"),
        };
        let failure = run(&args).expect_err("no folder");
        assert_eq!(failure.exit, Exit::CannotCreate);
    }
}
