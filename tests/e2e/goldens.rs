//! Kept reports: what each command says of each sample log, as text and as the outline
//! of its JSON. `BLESS=1 cargo test -p seep-tests --test e2e goldens` writes them again;
//! read the difference before you commit it.

use super::{SEEP, replayed};
use seep_tests::{SCENARIOS, code, run};
use serde_json::Value;
use std::fmt::Write as _;
use std::path::PathBuf;

const COMMANDS: [&str; 5] = ["trip", "leaks", "moves", "duty", "diagnose"];

fn kept(name: &str) -> PathBuf {
    [env!("CARGO_MANIFEST_DIR"), "data", "goldens", name]
        .iter()
        .collect::<PathBuf>()
        .with_extension("txt")
}

fn said(command: &str, log: &str, format: &str) -> String {
    let done = run(
        SEEP,
        &[command, "--log", log, "--zone", "UTC", "--format", format],
    );
    assert_eq!(code(&done), 0, "{command} {format}");
    String::from_utf8(done.stdout).expect("UTF-8")
}

/// The text without the hash of the log, which holds the version of the recorder.
fn text(command: &str, log: &str) -> String {
    let whole = said(command, log, "text");
    let lines = whole.lines().filter(|l| !l.starts_with("log SHA-256"));
    lines.map(|l| format!("{l}\n")).collect()
}

fn word<'a>(value: &'a Value, key: &str) -> &'a str {
    value[key].as_str().unwrap_or("?")
}

fn list<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    value[key].as_array().map_or(&[], Vec::as_slice)
}

/// What the JSON holds: verdict, findings with their evidence, tables, plots.
fn outline(command: &str, log: &str) -> String {
    let report: Value = serde_json::from_str(&said(command, log, "json")).expect("JSON");
    let mut out = format!("{} {}\n", word(&report, "schema"), word(&report, "command"));
    let _ = writeln!(out, "verdict {}", word(&report["verdict"], "severity"));
    for finding in list(&report, "findings") {
        let certainty = word(&finding["certainty"], "word");
        let (kind, place) = (word(finding, "kind"), word(finding, "place"));
        let severity = word(finding, "severity");
        let _ = writeln!(out, "finding {kind} {place} {severity} {certainty}");
        for evidence in list(finding, "evidence") {
            let (kind, unit) = (
                word(&evidence["value"], "type"),
                word(&evidence["value"], "unit"),
            );
            let _ = writeln!(out, "  {}: {kind} {unit}", word(evidence, "label"));
        }
        for candidate in list(finding, "candidates") {
            let _ = writeln!(out, "  candidate {}", word(candidate, "name"));
        }
    }
    for section in list(&report, "sections") {
        let _ = writeln!(out, "section {}", word(section, "id"));
        for table in list(section, "tables") {
            let columns = list(table, "columns").iter().map(|c| word(c, "name"));
            let columns: Vec<&str> = columns.collect();
            let rows = list(table, "rows").len();
            let _ = writeln!(
                out,
                "  table {}: {rows} rows of {}",
                word(table, "id"),
                columns.join(", ")
            );
        }
        for plot in list(section, "plots") {
            let _ = writeln!(out, "  plot {} {}", word(plot, "type"), word(plot, "id"));
        }
    }
    out
}

#[test]
fn every_command_says_of_every_sample_log_what_was_read_last() {
    let folder = tempfile::tempdir().expect("scratch");
    for name in SCENARIOS {
        let made = folder.path().join(name);
        std::fs::create_dir_all(&made).expect("made");
        let log = replayed(name, &made);
        let mut now = String::new();
        for command in COMMANDS {
            let _ = write!(now, "== seep {command} --full\n{}", text(command, &log));
            let _ = write!(now, "== JSON of seep {command}\n{}", outline(command, &log));
        }
        let path = kept(name);
        if std::env::var_os("BLESS").is_some() {
            std::fs::create_dir_all(path.parent().expect("a folder")).expect("made");
            std::fs::write(&path, &now).expect("written");
            continue;
        }
        let before = std::fs::read_to_string(&path).expect("kept; BLESS=1 writes it");
        let differs = before.lines().zip(now.lines()).position(|(a, b)| a != b);
        let lines = (before.lines().count(), now.lines().count());
        let at = differs.or((lines.0 != lines.1).then_some(lines.0.min(lines.1)));
        if let Some(at) = at {
            let line = |text: &str| text.lines().nth(at).unwrap_or("(end)").to_string();
            panic!(
                "{name}, line {}:\nkept: {}\nnow:  {}",
                at + 1,
                line(&before),
                line(&now)
            );
        }
    }
}
