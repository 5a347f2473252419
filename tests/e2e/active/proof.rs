//! A proof speaks of the next hold, and of everything else that was found.

use super::super::{SEEP, replayed};
use super::bench::{Log, Rows, rows};
use super::corner::{self, RIG, channels, put};
use seep_tests::{code, run, sample};
use serde_json::Value;

fn hold_plan(hours: f64, within_mm: f64) -> String {
    format!(
        "name = \"invented\"\n[[hold]]\nplace = \"rear_left\"\nhours = {hours}\nwithin_mm = {within_mm}\n"
    )
}

/// Verdict and what stands behind it, of the only limit.
fn only_limit(report: &Value) -> (String, String) {
    let row = &rows(report, "limits")[0];
    let word = |i: usize| row[i]["text"].as_str().expect("text").to_string();
    (word(2), word(5))
}

/// Nights of ten hours, a reading in two minutes; by day it is lifted again.
fn nights(heights: impl Fn(usize, f64) -> f64, n: usize) -> Rows {
    let mut out = channels();
    for night in 0..n {
        for minute in (0..600).step_by(2) {
            let hours = minute as f64 / 60.0;
            let t = 86_400.0 * night as f64 + 3600.0 * hours;
            put(&mut out, t, heights(night, hours));
        }
        // A drop and a lift, so that each night is a rest of its own.
        for minute in 600..640 {
            let t = 86_400.0 * night as f64 + 60.0 * f64::from(minute);
            put(&mut out, t, if minute < 620 { -50.0 } else { 20.0 });
        }
    }
    out
}

/// Two nights of fourteen sink by 26 mm: the mean says 4 mm, the next night may not.
#[test]
fn a_car_that_sinks_on_two_nights_of_fourteen_does_not_pass() {
    let sinks = |night: usize, hours: f64| match night {
        4 | 11 => -2.6 * hours,
        _ => 0.0,
    };
    let report = nights(sinks, 14).recorded(RIG).proof(&hold_plan(9.0, 10.0));
    let (verdict, behind) = only_limit(&report);
    println!("{verdict}: {behind}");
    assert_eq!(verdict, "FAIL");
    // Clopper–Pearson for 2 of 14: 1.8 to 42.8 % (from memory).
    assert!(
        behind.contains("2 of 14 recorded holds broke it (14 %, 2 to 43 %)"),
        "{behind}"
    );
}

/// Its height swings by 12 mm with the sun and comes back: 5 mm are not held.
#[test]
fn a_height_that_swings_by_twelve_millimetres_does_not_hold_five() {
    let swings = |_: usize, hours: f64| -6.0 + 6.0 * (std::f64::consts::TAU * hours / 10.0).cos();
    let log = nights(swings, 6).recorded(RIG);
    let (verdict, behind) = only_limit(&log.proof(&hold_plan(9.0, 5.0)));
    println!("{verdict}: {behind}");
    assert_eq!(verdict, "FAIL");
    // The power of the pass: what it does hold, it is granted.
    let (verdict, behind) = only_limit(&log.proof(&hold_plan(9.0, 15.0)));
    println!("{verdict}: {behind}");
    assert_eq!(verdict, "pass", "{behind}");
}

/// A fault that no limit of the plan asks for does not pass.
#[test]
fn a_kinked_line_and_a_worn_compressor_do_not_pass() {
    for name in ["kinked-line", "worn-compressor"] {
        let folder = tempfile::tempdir().expect("scratch");
        let log = Log {
            log: replayed(name, folder.path()),
            folder,
        };
        let report = log.proof(
            "name = \"invented\"\n[[duty]]\ncompressor = \"all\"\nbelow_percent = 100\nwindow_min = 10\n",
        );
        assert_eq!(rows(&report, "limits")[0][2]["text"], "pass", "{name}");
        assert_eq!(
            report["verdict"]["severity"], "act",
            "{name}: {}",
            report["verdict"]
        );
        let said = report["verdict"]["sentence"].as_str().expect("words");
        assert!(said.starts_with("Not passed: "), "{said}");
    }
}

/// The forecast against the same corner simulated further: it loses load to the others
/// as it sinks, so it falls slower than its volume at constant pressure says.
#[test]
fn the_forecast_holds_what_comes_and_ends_at_the_stop() {
    for (l_per_h, name) in [(0.25, "slow"), (0.5, "medium"), (0.8, "fast")] {
        let truth = corner::leaking(20.0, l_per_h, 60 * 26);
        let mut table = channels();
        for (minute, mm) in truth.iter().enumerate().take(60 * 14) {
            put(&mut table, 60.0 * minute as f64, *mm);
        }
        let log = table.recorded(RIG);
        for hours in [6.0, 12.0, 2000.0] {
            let report = log.proof(&format!(
                "forecast_hours = {hours}\n{}",
                hold_plan(9.0, 500.0)
            ));
            let row = &rows(&report, "forecast")[0];
            let then = &row[2];
            let ends = (
                then["low"].as_f64().expect("low"),
                then["high"].as_f64().expect("high"),
            );
            let at = 60 * (14 + hours as usize) - 1;
            let true_mm = truth.get(at).copied().unwrap_or(-70.0).max(-70.0);
            println!(
                "{name}, {hours} h: {true_mm:.1} in {ends:?}; {}",
                row[5]["text"]
            );
            assert!(
                ends.0 - 0.5 <= true_mm && true_mm <= ends.1 + 0.5 && ends.0 >= -70.0,
                "{name}, {hours} h: {true_mm} {then}"
            );
            assert!(
                row[4]["low"].as_f64() >= Some(0.0),
                "not below the outside: {row}"
            );
        }
        let limit_h = truth.iter().position(|mm| *mm < -40.0);
        let words = rows(&log.proof(&hold_plan(24.0, 500.0)), "forecast")[0][5]["text"].clone();
        println!("{name}: truly {limit_h:?} minutes from the begin, {words}");
    }
}

/// All mistakes at once, each with file, line, key and remedy, and without a log.
#[test]
fn a_plan_is_looked_over_without_a_log() {
    let folder = tempfile::tempdir().expect("scratch");
    let plan = folder.path().join("plan.toml");
    let check = |text: &str, more: &[&str]| {
        std::fs::write(&plan, text).expect("written");
        let path = plan.display().to_string();
        let done = run(SEEP, &[&["proof", "--check", &path][..], more].concat());
        let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        (code(&done), text(&done.stdout), text(&done.stderr))
    };
    let wrong = "name = \"x\"\n[[hold]]\nplace = \"all\"\nhour = 3\nwithin_mm = 1\n\
                 [[duty]]\ncompressor = \"all\"\nbelow_percent = -3\nwindow_min = 10\n";
    let (status, _, said) = check(wrong, &[]);
    assert_eq!(status, 78, "{said}");
    for part in [
        "plan.toml: line 4: hour: ",
        "did you mean `hours`?",
        "plan.toml: line 8: below_percent: ",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let good = std::fs::read_to_string(sample("../plans/autumn-show.toml")).expect("read");
    let (status, said, _) = check(&good, &[]);
    assert!(
        status == 0 && said.contains("no mistakes in 5 limits"),
        "{said}"
    );
    let log = replayed("kinked-line", folder.path());
    let (status, said, _) = check(&good, &["--log", &log]);
    assert!(status == 0 && said.contains("those of the rig"), "{said}");
    let lost = good
        .replace("place = \"tank\"", "place = \"tnak\"")
        .replacen("\"all\"", "\"rear_lefft\"", 1);
    let (status, _, said) = check(&lost, &["--log", &log]);
    assert_eq!(status, 78, "{said}");
    for part in [
        "`rear_lefft`",
        "did you mean `rear_left`?",
        "`tnak`",
        "did you mean `tank`?",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
}
