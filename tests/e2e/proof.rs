//! `seep proof`: a plan against simulated cars whose faults are known.

use super::{SEEP, replayed};
use seep_tests::{code, run, sample};
use serde_json::Value;
use std::path::Path;

fn show_plan() -> String {
    sample("../plans/autumn-show.toml").display().to_string()
}

fn proof(log: &str, plan: &str, more: &[&str]) -> (i32, String, String) {
    let mut args = vec!["proof", "--log", log, "--plan", plan, "--zone", "UTC"];
    args.extend(more);
    let done = run(SEEP, &args);
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (code(&done), text(&done.stdout), text(&done.stderr))
}

fn json(log: &str, plan: &str) -> Value {
    let (code, out, err) = proof(log, plan, &["--format", "json"]);
    assert_eq!(code, 0, "{err}");
    serde_json::from_str(&out).expect("JSON")
}

/// The verdict column by place and demand.
fn verdicts(report: &Value) -> Vec<(String, String, String)> {
    let rows = report["sections"][0]["tables"][0]["rows"]
        .as_array()
        .expect("rows");
    let word = |row: &Value, i: usize| row[i]["text"].as_str().expect("text").to_string();
    rows.iter()
        .map(|r| (word(r, 0), word(r, 1), word(r, 2)))
        .collect()
}

#[test]
fn a_healthy_car_passes_and_the_print_can_be_signed() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("healthy-road-trip", folder.path());
    let report = json(&log, &show_plan());
    assert_eq!(
        report["verdict"]["severity"],
        "fine",
        "{:?}",
        verdicts(&report)
    );
    assert_eq!(verdicts(&report).len(), 16);
    assert_eq!(proof(&log, &show_plan(), &["--fail-on-finding"]).0, 0);
    let (_, page, _) = proof(&log, &show_plan(), &["--format", "html"]);
    assert!(page.contains("Signature") && page.contains("Witness"));
}

/// The rules of ASTM E2930 (10:1 resolution, 4:1 accuracy, rigid vessels) stand with each
/// hold; a limit of half a count fails both, and passes nothing.
#[test]
fn resolution_and_accuracy_are_set_against_what_a_hold_allows() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("healthy-road-trip", folder.path());
    let rows = |plan: &str| -> Vec<(String, String, String, String)> {
        let report = json(&log, plan);
        let sections = report["sections"].as_array().expect("sections");
        let section = sections.iter().find(|s| s["id"] == "test-rig");
        let rows = section.expect("a section")["tables"][0]["rows"].clone();
        let word = |row: &Value, i: usize| row[i]["text"].as_str().unwrap_or("").to_string();
        let rows = rows.as_array().expect("rows").clone();
        rows.iter()
            .map(|r| (word(r, 0), word(r, 3), word(r, 5), word(r, 6)))
            .collect()
    };
    let plan = |kpa: f64| {
        let path = folder.path().join(format!("{kpa}.toml"));
        let text = format!(
            "name = \"invented\"\n[[hold]]\nplace = \"tank\"\nhours = 12\nwithin_kpa = {kpa}\n"
        );
        std::fs::write(&path, text).expect("plan");
        path.display().to_string()
    };
    let wide = rows(&plan(80.0));
    println!("80 kPa in 12 h: {wide:?}");
    assert!(wide[0].1.starts_with("yes") && wide[0].2.starts_with("yes"));
    let narrow = rows(&plan(0.02));
    println!("0.02 kPa in 12 h: {narrow:?}");
    assert!(narrow[0].1.starts_with("NO") && narrow[0].2.starts_with("NO"));
    let corners = rows(&show_plan());
    println!("show: {corners:?}");
    assert!(
        corners
            .iter()
            .all(|r| r.0 == "tank" || r.3.contains("outside the practice"))
    );
}

#[test]
fn a_leaking_corner_fails_its_hold_and_nothing_else() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let report = json(&log, &show_plan());
    let failed: Vec<_> = verdicts(&report)
        .into_iter()
        .filter(|v| v.2 != "pass")
        .collect();
    let expected = (
        "rear right".to_string(),
        "fall over 12 h".to_string(),
        "FAIL".to_string(),
    );
    assert_eq!(failed, [expected]);
    assert_eq!(report["verdict"]["severity"], "act");
    assert_eq!(proof(&log, &show_plan(), &["--fail-on-finding"]).0, 1);
}

/// More is asked than two days can show: neither pass nor fail.
#[test]
fn what_was_not_recorded_proves_nothing() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("healthy-road-trip", folder.path());
    let plan = folder.path().join("plan.toml");
    let text = "name = \"invented\"\n[[hold]]\nplace = \"tank\"\nhours = 1000\nwithin_kpa = 5000\n\
                [[cycle]]\nplace = \"all\"\ntimes = 500\nfill_under_s = 60\n\
                [[duty]]\ncompressor = \"all\"\nbelow_percent = 30\nwindow_min = 9999\n";
    std::fs::write(&plan, text).expect("written");
    let plan = plan.display().to_string();
    let report = json(&log, &plan);
    assert_eq!(report["verdict"]["severity"], "unknown");
    assert!(
        verdicts(&report)
            .iter()
            .all(|v| v.2 == "not enough evidence"),
        "{report}"
    );
    assert_eq!(
        proof(&log, &plan, &["--fail-on-finding"]).0,
        1,
        "no pass without evidence"
    );
}

#[test]
fn mistakes_in_a_plan_are_named() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("kinked-line", folder.path());
    let plan = folder.path().join("plan.toml");
    let write = |path: &Path, text: &str| std::fs::write(path, text).expect("written");
    write(
        &plan,
        "name = \"x\"\n[[hold]]\nplace = \"all\"\nhour = 3\nwithin_mm = 1\n",
    );
    let (code, _, said) = proof(&log, &plan.display().to_string(), &[]);
    assert!(
        code == 78 && said.contains("line 4") && said.contains("hours"),
        "{said}"
    );
    write(
        &plan,
        "name = \"x\"\n[[hold]]\nplace = \"rear_lefft\"\nhours = 3\nwithin_mm = 1\n",
    );
    let (code, _, said) = proof(&log, &plan.display().to_string(), &[]);
    assert!(code == 78 && said.contains("rear_left"), "{said}");
    assert_eq!(proof(&log, "/none/plan.toml", &[]).0, 66);
}
