//! `seep cars`: the logs of many cars, the most urgent first.

mod find;
mod judge;
mod overnight;
mod picture;
mod tables;

pub use find::FindError;

use crate::cache::Cache;
use crate::model::{
    Certainty, Clock, ClockState, DataHealth, Finding, Label, MadeFrom, Report, Section, Severity,
    Text, Verdict,
};
use crate::recording::SpanRequest;
use crate::text;
use judge::JudgedCar;
use seep_common::store::sha256_hex;
use std::path::{Path, PathBuf};

const TITLE: &str = "Ranking by urgency";

/// The ranking, and what could not be ranked.
#[derive(Debug)]
pub struct Ranked {
    /// The report.
    pub report: Report,
    /// Cars in it.
    pub judged: usize,
    /// Files that could not be read, each with the reason.
    pub unread: Vec<(String, String)>,
}

/// How the logs are read.
#[derive(Debug, Clone, Default)]
pub struct HowRead {
    /// Results of earlier runs.
    pub cache: Cache,
    /// For an answer on one screen: see [`Recording::in_brief`].
    pub is_brief: bool,
}

/// Judge every log of some folders; `jobs` at a time, or as many as there are processors.
///
/// The result does not depend on `jobs` or on the order in which folders are named.
///
/// # Errors
/// [`FindError`] when there is nothing to look at. A log that cannot be read is no error.
pub fn report(
    places: &[PathBuf],
    request: &SpanRequest,
    how: &HowRead,
    jobs: Option<usize>,
) -> Result<Ranked, FindError> {
    let found = find::find(places)?;
    let jobs = jobs.unwrap_or_else(crate::parallel::processors);
    let judged = judge::all(&found.logs, request, how, jobs);
    let mut cars = Vec::new();
    let mut unread = Vec::new();
    for (path, result) in found.logs.iter().zip(judged) {
        match result {
            Ok(car) => cars.push(car),
            Err(why) => {
                // The list names the file already.
                let named = format!("{}: ", path.display());
                let why = why.strip_prefix(&named).unwrap_or(&why).to_string();
                unread.push((shown(path), why));
            }
        }
    }
    let (mut cars, older) = newest_of_each(cars);
    cars.sort_by(by_urgency);
    let mut report = Report::new(
        "cars",
        TITLE,
        made_from(&cars, places),
        verdict(&cars, unread.len()),
        health(&cars),
    );
    report.findings = cars.iter().filter_map(worst_of).collect();
    report.sections = sections(&cars, &older, &unread);
    report.notes = notes(found.others);
    Ok(Ranked {
        report,
        judged: cars.len(),
        unread,
    })
}

/// The file's name with the folder it lies in: enough to find it, and the same
/// on every machine.
fn shown(path: &Path) -> String {
    let parts: Vec<_> = path.iter().collect();
    let last: PathBuf = parts[parts.len().saturating_sub(2)..].iter().collect();
    last.display()
        .to_string()
        .trim_start_matches('/')
        .to_string()
}

/// One log for each car: that which ends last. The others by name.
fn newest_of_each(mut cars: Vec<JudgedCar>) -> (Vec<JudgedCar>, Vec<(Label, PathBuf)>) {
    cars.sort_by_key(|c| std::cmp::Reverse(c.ends_ms()));
    let mut kept: Vec<JudgedCar> = Vec::new();
    let mut older = Vec::new();
    for car in cars {
        let key = |c: &JudgedCar| {
            let m = &c.report.made_from;
            (m.vehicle.clone(), m.rig_hash.clone())
        };
        if kept.iter().any(|k| key(k) == key(&car)) {
            older.push((car.report.made_from.vehicle.clone(), car.path));
        } else {
            kept.push(car);
        }
    }
    older.sort();
    (kept, older)
}

/// Severity, then the time left until a limit, then certainty, then name.
fn by_urgency(a: &JudgedCar, b: &JudgedCar) -> std::cmp::Ordering {
    let severity = |c: &JudgedCar| c.report.verdict.severity;
    let hours = |c: &JudgedCar| c.hours_left.unwrap_or(f64::INFINITY);
    let certainty = |c: &JudgedCar| c.report.verdict.certainty.percent.unwrap_or(0.0);
    severity(b)
        .cmp(&severity(a))
        .then(hours(a).total_cmp(&hours(b)))
        .then(certainty(b).total_cmp(&certainty(a)))
        .then_with(|| a.report.made_from.vehicle.cmp(&b.report.made_from.vehicle))
        .then_with(|| a.path.cmp(&b.path))
}

/// `2 of 5 cars ask for action and 1 for an eye on it. First Blue coupe: …`
fn verdict(cars: &[JudgedCar], unread: usize) -> Verdict {
    let missing = match unread {
        0 => String::new(),
        1 => " One log could not be read.".into(),
        n => format!(" {n} logs could not be read."),
    };
    let Some(first) = cars.first() else {
        return Verdict::unknown(format!("No car could be judged.{missing}"));
    };
    let count = |wanted: Severity| {
        let same = |c: &&JudgedCar| c.report.verdict.severity == wanted;
        cars.iter().filter(same).count()
    };
    let (all, act, watch) = (cars.len(), count(Severity::Act), count(Severity::Watch));
    let open = count(Severity::Unknown);
    let counts = if act + watch > 0 {
        format!("{act} of {} to act on, {watch} to watch", cars_word(all))
    } else if open > 0 {
        format!("No fault seen in {all} cars, but {open} of them cannot be judged yet")
    } else {
        format!("No fault seen in {}", cars_word(all))
    };
    let lead = if act + watch > 0 {
        let sentence = (first.worst()).map_or(&first.report.verdict.sentence, |f| &f.sentence);
        text![" First ", &first.report.made_from.vehicle, ": ", sentence]
    } else {
        Text::default()
    };
    Verdict {
        sentence: text![counts, ".", lead, missing],
        certainty: if act + watch + open > 0 {
            first.report.verdict.certainty
        } else {
            surest_bound(cars)
        },
        severity: first.report.verdict.severity,
    }
}

fn cars_word(n: usize) -> String {
    match n {
        1 => "1 car".into(),
        n => format!("{n} cars"),
    }
}

/// All cars are fine only as surely as the least sure of them.
fn surest_bound(cars: &[JudgedCar]) -> Certainty {
    cars.iter()
        .map(|c| c.report.verdict.certainty)
        .min_by(|a, b| {
            let p = |c: &Certainty| c.percent.unwrap_or(0.0);
            p(a).total_cmp(&p(b))
        })
        .unwrap_or(Certainty::OPEN)
}

/// What makes a car urgent, under the car's name.
fn worst_of(car: &JudgedCar) -> Option<Finding> {
    let worst = car.worst().filter(|f| f.severity > Severity::Unknown)?;
    let mut finding = worst.clone();
    finding.place = format!(
        "{}, {}",
        car.report.made_from.vehicle.as_written(),
        worst.place
    );
    Some(finding)
}

fn sections(
    cars: &[JudgedCar],
    older: &[(Label, PathBuf)],
    unread: &[(String, String)],
) -> Vec<Section> {
    let mut ranking = Section::new("ranking", "Cars");
    ranking.leads = true;
    ranking.plots.extend(picture::plot(cars));
    ranking.tables.push(tables::ranking(cars));
    let mut logs = Section::new("logs", "Logs");
    if !unread.is_empty() {
        logs.tables.push(tables::unread(unread));
    }
    logs.tables.push(tables::logs(cars));
    if !older.is_empty() {
        logs.tables.push(tables::older(older));
    }
    logs.tables.push(tables::hashes(cars));
    vec![ranking, logs]
}

fn notes(others: usize) -> Vec<Text> {
    let mut out = vec![
        "Order: urgency, then the time left until a limit of the rig, then certainty. “act” is to be \
         done something about, “watch” to be kept an eye on, “unknown” has too little data to tell."
            .into(),
        "All that was found on a car, with its plots: `seep diagnose --log` with its log.".into(),
    ];
    if others > 0 {
        let left = format!("Files that are no logs by name or content, left alone: {others}.");
        out.push(left.into());
    }
    out
}

fn made_from(cars: &[JudgedCar], places: &[PathBuf]) -> MadeFrom {
    let heads = || cars.iter().map(|c| &c.report.made_from);
    let folders: Vec<String> = places
        .iter()
        .map(|p| {
            let name = p.file_name().map(|n| n.to_string_lossy().into_owned());
            name.unwrap_or_else(|| p.display().to_string())
        })
        .collect();
    let invented = heads().filter(|m| m.invented.is_some()).count();
    let health = health(cars);
    MadeFrom {
        log_file: folders.join(", ").into(),
        log_sha256: hash_of_all(cars).into(),
        rig_hash: String::new().into(),
        vehicle: cars_word(cars.len()).into(),
        from: heads()
            .filter_map(|m| m.from.clone())
            .min_by_key(crate::model::WallTime::unix_ms),
        to: heads()
            .filter_map(|m| m.to.clone())
            .max_by_key(crate::model::WallTime::unix_ms),
        zone: heads()
            .next()
            .map_or_else(|| "UTC".into(), |m| m.zone.clone()),
        coverage: health.coverage,
        clock: health.clock.state,
        invented: match invented {
            0 => None,
            n if n == cars.len() => Some("invented data".into()),
            n => Some(format!("{n} of {} logs hold invented data", cars.len()).into()),
        },
        places: Vec::new(),
    }
}

/// SHA-256 over the lines `hash  name` of all logs in order of name: as
/// `sha256sum` prints them.
fn hash_of_all(cars: &[JudgedCar]) -> String {
    let mut lines: Vec<String> = cars
        .iter()
        .map(|c| {
            format!(
                "{}  {}\n",
                c.report.made_from.log_sha256.as_written(),
                shown(&c.path)
            )
        })
        .collect();
    lines.sort();
    sha256_hex(&lines.concat())
}

fn health(cars: &[JudgedCar]) -> DataHealth {
    let of =
        |pick: fn(&DataHealth) -> f64| cars.iter().map(|c| pick(&c.report.health)).sum::<f64>();
    let (span_s, recorded_s) = (of(|h| h.span_s), of(|h| h.recorded_s));
    let gaps: usize = cars
        .iter()
        .map(|c| c.report.health.gaps.len() + c.report.health.gaps_left_off as usize)
        .sum();
    let states = [
        ClockState::Unsynced,
        ClockState::Stepped,
        ClockState::AsRecorded,
    ];
    let clock_of = |c: &JudgedCar| c.report.health.clock.state;
    let worst = states
        .into_iter()
        .find(|state| cars.iter().any(|c| clock_of(c) == *state))
        .unwrap_or(ClockState::Synced);
    DataHealth {
        coverage: DataHealth::coverage_of(recorded_s, span_s),
        span_s,
        recorded_s,
        gaps_left_off: gaps as u64,
        clock: Clock {
            state: worst,
            within_s: None,
            remark: Some("That is the least sure clock of these logs.".into()),
        },
        ..DataHealth::default()
    }
}
