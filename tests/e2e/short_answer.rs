//! Every command's default is an answer on one screen of 80 by 24.

use super::{SEEP, replayed};
use clap::CommandFactory;
use seep_tests::{SCENARIOS, code, run, run_as_typed, sample};

/// Lines of an answer.
const MOST_LINES: usize = 20;

/// Columns of a terminal.
const COLUMNS: usize = 80;

/// Words and units that only `--full` uses, where they are explained.
const TECHNICAL: [&str; 15] = [
    "ANR",
    "dm³",
    "sonic",
    "onductance",
    "posterior",
    "prior",
    "likelihood",
    "p value",
    "Holm",
    "Welch",
    "esidual",
    "median",
    "quantile",
    "autocorrelation",
    "Theil",
];

/// Commands whose output is no report.
const NO_REPORT: [&str; 4] = ["bundle", "completions", "export", "manual"];

fn answered(args: &[&str]) -> String {
    let done = run_as_typed(SEEP, args);
    assert_eq!(code(&done), 0, "{args:?}");
    String::from_utf8(done.stdout).expect("UTF-8")
}

fn on_one_screen(text: &str, what: &str) {
    let lines: Vec<&str> = text.lines().collect();
    assert!(
        lines.len() <= MOST_LINES,
        "{what}: {} lines\n{text}",
        lines.len()
    );
    let widest = lines.iter().map(|l| l.chars().count()).max().unwrap_or(0);
    assert!(widest <= COLUMNS, "{what}: {widest} columns\n{text}");
    for word in TECHNICAL {
        assert!(!text.contains(word), "{what}: {word}\n{text}");
    }
    let verdict = ["ACT: ", "WATCH: ", "UNKNOWN: ", "FINE: "];
    assert!(
        verdict.iter().any(|v| text.starts_with(v)),
        "{what}\n{text}"
    );
    assert!(
        lines.last().is_some_and(|l| l.contains("--full")),
        "{what}\n{text}"
    );
}

#[test]
fn every_default_fits_one_screen() {
    let folder = tempfile::tempdir().expect("scratch");
    let plan = sample("../plans/autumn-show.toml").display().to_string();
    let mut counts = Vec::new();
    for name in SCENARIOS {
        let made = folder.path().join(name);
        std::fs::create_dir_all(&made).expect("made");
        let log = replayed(name, &made);
        let [begin, end] = half_an_hour_of(name);
        for command in [
            &["trip"][..],
            &["leaks"],
            &["moves"],
            &["duty"],
            &["diagnose"],
            &["sessions"],
            &["volumes"],
            &["verify"],
            &["proof", "--plan", &plan],
            &["trip", "--last", "day", "--against", "before"],
            &["leaks", "--why", "front_left"],
            &["leaks", "--why", "tank"],
            &["duty", "--last", "day", "--against", "before"],
            &["moves", "--last", "day", "--against", "before"],
            &["hold", "--from", begin, "--to", end],
            &["moment", "--at", begin],
        ] {
            let text = answered(&[command, &["--log", &log, "--zone", "UTC"]].concat());
            on_one_screen(&text, &format!("{name} {command:?}"));
            counts.push((text.lines().count(), name, command[0]));
        }
    }
    let folder = folder.path().display().to_string();
    let text = answered(&["cars", &folder, "--zone", "UTC"]);
    on_one_screen(&text, "cars");
    let of = |name: &str| format!("{folder}/{name}/trip.db");
    let both = [of("healthy-road-trip"), of("worn-compressor")];
    let text = answered(&["compare", &both[0], &both[1], "--zone", "UTC"]);
    on_one_screen(&text, "compare");
    let covered: Vec<&str> = counts
        .iter()
        .map(|c| c.2)
        .chain(["cars", "compare"])
        .collect();
    for command in seep_report::cli::Cli::command().get_subcommands() {
        let name = command.get_name();
        let reports = !NO_REPORT.contains(&name);
        assert_eq!(
            covered.contains(&name),
            reports,
            "{name} is tried iff it gives a report"
        );
    }
    counts.sort_unstable();
    println!("most lines: {:?}", counts.last());
}

/// Half an hour that the invented log holds.
fn half_an_hour_of(name: &str) -> [&'static str; 2] {
    match name {
        "slow-leak-overnight" | "kinked-line" => ["2026-10-17 01:10", "2026-10-17 01:40"],
        _ => ["2026-05-09 10:10", "2026-05-09 10:40"],
    }
}

/// Owner, technician, builder: what the answer must hold where something is wrong.
#[test]
fn a_fault_shows_figure_picture_next_step_and_caution() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let text = answered(&["trip", "--log", &log, "--zone", "UTC"]);
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "mm/h",
        "o measured",
        "without the loss",
        "Next: ",
        "Caution: ",
        "Recorded ",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    let whole = run(SEEP, &["trip", "--log", &log, "--zone", "UTC"]);
    let whole = String::from_utf8(whole.stdout).expect("UTF-8");
    assert!(whole.contains("Data health") && whole.lines().count() > 3 * MOST_LINES);
}

/// Proof, comparison and many cars each have their picture, on the screen and first on
/// the page.
#[test]
fn limits_comparisons_and_cars_are_drawn() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let place = folder.path().display().to_string();
    let plan = sample("../plans/autumn-show.toml").display().to_string();
    let cases: [(&[&str], &str, &str, usize); 3] = [
        (
            &["proof", "--plan", &plan, "--log", &log],
            "o value, ! limit; mm",
            "48 FAIL",
            16,
        ),
        (
            &[
                "trip",
                "--last",
                "day",
                "--against",
                "before",
                "--log",
                &log,
            ],
            "o now, + before; mm",
            "no change seen",
            12,
        ),
        (
            &["cars", &place],
            "o value, : its other places; mm",
            "act, rear right",
            1,
        ),
    ];
    for (command, legend, row, strips) in cases {
        let args = [command, &["--zone", "UTC"]].concat();
        let text = answered(&args);
        let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(joined.contains(legend) && joined.contains(row), "{text}");
        let page = answered(&[&args[..], &["--format", "html"]].concat());
        let first = page.find("<svg class=\"strip\"").expect("a strip");
        assert!(first < page.find("<table").expect("a table"), "{command:?}");
        let drawn = page.matches("<svg class=\"strip\"").count();
        assert!(drawn >= strips - 1, "{command:?}: {drawn} of {strips}");
    }
}

/// Verdict, picture, what to do, cautions, lines to sign; nothing else.
#[test]
fn a_sheet_to_hand_over_has_no_more_than_it_needs() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let page = answered(&["trip", "--log", &log, "--zone", "UTC", "--one-sheet"]);
    for part in [
        "<!DOCTYPE html>",
        "corner loses air at rest",
        "<figure ",
        "Next check",
        "rated stands",
        "Customer",
        "Place and date",
        "safe to drive is not judged",
    ] {
        assert!(page.contains(part), "{part}");
    }
    for left_out in ["Data health", "Compressor duty", "<nav "] {
        assert!(!page.contains(left_out), "{left_out}");
    }
    assert_eq!(page.matches("<figure ").count(), 1);
}
