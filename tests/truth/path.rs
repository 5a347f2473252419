//! The way of a log: simulator, recorder, report.

use seep_report::digest::Digest;
use seep_report::judgement::Judgement;
use seep_report::recording::{Recording, SpanRequest};
use seep_sample_logs::scenario::Scenario;
use seep_sample_logs::truth::Truth;
use seep_sample_logs::{Logs, files};
use std::ffi::OsString;
use std::path::Path;

/// A recorded and judged log.
#[derive(Debug)]
pub(crate) struct Judged {
    /// What the report concludes.
    pub judgement: Judgement,
    /// Log time minus wall time of the start, ms: 0 for a replayed log.
    pub shift_ms: i64,
}

/// Simulate a car and record its logs by `seepd replay` into `trip.db` of the
/// folder; what is there already is taken as it is.
///
/// # Panics
/// When recorder or folder refuse: that is a fault the bench must not hide.
pub(crate) fn logged(car: &Scenario, folder: &Path) -> Truth {
    // The truth file leaves out what air leaked minute by minute.
    let leaked = folder.join("leaked.json");
    if folder.join("trip.db").exists() {
        let read = |path: &Path| std::fs::read(path).expect("a kept log has its truth");
        let mut truth: Truth =
            serde_json::from_slice(&read(&folder.join(files::TRUTH))).expect("a truth");
        truth.leaked = serde_json::from_slice(&read(&leaked)).expect("amounts");
        return truth;
    }
    let logs = seep_sample_logs::generate(car);
    std::fs::create_dir_all(folder).expect("a folder can be made");
    let rows = serde_json::to_vec(&logs.truth.leaked).expect("finite amounts");
    std::fs::write(&leaked, rows).expect("the scratch folder takes files");
    record(&logs, folder);
    for raw in [files::BUS, logs.box_file()] {
        std::fs::remove_file(folder.join(raw)).expect("the scratch folder is ours");
    }
    logs.truth
}

fn record(logs: &Logs, folder: &Path) {
    logs.write(folder).expect("the scratch folder takes files");
    // Named when it is whole: a run that was cut short leaves no half log.
    let part = folder.join("part.db");
    let _ = std::fs::remove_file(&part);
    let at = |name: &str| folder.join(name).into_os_string();
    let mut args: Vec<OsString> = vec![
        "seepd".into(),
        "replay".into(),
        "--rig".into(),
        at(files::RIG),
        "--log".into(),
        part.clone().into_os_string(),
    ];
    // A bus that says nothing is not in the rig.
    if logs.rig_toml.contains("socketcan") {
        args.push(at(files::BUS));
    }
    args.push(at(logs.box_file()));
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = seep_daemon::main_with(args.into_iter(), &mut out, &mut err);
    assert_eq!(code, 0, "seepd: {}", String::from_utf8_lossy(&err));
    std::fs::rename(part, folder.join("trip.db")).expect("the scratch folder is ours");
}

/// Judge a log as `seep trip` does.
///
/// # Panics
/// When the report cannot read it.
pub(crate) fn judge_log(log: &Path) -> Judged {
    let recording = Recording::open(log, &SpanRequest::default()).expect("the log opens");
    let start = recording.sessions[0].start.t_ms;
    let wall = recording.clock.wall_ms(start).unwrap_or(start);
    let digest = Digest::build(&recording, |_| {}).expect("the log can be read");
    let judgement = Judgement::of(&digest, &recording.rig);
    Judged {
        judgement,
        shift_ms: start - wall,
    }
}

/// The findings as `seep trip --format json` prints them: kind and place.
///
/// # Panics
/// When the program refuses.
pub(crate) fn printed_findings(log: &Path, folder: &Path) -> Vec<(String, String)> {
    let out = folder.join("trip.json");
    let args: [OsString; 8] = [
        "seep".into(),
        "trip".into(),
        "--log".into(),
        log.into(),
        "--format".into(),
        "json".into(),
        "--out".into(),
        out.clone().into_os_string(),
    ];
    assert_eq!(seep_report::run(args), 0, "seep trip");
    let text = std::fs::read_to_string(out).expect("the report was written");
    let report: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let word = |f: &serde_json::Value, key: &str| f[key].as_str().unwrap_or("").to_string();
    let findings = report["findings"].as_array().cloned().unwrap_or_default();
    findings
        .iter()
        .map(|f| (word(f, "kind"), word(f, "place")))
        .collect()
}

/// Net loss of a volume between two times, from the truth, ANR L.
pub(crate) fn true_loss_l(truth: &Truth, place: &str, from_ms: i64, to_ms: i64) -> f64 {
    at(truth, place, to_ms) - at(truth, place, from_ms)
}

fn at(truth: &Truth, place: &str, t_ms: i64) -> f64 {
    let rows = &truth.leaked;
    let after = rows.partition_point(|r| r.t_ms <= t_ms);
    let value = |i: usize| rows[i].anr_l[place];
    if after == 0 {
        return value(0);
    }
    if after == rows.len() {
        return value(after - 1);
    }
    let (a, b) = (&rows[after - 1], &rows[after]);
    let share = (t_ms - a.t_ms) as f64 / (b.t_ms - a.t_ms) as f64;
    value(after - 1) + share * (value(after) - value(after - 1))
}
