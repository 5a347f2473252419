//! Valves without wires: what the pressures tell of them, against the wired
//! channels of the same simulated log. Invented data.

use seep_common::store::{EventKind, Reader};
use seep_common::time::LogMs;
use seep_tests::{replay_in_process, sample, without_switches};
use std::path::Path;

/// Stretches in which something was open or ran: kind, place, from, to.
type Stretch = (EventKind, String, i64, i64);

fn stretches(log: &Path) -> (Vec<Stretch>, bool) {
    let reader = Reader::open(log).expect("a log");
    let events = reader.events(LogMs::MIN, LogMs::MAX).expect("read");
    let wired = events.iter().any(|e| e.wired);
    let mut open = std::collections::BTreeMap::new();
    let mut found = Vec::new();
    for e in events {
        let key = (e.kind, e.place.clone());
        if e.on {
            open.insert(key, e.t_ms.0);
        } else if let Some(from) = open.remove(&key) {
            found.push((e.kind, e.place, from, e.t_ms.0));
        }
    }
    (found, wired)
}

fn same(a: &Stretch, b: &Stretch) -> bool {
    a.0 == b.0 && a.1 == b.1 && a.2 < b.3 + 2_000 && b.2 < a.3 + 2_000
}

#[test]
fn most_moves_are_seen_in_the_pressures_and_marked_inferred() {
    let folder = tempfile::tempdir().expect("scratch");
    let logs = sample("kinked-line");
    let inputs = [logs.join("bus.candump.log"), logs.join("box.nmea.log")];
    let inputs: Vec<&Path> = inputs.iter().map(std::path::PathBuf::as_path).collect();
    let rig = std::fs::read_to_string(logs.join("rig.toml")).expect("rig");
    let bare_rig = folder.path().join("rig.toml");
    std::fs::write(&bare_rig, without_switches(&rig)).expect("written");

    let (wired_log, bare_log) = (
        folder.path().join("wired.db"),
        folder.path().join("bare.db"),
    );
    for (rig, log) in [(&logs.join("rig.toml"), &wired_log), (&bare_rig, &bare_log)] {
        let (code, said) = replay_in_process(rig, log, &inputs);
        assert_eq!(code, 0, "{said}");
    }
    let (wired, is_wired) = stretches(&wired_log);
    let (inferred, is_wired_too) = stretches(&bare_log);
    assert!(is_wired && !is_wired_too);
    for kind in [EventKind::Fill, EventKind::Dump, EventKind::Run] {
        let of = |all: &[Stretch]| -> Vec<Stretch> {
            all.iter().filter(|s| s.0 == kind).cloned().collect()
        };
        let (truth, seen) = (of(&wired), of(&inferred));
        let found = truth
            .iter()
            .filter(|w| seen.iter().any(|i| same(w, i)))
            .count();
        let feigned = seen
            .iter()
            .filter(|i| !truth.iter().any(|w| same(w, i)))
            .count();
        println!(
            "{}: {} wired, {found} of them seen, {feigned} feigned",
            kind.word(),
            truth.len()
        );
        // Off its stops a corner takes air with hardly any rise of pressure:
        // small moves cannot be seen there, whoever looks.
        assert!(found * 2 >= truth.len(), "{}", kind.word());
        assert!(feigned * 5 <= seen.len(), "{}", kind.word());
    }
}
