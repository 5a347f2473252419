//! Bad input: a clear message, a documented exit code, nothing written over.

use super::{SEEP, SEEPD};
use seep_tests::scratch::{listing, scratch};
use seep_tests::seeded::Seeded;
use seep_tests::{code, replay_in_process, run, sample};

fn said(done: &std::process::Output) -> String {
    String::from_utf8_lossy(&done.stderr).into_owned()
}

/// Random bytes, bare and strewn into real logs: refused, or recorded as far as
/// they can be read; never a crash.
#[test]
fn random_bytes_as_input_never_crash_a_replay() {
    let mut seeded = Seeded::new(1);
    let rig = sample("kinked-line").join("rig.toml");
    let logs = ["bus.candump.log", "box.nmea.log"].map(|file| {
        std::fs::read(sample("kinked-line").join(file)).expect("log")[..40_000].to_vec()
    });
    for round in 0..60 {
        let folder = scratch();
        let (input, log) = (folder.path().join("in.log"), folder.path().join("out.db"));
        let bytes = match round % 3 {
            0 => {
                let n = seeded.below(50_000);
                seeded.bytes(n)
            }
            one_or_two => {
                let mut bytes = logs[one_or_two - 1].clone();
                for _ in 0..1 + seeded.below(200) {
                    let at = seeded.below(bytes.len());
                    bytes[at] = seeded.bits() as u8;
                }
                bytes
            }
        };
        std::fs::write(&input, &bytes).expect("written");
        let (code, said) = replay_in_process(&rig, &log, &[&input]);
        assert!(
            code == 65 || (code == 0 && round % 3 > 0),
            "{round}: {said}"
        );
        assert_eq!(log.exists(), code == 0, "{round}: {said}");
        assert!(std::fs::read(&input).expect("there") == bytes);
        assert_eq!(listing(folder.path()).len(), 1 + usize::from(code == 0));
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

/// A BLF file (its signature and an empty head; layout from memory): refused by name,
/// with the command that converts it, and no log is begun.
#[test]
fn a_blf_log_is_refused_with_the_way_to_convert_it() {
    let folder = scratch();
    let (input, log) = (folder.path().join("trip.blf"), folder.path().join("out.db"));
    let mut bytes = b"LOGG".to_vec();
    bytes.extend(144_u32.to_le_bytes());
    bytes.resize(144, 0);
    std::fs::write(&input, &bytes).expect("written");
    let at = |path: &std::path::Path| path.display().to_string();
    let rig = at(&sample("kinked-line").join("rig.toml"));
    let (name, log_name) = (at(&input), at(&log));
    let commands: [&[&str]; 2] = [
        &["replay", "--rig", &rig, "--log", &log_name, &name],
        &["listen", &name],
    ];
    for command in commands {
        let done = run(SEEPD, command);
        let said = said(&done);
        assert_eq!(code(&done), 65, "{command:?}: {said}");
        for part in ["trip.blf", "BLF", "python3 -m can.logconvert"] {
            assert!(said.contains(part), "{command:?}: {part}: {said}");
        }
        assert!(!log.exists(), "{command:?}");
    }
}
