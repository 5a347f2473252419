//! Marks that hide in text or turn it round, in the name of a vehicle: no output
//! passes them on.

use super::{SEEP, SEEPD};
use seep_tests::scratch::scratch;
use seep_tests::{code, run, sample};

/// Right-to-left override, zero-width space, left-to-right isolate.
const MARKS: [char; 3] = ['\u{202e}', '\u{200b}', '\u{2066}'];

#[test]
fn no_output_passes_a_hidden_mark_on() {
    let folder = scratch();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let sound = std::fs::read_to_string(sample("kinked-line").join("rig.toml")).expect("rig");
    let marks: String = MARKS.iter().collect();
    let rig = sound.replacen("name = \"", &format!("name = \"{marks}"), 1);
    std::fs::write(at("rig.toml"), &rig).expect("written");
    let input = sample("kinked-line").join("bus.candump.log");
    let (input, log) = (input.display().to_string(), at("trip.db"));
    let rig = at("rig.toml");
    let mut done = vec![
        run(SEEPD, &["check", "--rig", &rig]),
        run(SEEPD, &["replay", "--rig", &rig, "--log", &log, &input]),
    ];
    for format in ["text", "html", "json", "csv"] {
        done.push(run(SEEP, &["trip", "--log", &log, "--format", format]));
        done.push(run(SEEP, &["sessions", "--log", &log, "--format", format]));
    }
    for form in ["csv", "json"] {
        let table = [
            "export", "--log", &log, "--table", "sessions", "--format", form,
        ];
        done.push(run(SEEP, &table));
    }
    for (i, output) in done.iter().enumerate() {
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("UTF-8");
        let (out, err) = (text(&output.stdout), text(&output.stderr));
        assert_eq!(code(output), 0, "{i}: {err}");
        assert!(!out.contains(MARKS) && !err.contains(MARKS), "output {i}");
    }
    // The name did reach the reports: its marks are there, written out.
    let json = String::from_utf8_lossy(&done[6].stdout);
    assert!(json.contains("\\u202e"), "the name is not in the JSON");
}
