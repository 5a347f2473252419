//! Rigs and bus databases with mistakes: exit code 78 (66 for a missing file),
//! and a message with file, line, key and remedy. Nothing is recorded.

use seep_tests::scratch::{listing, scratch};
use seep_tests::seeded::Seeded;
use seep_tests::{replay_in_process, sample, seepd_in_process};

fn good_rig() -> String {
    std::fs::read_to_string(sample("kinked-line").join("rig.toml")).expect("rig")
}

/// The text twice: from `[[name` to the next table.
fn doubled(text: &str, name: &str) -> String {
    let start = text.find(&format!("[[{name}]]")).expect("there");
    let end = text[start + 2..].find("\n[").expect("another") + start + 3;
    text.replacen(&text[start..end], &text[start..end].repeat(2), 1)
}

/// `check` and `replay` refuse a rig with the same message and leave everything
/// as it was; returns the message.
fn refused(rig: impl AsRef<[u8]>, database: Option<&[u8]>, code: u8) -> String {
    let folder = scratch();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("rig.toml"), rig).expect("written");
    if let Some(bytes) = database {
        std::fs::write(at("box.dbc"), bytes).expect("written");
    }
    let before = listing(folder.path());
    let args = ["seepd".into(), "check".into(), "--rig".into()].into_iter();
    let checked = seepd_in_process(args.chain([at("rig.toml").into_os_string()]));
    let bus = sample("kinked-line").join("bus.candump.log");
    let replayed = replay_in_process(&at("rig.toml"), &at("out.db"), &[&bus]);
    assert_eq!(checked, replayed);
    assert_eq!(checked.0, code, "{}", checked.1);
    assert!(listing(folder.path()) == before);
    checked.1
}

/// Every word is in the message, the file and a line number too.
fn says(said: &str, file: &str, words: &[&str]) {
    for word in words.iter().chain(&[file, "line "]) {
        assert!(said.contains(word), "`{word}` is not in: {said}");
    }
}

#[test]
fn a_rig_with_a_mistake_is_refused_with_line_key_and_remedy() {
    let good = good_rig();
    let new = |old: &str, new: &str| good.replacen(old, new, 1);
    let cases: [(String, &[&str]); 14] = [
        (
            new("volume_l", "volum_l"),
            &["volum_l", "did you mean `volume_l`?"],
        ),
        (
            new("volume_l = ", "volume_l = -"),
            &["tank.volume_l", "is not a number above 0", "give the size"],
        ),
        (
            doubled(&good, "channel"),
            &["channel.name", "declared twice", "remove one"],
        ),
        (
            doubled(&good, "source"),
            &["source.name", "used twice", "its own name"],
        ),
        (
            new("source = \"box\"", "source = \"bx\""),
            &[
                "channel.source",
                "`bx` is not a source",
                "did you mean `box`?",
            ],
        ),
        (
            new("volume_l = 19.0", "volume_l = \"big\""),
            &["expected f64", "correct the value"],
        ),
        (new("[tank]", "[tank"), &["unclosed table", "correct"]),
        (
            new("volume_l = 19.0", "volume_l = 19.0\nvolume_l = 20.0"),
            &["duplicate key", "correct"],
        ),
        (
            new("altitude_m = 180.0", "altitude_m = inf"),
            &["vehicle.altitude_m", "inf cannot be meant"],
        ),
        (
            new("volume_l = 19.0", "volume_l = 1e300"),
            &["tank.volume_l", "cannot be meant", "give a number"],
        ),
        (
            new("[[channel]]", "[[channel]]\nresolution = 1e-11"),
            &["channel.resolution", "too fine", "give the step"],
        ),
        (
            good.clone() + "\n[recorder]\nfull_rate_hz = 1e9\n",
            &["recorder.full_rate_hz", "is not from 0.01 to 1000"],
        ),
        (
            new("builtin:j1939-air", "builtin:j1939-water"),
            &["source.dbc", "not built in", "give a DBC file"],
        ),
        (String::new(), &["vehicle", "missing", "add it"]),
    ];
    for (rig, words) in &cases {
        says(&refused(rig, None, 78), "rig.toml", words);
    }
}

#[test]
fn a_table_source_is_checked_before_a_table_is_read() {
    let table = |key: &str| {
        good_rig() + "\n[[source]]\nname = \"tab\"\nkind = \"csv\"\ntime_column = \"t\"\n" + key
    };
    for (key, words) in [
        ("zone = \"Mars/Base\"", ["Mars/Base", "IANA"]),
        ("time_format = \"%H:%M\"", ["%H:%M", "whole date"]),
        ("delimiter = \"€\"", ["source.delimiter", "use one of"]),
        ("delimiter = \"\\n\"", ["source.delimiter", "use one of"]),
    ] {
        says(&refused(table(key), None, 78), "rig.toml", &words);
    }
}

#[test]
fn a_missing_database_is_named_with_its_place_in_the_rig() {
    let rig = good_rig().replacen("builtin:j1939-air", "gone.dbc", 1);
    let said = refused(rig, None, 66);
    says(
        &said,
        "rig.toml",
        &["source.dbc", "gone.dbc", "correct the name"],
    );
}

const BUS_RIG: &str = r#"[vehicle]
name = "invented"
[[source]]
name = "bus"
kind = "socketcan"
dbc = ["box.dbc"]
[[channel]]
name = "tank_kpa_gauge"
source = "bus"
signal = "BOX.Tank"
"#;

fn database(signal: &str) -> Vec<u8> {
    format!("VERSION \"\"\n\nBO_ 291 BOX: 8 X\n {signal}\n").into_bytes()
}

#[test]
fn a_database_with_a_mistake_is_refused_with_line_and_remedy() {
    let cases: [(&str, &[&str]); 8] = [
        (
            "SG_ Tank : 0|16@1+ (0.1 0) [0|0] \"kPa\" X",
            &["line 4", "not understood", "correct or remove"],
        ),
        (
            "SG_ Tank : 56|16@1+ (0.1,0) [0|0] \"kPa\" X",
            &[
                "line 4",
                "`BOX.Tank`",
                "needs 9 bytes",
                "correct the length",
            ],
        ),
        (
            "SG_ Tank : 0|65@1+ (0.1,0) [0|0] \"kPa\" X",
            &["line 4", "65 bits", "1 to 64"],
        ),
        (
            "SG_ Tnk : 0|16@1+ (0.1,0) [0|0] \"kPa\" X",
            &["no signal `BOX.Tank`", "did you mean `BOX.Tnk`?"],
        ),
        (
            "SG_ Tank : 0|16@1+ (0,0) [0|0] \"kPa\" X",
            &["line 4", "factor 0", "correct them"],
        ),
        (
            "SG_ Tank : 0|16@1+ (1e400,0) [0|0] \"kPa\" X",
            &["line 4", "factor inf", "correct them"],
        ),
        (
            "SG_ Tank : 99999999999999999999|16@1+ (1,0) [0|0] \"kPa\" X",
            &["line 4", "99999999999999999999", "correct the value"],
        ),
        (
            "SG_ Tank : 0|16@1+ (1,0) [0|0] \"km\" X",
            &["`km`", "add `unit`"],
        ),
    ];
    for (signal, words) in cases {
        let said = refused(BUS_RIG, Some(&database(signal)), 78);
        // A unit that does not fit is a matter of the rig.
        let of_rig = signal.contains("km");
        says(&said, if of_rig { "rig.toml" } else { "box.dbc" }, words);
    }
    let other_message = b"BO_ 291 BUX: 8 X\n SG_ Tank : 0|16@1+ (1,0) [0|0] \"kPa\" X\n";
    let said = refused(BUS_RIG, Some(other_message), 78);
    says(
        &said,
        "rig.toml",
        &["tank_kpa_gauge", "did you mean `BUX.Tank`?"],
    );
    says(&refused(BUS_RIG, Some(b""), 78), "box.dbc", &["no message"]);
}

/// Signals that share a bit can both be decoded, so they are told, not refused.
#[test]
fn overlapping_signals_are_told_with_file_and_line() {
    let folder = scratch();
    let rig = folder.path().join("rig.toml");
    let text = database(
        "SG_ Tank : 0|16@1+ (0.1,0) [0|0] \"kPa\" X\n SG_ Other : 8|16@1+ (1,0) [0|0] \"kPa\" X",
    );
    std::fs::write(&rig, BUS_RIG).expect("written");
    std::fs::write(folder.path().join("box.dbc"), text).expect("written");
    let args = ["seepd".into(), "check".into(), "--rig".into(), rig.into()];
    let (code, said) = seepd_in_process(args.into_iter());
    assert_eq!(code, 0, "{said}");
    let note = "box.dbc: line 5: `BOX.Other` overlaps `BOX.Tank`";
    assert!(said.contains(note), "{said}");
}

#[test]
fn random_bytes_as_rig_or_database_are_refused() {
    let mut seeded = Seeded::new(2);
    for _ in 0..50 {
        let n = seeded.below(4_000);
        let noise = seeded.bytes(n);
        let said = refused(&noise, None, 78);
        assert!(said.contains("rig.toml: line "), "{said}");
        let said = refused(BUS_RIG, Some(&noise), 78);
        assert!(said.contains("box.dbc: line "), "{said}");
    }
}
