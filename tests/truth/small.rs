//! The truth bench, small: it runs, and what few cars can show holds.

use seep_tests::{code, run};

const BENCH: &str = env!("CARGO_BIN_EXE_truth-bench");

fn table(args: &[&str]) -> String {
    let done = run(BENCH, args);
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    String::from_utf8(done.stdout).expect("text")
}

/// The numbers of a line of the table.
fn numbers(table: &str, line: &str) -> Vec<f64> {
    let found = table.lines().find(|l| l.trim_start().starts_with(line));
    let found = found.unwrap_or_else(|| panic!("{line} is missing in\n{table}"));
    found[line.len()..]
        .split(|c: char| !c.is_ascii_digit() && c != '.')
        .filter_map(|word| word.parse().ok())
        .collect()
}

/// Tuning seeds: what is tested daily must not be what is scored.
#[test]
fn an_ideal_log_is_fitted_as_well_as_the_cramer_rao_bound_allows_and_no_better() {
    let table = table(&["--cars", "0", "--seed", "700", "--ideal-logs", "60"]);
    let found = numbers(&table, "variance against the Cramér–Rao bound");
    let (ratio, error) = (found[0], found[1]);
    // Below the bound is impossible for an honest estimator and bench.
    assert!(ratio + 3.0 * error > 1.0, "{table}");
    // The bar is 1.2; the ratio of so few logs is uncertain itself.
    assert!(ratio - 2.0 * error < 1.2, "{table}");
}

#[test]
fn a_large_corner_leak_is_found_where_it_is() {
    let args = ["--cars", "1", "--weeks", "1", "--seed", "3", "--no-limits"];
    let only = ["--only", "corner_leak", "--class", "heights,own,always"];
    let table = table(&[&args[..], &only[..]].concat());
    let found = numbers(&table, "corner_leak            ");
    assert!(found.contains(&1.0), "{table}");
}

/// One disturbance or leak of each sort; all of them take minutes, and
/// `tests/truth/run --cases` prints a line for each.
#[test]
fn hand_made_cases_end_as_they_must() {
    let names = [
        "heat of 8 K",
        "sun of 8 K",
        "hole of 400 cm³/min, 3 days, every 60 s",
        "fast loss of 345 cm³/min, every 60 s",
        "2 cm³/min on two of fourteen nights",
        "0.07 cm³/min",
        "twisting body, slow dump front_left",
        "twisting body, sinking rear_left",
    ];
    for name in names {
        let done = run(BENCH, &["--cases", name]);
        let lines = String::from_utf8_lossy(&done.stdout);
        assert_eq!(code(&done), 0, "{lines}");
        assert!(lines.contains("1 of 1 hand-made cases"), "{lines}");
    }
}

/// `cargo test -p seep-tests --test truth -- --ignored` runs it.
#[test]
#[ignore = "takes minutes: sixty whole fortnights; six of them run by default"]
fn every_hand_made_case_ends_as_it_must() {
    let done = run(BENCH, &["--cases"]);
    let lines = String::from_utf8_lossy(&done.stdout);
    assert_eq!(code(&done), 0, "{lines}");
}
