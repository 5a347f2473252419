//! `--unit`, `--temperature` and `--length` reach every sentence, table and plot
//! of every command; JSON and exported rows keep what is stored.

use super::{SEEP, replayed};
use seep_tests::{SCENARIOS, code, run, sample};
use serde_json::Value;

const THEIRS: [&str; 6] = ["--unit", "psi", "--temperature", "f", "--length", "in"];

/// Every report, two of them with a second span.
fn reports(plan: &str) -> Vec<Vec<&str>> {
    vec![
        vec!["trip"],
        vec!["diagnose"],
        vec!["leaks"],
        vec!["moves"],
        vec!["duty"],
        vec!["sessions"],
        vec!["verify"],
        vec!["proof", "--plan", plan],
        vec!["trip", "--last", "day", "--against", "before"],
    ]
}

fn told(command: &[&str], log: &str, format: &str, units: &[&str]) -> String {
    let rest = ["--log", log, "--zone", "UTC", "--format", format];
    let done = run(SEEP, &[command, &rest, units].concat());
    assert_eq!(
        code(&done),
        0,
        "{command:?}: {}",
        String::from_utf8_lossy(&done.stderr)
    );
    String::from_utf8_lossy(&done.stdout).into_owned()
}

/// Lines with a unit of the other kind. Not counted: `dm³/(s·bar)`, which is the
/// unit of ISO 6358, and names of channels such as `tank_kpa_gauge`.
fn strangers<'a>(text: &'a str, units: &[&str]) -> Vec<&'a str> {
    let is_word = |c: char| c.is_alphanumeric() || c == '_' || c == '°';
    text.lines()
        .filter(|line| {
            let line = line.replace("dm³/(s·bar)", "");
            line.split(|c: char| !is_word(c))
                .any(|word| units.contains(&word))
        })
        .collect()
}

/// A page without its style and its program; the numbers behind the plots stay.
fn words_of(page: &str) -> String {
    let mut out = String::new();
    let mut rest = page;
    while let Some(start) = ["<style>", "<script>"]
        .iter()
        .filter_map(|tag| rest.find(tag))
        .min()
    {
        out.push_str(&rest[..start]);
        let end = ["</style>", "</script>"]
            .iter()
            .filter_map(|tag| rest[start..].find(tag))
            .min();
        rest = &rest[start + end.expect("closed") + 8..];
    }
    out.push_str(rest);
    // One line for each piece, so that a stranger is found where it stands.
    out.replace('>', ">\n")
}

#[test]
fn no_stored_unit_is_left_where_another_is_asked_for() {
    let plan = sample("../plans/autumn-show.toml").display().to_string();
    for name in SCENARIOS {
        let folder = tempfile::tempdir().expect("scratch");
        let log = replayed(name, folder.path());
        for command in reports(&plan) {
            let text = told(&command, &log, "text", &[&THEIRS[..], &["--plot"]].concat());
            let csv = told(&command, &log, "csv", &THEIRS);
            let page = words_of(&told(&command, &log, "html", &THEIRS));
            for said in [&text, &csv, &page] {
                let left = strangers(said, &["kPa", "°C", "mm", "K", "kelvin"]);
                assert!(left.is_empty(), "{name} {command:?}: {left:#?}");
            }
        }
        let cars = run(
            SEEP,
            &[
                &[
                    "cars",
                    &folder.path().display().to_string(),
                    "--zone",
                    "UTC",
                ][..],
                &THEIRS,
            ]
            .concat(),
        );
        let said = String::from_utf8_lossy(&cars.stdout).into_owned();
        let left = strangers(&said, &["kPa", "°C", "mm", "K", "kelvin"]);
        assert!(left.is_empty(), "{name} cars: {left:#?}");
    }
}

/// The test above can fail: with the units of the house the same words are there.
#[test]
fn the_stored_units_are_seen_when_nothing_is_asked() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let text = told(&["trip"], &log, "text", &["--plot"]);
    for unit in ["kPa", "°C", "mm"] {
        assert!(!strangers(&text, &[unit]).is_empty(), "{unit}");
    }
    let page = words_of(&told(&["trip"], &log, "html", &[]));
    assert!(strangers(&page, &["kPa"]).len() > 5);
    let bar = told(&["trip"], &log, "text", &["--unit", "bar", "--plot"]);
    assert!(strangers(&bar, &["kPa"]).is_empty());
    assert!(bar.contains("°C") && bar.contains("mm"), "the others stay");
}

/// JSON says kPa, mm and °C whatever is asked, byte for byte, and so do rows.
#[test]
fn json_and_rows_keep_what_is_stored() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let plain = told(&["trip"], &log, "json", &[]);
    assert_eq!(plain, told(&["trip"], &log, "json", &THEIRS));
    let report: Value = serde_json::from_str(&plain).expect("JSON");
    let evidence = &report["findings"][0]["evidence"];
    let height = (evidence.as_array().expect("a list").iter())
        .find(|e| e["label"] == "fall of height at rest")
        .expect("there");
    assert_eq!(height["value"]["unit"], "mm/h");
    let psi = told(&["trip"], &log, "csv", &THEIRS);
    let line = (psi.lines())
        .find(|l| l.contains("fall of height at rest"))
        .expect("there");
    let inches: f64 = line
        .split(',')
        .nth(3)
        .expect("value")
        .parse()
        .expect("a number");
    let mm = height["value"]["value"].as_f64().expect("a number");
    assert!(
        (inches * 25.4 - mm).abs() < 1e-9 * mm,
        "{inches} in, {mm} mm"
    );
}

/// A difference of 9 °F is 5 K: no 32 is added to a swing of temperature.
#[test]
fn a_swing_of_temperature_has_no_offset() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let swings = |units: &[&str], symbol: &str| -> Vec<f64> {
        let text = told(&["leaks"], &log, "csv", units);
        text.split("temperature swung ")
            .skip(1)
            .map(|rest| {
                let number: String = rest
                    .chars()
                    .take_while(|c| c.is_ascii_digit() || *c == '.')
                    .collect();
                assert!(
                    rest[number.len()..]
                        .trim_start_matches(['\u{a0}', ' '])
                        .starts_with(symbol)
                );
                number.parse().expect("a number")
            })
            .collect()
    };
    let (kelvin, fahrenheit) = (swings(&[], "K"), swings(&THEIRS, "°F"));
    assert!(kelvin.len() >= 4 && kelvin.len() == fahrenheit.len());
    for (k, f) in kelvin.iter().zip(&fahrenheit) {
        assert!((f / k - 1.8).abs() < 0.02, "{k} K, {f} °F");
    }
}
