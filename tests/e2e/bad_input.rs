//! Bad input: a clear message, a documented exit code, nothing written over.

use super::{SEEP, SEEPD};
use seep_tests::{code, run, sample};

fn said(done: &std::process::Output) -> String {
    String::from_utf8_lossy(&done.stderr).into_owned()
}

#[test]
fn a_rig_with_mistakes_is_refused_with_line_and_remedy() {
    let folder = tempfile::tempdir().expect("scratch");
    let good = std::fs::read_to_string(sample("kinked-line").join("rig.toml")).expect("rig");
    let rig = folder.path().join("rig.toml");
    let log = folder.path().join("out.db");
    let bus = sample("kinked-line").join("bus.candump.log");
    for (bad, word) in [
        (
            good.replacen("volume_l", "volum_l", 1),
            "did you mean `volume_l`?",
        ),
        (
            good.replacen("volume_l = ", "volume_l = -", 1),
            "is not a number above 0",
        ),
    ] {
        std::fs::write(&rig, bad).expect("written");
        let path = rig.display().to_string();
        let checked = run(SEEPD, &["check", "--rig", &path]);
        assert_eq!(code(&checked), 78);
        assert!(
            said(&checked).contains(word) && said(&checked).contains("line "),
            "{}",
            said(&checked)
        );
        let out = log.display().to_string();
        let done = run(
            SEEPD,
            &[
                "replay",
                "--rig",
                &path,
                "--log",
                &out,
                &bus.display().to_string(),
            ],
        );
        assert_eq!(code(&done), 78);
        assert!(!log.exists());
    }
}

#[test]
fn noise_and_foreign_files_leave_no_log() {
    let folder = tempfile::tempdir().expect("scratch");
    let noise = folder.path().join("noise.bin");
    let bytes: Vec<u8> = (0..200_000u32)
        .map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8)
        .collect();
    std::fs::write(&noise, bytes).expect("written");
    let rig = sample("kinked-line").join("rig.toml").display().to_string();
    let log = folder.path().join("out.db");
    let out = log.display().to_string();
    let done = run(
        SEEPD,
        &[
            "replay",
            "--rig",
            &rig,
            "--log",
            &out,
            &noise.display().to_string(),
        ],
    );
    assert_eq!(code(&done), 65, "{}", said(&done));
    assert!(!log.exists());
    let done = run(SEEP, &["trip", "--log", &noise.display().to_string()]);
    assert_eq!(code(&done), 65, "{}", said(&done));
    let done = run(SEEP, &["trip", "--log", "/none/such.db"]);
    assert_eq!(code(&done), 66);
}

#[test]
fn an_existing_file_is_never_written_over() {
    let folder = tempfile::tempdir().expect("scratch");
    let kept = folder.path().join("kept.db");
    std::fs::write(&kept, "mine").expect("written");
    let rig = sample("kinked-line").join("rig.toml").display().to_string();
    let wire = sample("kinked-line")
        .join("box.nmea.log")
        .display()
        .to_string();
    let path = kept.display().to_string();
    for extra in [&[][..], &["--append"][..]] {
        let mut args = vec!["replay", "--rig", &rig, "--log", &path];
        args.extend(extra);
        args.push(&wire);
        assert!(code(&run(SEEPD, &args)) >= 65);
        assert_eq!(std::fs::read(&kept).expect("there"), b"mine");
    }
}
