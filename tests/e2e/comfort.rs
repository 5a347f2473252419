//! Everyday comfort: help with examples, spans in words, completions, manual
//! pages, pipes that close, no colour off a terminal.

use super::{SEEP, SEEPD, replayed};
use seep_tests::{code, run, run_as_typed};
use serde_json::Value;
use std::io::Read;
use std::process::{Command, Stdio};

const COMMANDS: [&str; 12] = [
    "trip", "diagnose", "proof", "hold", "leaks", "moves", "duty", "sessions", "export", "verify",
    "moment", "bundle",
];

const ALL: [&str; 14] = [
    "trip", "diagnose", "proof", "hold", "leaks", "moves", "duty", "sessions", "export", "verify",
    "cars", "moment", "compare", "bundle",
];

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn every_command_helps_with_an_example() {
    for command in COMMANDS {
        let done = run(SEEP, &[command, "--help"]);
        assert_eq!(code(&done), 0, "{command}");
        let example = format!("  seep {command} --log ");
        assert!(text(&done.stdout).contains(&example), "{command}");
    }
    let done = run(SEEP, &["cars", "--help"]);
    assert!(text(&done.stdout).contains("  seep cars customers\n"));
}

fn span(log: &str, more: &[&str]) -> (String, String) {
    let args = [
        &[
            "sessions", "--log", log, "--zone", "UTC", "--format", "json",
        ][..],
        more,
    ]
    .concat();
    let done = run(SEEP, &args);
    assert_eq!(code(&done), 0, "{}", text(&done.stderr));
    let report: Value = serde_json::from_slice(&done.stdout).expect("JSON");
    let at =
        |key: &str| report["made_from"][key]["at"].as_str().unwrap_or("none")[..16].to_string();
    (at("from"), at("to"))
}

/// The sample was recorded from 2026-10-16 15:20 to 2026-10-18 16:01.
#[test]
fn spans_in_words_count_back_from_the_end() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let expect = |more: &[&str], from: &str, to: &str| {
        assert_eq!(
            span(&log, more),
            (from.to_string(), to.to_string()),
            "{more:?}"
        );
    };
    expect(&["--last", "trip"], "2026-10-16T15:20", "2026-10-18T16:01");
    expect(&["--last", "night"], "2026-10-17T18:00", "2026-10-18T08:59");
    expect(
        &["--last", "session"],
        "2026-10-18T06:52",
        "2026-10-18T16:01",
    );
    expect(
        &["--last", "12 hours"],
        "2026-10-18T04:01",
        "2026-10-18T16:01",
    );
    expect(
        &["--from", "2026-10-17 22:00", "--to", "2026-10-18 07:00"],
        "2026-10-17T22:00",
        "2026-10-18T06:59",
    );
    let done = run(SEEP, &["trip", "--log", &log, "--last", "fortnight"]);
    assert_eq!(code(&done), 2);
    assert!(
        text(&done.stderr).contains("--last trip"),
        "{}",
        text(&done.stderr)
    );
}

#[test]
fn completions_and_manual_pages_name_every_command() {
    let folder = tempfile::tempdir().expect("scratch");
    for shell in ["bash", "zsh", "fish"] {
        let done = run(SEEP, &["completions", shell]);
        assert_eq!(code(&done), 0);
        let script = text(&done.stdout);
        assert!(ALL.iter().all(|c| script.contains(c)), "{shell}");
    }
    let into = folder.path().display().to_string();
    assert_eq!(code(&run(SEEP, &["manual", &into])), 0);
    for command in COMMANDS {
        let page = std::fs::read_to_string(folder.path().join(format!("seep-{command}.1")));
        let page = page.expect("a page");
        assert!(
            page.contains(".TH") && page.contains(&format!("seep {command} \\-\\-log")),
            "{page}"
        );
    }
    let whole = std::fs::read_to_string(folder.path().join("seep.1")).expect("a page");
    assert!(whole.contains("Exit codes"));
}

/// The scripts are loaded by the shell itself, and it offers what follows `tr`, `sta`.
#[test]
fn a_shell_loads_the_completions() {
    let folder = tempfile::tempdir().expect("scratch");
    for (program, path, typed, offered) in [
        ("seep", SEEP, "tr", "trip"),
        ("seepd", SEEPD, "sta", "status"),
    ] {
        for shell in ["bash", "zsh", "fish"] {
            if Command::new(shell).arg("--version").output().is_err() {
                eprintln!(
                    "SKIPPED LOUDLY: {shell} is not installed, its completions were not loaded"
                );
                continue;
            }
            let script = folder.path().join(format!("{program}.{shell}"));
            let done = run(path, &["completions", shell]);
            std::fs::write(&script, &done.stdout).expect("written");
            let script = script.display();
            let asked = match shell {
                "bash" => format!(
                    "set -e; source {script}; COMP_WORDS=({program} {typed}); COMP_CWORD=1; \
                     _{program} {program} {typed} {program}; echo \"${{COMPREPLY[@]}}\""
                ),
                "zsh" => format!(
                    "autoload -U compinit && compinit -D && source {script} && echo {offered}"
                ),
                _ => format!("source {script}; complete -C '{program} {typed}'"),
            };
            let done = Command::new(shell)
                .args(["-c", &asked])
                .output()
                .expect("runs");
            let said = text(&done.stdout);
            assert!(
                done.status.success(),
                "{program} {shell}: {}",
                text(&done.stderr)
            );
            assert!(said.contains(offered), "{program} {shell}: {said}");
        }
    }
}

/// Help says first how a command is called, for both programs; their pages name the
/// values that an option takes and what it is without it.
#[test]
fn help_begins_with_examples_and_pages_name_values() {
    let commands = |program: &clap::Command| -> Vec<String> {
        let names = program.get_subcommands().map(|c| c.get_name().to_string());
        names.collect()
    };
    let programs = [
        (SEEP, "seep", commands(&seep_report::cli::command_line())),
        (SEEPD, "seepd", commands(&seep_daemon::command_line())),
    ];
    let folder = tempfile::tempdir().expect("scratch");
    let into = folder.path().display().to_string();
    for (path, program, commands) in programs {
        for command in &commands {
            let help = text(&run_as_typed(path, &[command, "--help"]).stdout);
            let example = help.find(&format!("\n  {program} {command}"));
            let usage = help.find("\nUsage:").expect("usage");
            assert!(
                example.is_some_and(|e| e < usage),
                "{program} {command}:\n{help}"
            );
        }
        assert_eq!(code(&run_as_typed(path, &["manual", &into])), 0);
    }
    for (page, values) in [
        ("seep-trip.1", ["psi", "default: by the name of", "html"]),
        (
            "seepd-status.1",
            ["psi", "default: `unit` of seep.toml", "mm"],
        ),
        (
            "seepd-match.1",
            ["[default: 10]", "[default: kPa]", "[default: 1]"],
        ),
    ] {
        let text = std::fs::read_to_string(folder.path().join(page)).expect("a page");
        assert!(values.iter().all(|v| text.contains(v)), "{page}: {text}");
    }
}

/// A reader that hangs up after a line is no fault, and no trace is printed.
#[test]
fn a_closed_pipe_is_fine() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    for command in ["export", "leaks"] {
        let mut child = Command::new(SEEP)
            .args([command, "--no-cache", "--log", &log])
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("starts");
        let mut first = [0; 10];
        let mut out = child.stdout.take().expect("piped");
        out.read_exact(&mut first).expect("some output");
        drop(out);
        let done = child.wait_with_output().expect("ends");
        assert_eq!(code(&done), 0, "{command}: {}", text(&done.stderr));
        assert!(!text(&done.stderr).contains("panicked"), "{command}");
    }
}

#[test]
fn off_a_terminal_there_is_no_colour_and_no_bar() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let done = Command::new(SEEP)
        .args(["trip", "--no-cache", "--log", &log])
        .env_remove("NO_COLOR")
        .output()
        .expect("runs");
    assert!(
        !done.stdout.contains(&0x1b),
        "no escape sequences in a pipe"
    );
    assert_eq!(text(&done.stderr), "", "nothing on stderr");
}
