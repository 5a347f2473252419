//! The guard of instruction counts can fail: counts noted by itself pass, the
//! same halved do not, and those of another compiler are not judged.

use seep_tests::{code, run};
use std::fs;
use std::path::Path;

const GUARD: &str = env!("CARGO_BIN_EXE_instruction-count");

/// Exit code and both streams of the guard on its cheapest case.
fn guard(baseline: &Path, more: &[&str]) -> (i32, String) {
    let programs = Path::new(GUARD).parent().expect("a folder");
    let programs = programs.display().to_string();
    let baseline = baseline.display().to_string();
    let mut args = vec!["--only", "sessions", "--programs", &programs];
    args.extend(["--baseline", &baseline]);
    args.extend(more);
    let done = run(GUARD, &args);
    let said = [done.stdout.as_slice(), &done.stderr].concat();
    (code(&done), String::from_utf8_lossy(&said).into_owned())
}

#[test]
fn the_guard_of_instruction_counts_calls_out_growth() {
    let folder = tempfile::tempdir().expect("a folder");
    let baseline = folder.path().join("baseline.toml");
    let (noted, said) = guard(&baseline, &["--renew"]);
    if noted == 69 {
        eprintln!(
            "SKIPPED LOUDLY: the_guard_of_instruction_counts_calls_out_growth: {}",
            said.trim()
        );
        return;
    }
    assert_eq!(noted, 0, "{said}");
    let (same, said) = guard(&baseline, &[]);
    assert_eq!(same, 0, "{said}");

    let text = fs::read_to_string(&baseline).expect("written");
    let line = text.lines().find(|l| l.starts_with("sessions = "));
    let line = line.expect("the count of the case");
    let count: u64 = line["sessions = ".len()..].parse().expect("a count");
    let halved = text.replace(line, &format!("sessions = {}", count / 2));
    fs::write(&baseline, halved).expect("written");
    let (grown, said) = guard(&baseline, &[]);
    assert_eq!(grown, 1, "{said}");
    assert!(said.contains("GROWN"), "{said}");

    fs::write(&baseline, text.replace(line, "")).expect("written");
    let (unknown, said) = guard(&baseline, &[]);
    assert_eq!(unknown, 1, "{said}");

    fs::write(&baseline, text.replace("rustc ", "rustc 0.")).expect("written");
    let (other, said) = guard(&baseline, &[]);
    assert_eq!(other, 69, "{said}");
    assert!(said.contains("not judged"), "{said}");

    fs::write(&baseline, "no counts").expect("written");
    let (garbage, said) = guard(&baseline, &[]);
    assert_eq!(garbage, 65, "{said}");
}
