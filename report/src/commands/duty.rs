//! `seep duty`: how much the compressor runs.

use super::{and_elsewhere, findings_of, head, judged, ledger, switching, verdict_of};
use crate::analysis::delivery::DeliveryTrend;
use crate::analysis::diagnose::{WEAR_TO_SHOW_PERCENT, wear_seen_from_percent, wear_shown_after};
use crate::analysis::duty::{
    LEAST_COVERAGE, RunStatistics, Timeline, WindowDuty, run_statistics, whole, worst_window,
};
use crate::conclusion::Topic;
use crate::digest::{CompressorDigest, Digest};
use crate::findings::{measured, place_words};
use crate::judgement::Judgement;
use crate::model::{
    Bar, BarPlot, Cell, Column, Finding, Measured, Plot, ReferenceLine, Report, Section, Severity,
    Table, Unit, Verdict,
};
use crate::recording::{Recording, RecordingError};
use crate::render::{capital_words, duration_words};
use crate::text;
use seep_common::rig::Rig;

/// The report.
///
/// # Errors
/// The log's errors.
pub fn report(recording: &Recording) -> Result<Report, RecordingError> {
    let (digest, judgement) = judged(recording)?;
    let findings = findings_of(&judgement, &[Topic::Compressor, Topic::Ledger]);
    let verdict = verdict(&findings, &digest, &recording.rig);
    let verdict = and_elsewhere(verdict, &findings, &judgement);
    let mut report = head::judged_report(
        recording,
        &digest,
        "duty",
        "Compressor duty",
        verdict,
        findings,
    );
    report
        .sections
        .push(summary(recording, &digest, &judgement));
    report
        .sections
        .push(ledger::section(recording, &digest, &judgement));
    report.notes.push(
        "Duty is running time over known time (IEC 60034-1, S3). Unknown time counts on neither side \
         and shows as coverage; a worst window counts only with 80 % of it known."
            .into(),
    );
    Ok(report)
}

fn verdict(findings: &[Finding], digest: &Digest, rig: &Rig) -> Verdict {
    if let Some(first) = verdict_of(findings) {
        return first;
    }
    if rig.compressors.is_empty() {
        return Verdict::unknown("The rig names no compressor, so there is no duty to tell.");
    }
    let known = |c: &&CompressorDigest| whole(&c.timeline).is_some();
    if !digest.compressors.iter().any(|c| known(&c)) {
        return Verdict::unknown("No compressor state was recorded in this span.");
    }
    if let Some(sentence) = too_little(digest, rig) {
        return Verdict::unknown(&sentence);
    }
    let all: Vec<(String, f64)> = digest
        .compressors
        .iter()
        .filter_map(|c| Some((c.place.clone(), whole(&c.timeline)?.percent()?)))
        .collect();
    Verdict::new(Severity::Fine, 0.95, sentence(&all, rig))
}

/// What is missing before a duty can be called fine: a window of the rating, known well
/// enough, of every compressor.
fn too_little(digest: &Digest, rig: &Rig) -> Option<String> {
    let open: Vec<String> = rig
        .compressors
        .iter()
        .filter_map(|compressor| {
            let own = digest
                .compressors
                .iter()
                .find(|c| c.place == compressor.name);
            let timeline = own.map(|c| &c.timeline);
            let window_s = 60.0 * compressor.rated_window_min;
            if timeline.is_some_and(|t| worst_window(t, window_s).is_some()) {
                return None;
            }
            Some(format!(
                "the state of {} is known for {}, and a window of {} needs {} of it",
                place_words(&compressor.name),
                duration_words(timeline.map_or(0.0, known_s)),
                duration_words(window_s),
                duration_words(LEAST_COVERAGE * window_s)
            ))
        })
        .collect();
    (!open.is_empty()).then(|| format!("Too little to tell: {}.", open.join("; ")))
}

fn known_s(timeline: &Timeline) -> f64 {
    let known = timeline.known().iter();
    known.map(|k| (k.1 - k.0) as f64 / 1000.0).sum()
}

/// `Compressor 1 ran 5.2 % of the known time, compressor 2 3.1 %, …`
fn sentence(all: &[(String, f64)], rig: &Rig) -> String {
    let parts: Vec<String> = all
        .iter()
        .enumerate()
        .map(|(i, (place, percent))| {
            let words = place_words(place);
            if i == 0 {
                format!(
                    "{} ran {percent:.1} % of the known time",
                    capital_words(&words)
                )
            } else {
                format!("{words} {percent:.1} %")
            }
        })
        .collect();
    let rated = |place: &String| {
        let own = rig.compressors.iter().find(|c| c.name == *place);
        own.is_some_and(|c| c.rated_duty_percent.is_some())
    };
    let told = parts.join(", ");
    match all.iter().filter(|a| rated(&a.0)).count() {
        0 => format!("{told}; the rig gives no rated duty to hold that against."),
        1 if all.len() == 1 => format!("{told}, within its rating."),
        n if n == all.len() => format!("{told}, within their ratings."),
        _ => format!("{told}, within the ratings that the rig gives."),
    }
}

/// Windows, runs and delivery.
pub(super) fn summary(recording: &Recording, digest: &Digest, judgement: &Judgement) -> Section {
    let mut section = Section::new("duty", "Compressor duty");
    for compressor in &digest.compressors {
        section.tables.push(windows(recording, compressor));
        section
            .tables
            .push(switching::table(compressor, &recording.rig));
        section.tables.push(runs(compressor, judgement));
        if let Some(plot) = by_hour(recording, compressor) {
            section.plots.push(plot);
        }
    }
    section
}

fn windows(recording: &Recording, compressor: &CompressorDigest) -> Table {
    let mut table = Table::new(
        &format!("duty-{}", compressor.place),
        format!(
            "Duty of {}: the worst window of each length",
            place_words(&compressor.place)
        ),
        vec![
            Column::text("window"),
            Column::text("from"),
            Column::number("duty", Unit::Percent),
            Column::number("coverage", Unit::Percent),
        ],
    );
    let t = &compressor.timeline;
    let silence_s = compressor.switching.silence_s();
    for (words, window_s) in [("10 min", 600.0), ("1 h", 3_600.0), ("24 h", 86_400.0)] {
        let window = worst_window(t, window_s);
        table.push(row(recording, words, window, silence_s, || {
            too_short(t, window_s)
        }));
    }
    table.push(row(recording, "whole trip", whole(t), silence_s, || {
        "its state was not recorded".into()
    }));
    table
}

fn row(
    recording: &Recording,
    words: &str,
    window: Option<WindowDuty>,
    silence_s: f64,
    why: impl Fn() -> String,
) -> Vec<Cell> {
    let Some((w, percent)) = window.and_then(|w| w.percent().map(|p| (w, p))) else {
        let why = why();
        return vec![
            Cell::text(words),
            Cell::missing(&why),
            Cell::missing(&why),
            Cell::missing(&why),
        ];
    };
    vec![
        Cell::text(words),
        head::wall_cell(recording, w.from_ms),
        Cell::Number(duty(&w, percent, silence_s)),
        Cell::Number(Measured::exact(tenth(100.0 * w.coverage()), Unit::Percent)),
    ]
}

/// Duty with the interval that rare readings leave; known better than to a
/// tenth of a percent it is told to a tenth.
fn duty(window: &WindowDuty, percent: f64, silence_s: f64) -> Measured {
    match window.half_width(silence_s) {
        Some(half) if half >= 0.05 => Measured::estimate(
            percent,
            (percent - half).max(0.0),
            (percent + half).min(100.0),
            Unit::Percent,
        ),
        _ => Measured::exact(tenth(percent), Unit::Percent),
    }
}

/// Why no window of a length can be judged.
fn too_short(timeline: &Timeline, window_s: f64) -> String {
    let needed_h = LEAST_COVERAGE * window_s / 3600.0;
    let known_h = known_s(timeline) / 3600.0;
    if known_h < needed_h {
        format!("needs {needed_h:.1} h of known time, {known_h:.1} h is known")
    } else {
        "too many gaps: no window of this length is known by 80 %".into()
    }
}

fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn runs(compressor: &CompressorDigest, judgement: &Judgement) -> Table {
    let mut table = Table::new(
        &format!("runs-{}", compressor.place),
        format!("Runs of {}", place_words(&compressor.place)),
        vec![Column::text("quantity"), Column::mixed("value")],
    );
    let counted = run_statistics(&compressor.timeline);
    let cell = |of: fn(&RunStatistics) -> Cell| {
        let missing = || Cell::missing("its running is not recorded");
        counted.as_ref().map_or_else(missing, of)
    };
    table.push(vec!["runs".into(), cell(|c| Cell::count(c.runs as u64))]);
    table.push(vec![
        "starts per hour of known time".into(),
        cell(|c| {
            let hundredth = (c.starts_per_hour * 100.0).round() / 100.0;
            Cell::Number(Measured::exact(hundredth, Unit::PerHour))
        }),
    ]);
    table.push(vec![
        "time running".into(),
        cell(|c| Cell::duration(c.on_h * 3600.0)),
    ]);
    table.push(vec![
        "longest run".into(),
        cell(|c| {
            let none = || Cell::missing("no run");
            c.longest_run_s.map_or_else(none, Cell::duration)
        }),
    ]);
    if compressor.runs.is_empty() {
        return table;
    }
    let trend = judgement
        .deliveries
        .iter()
        .find(|d| d.place == compressor.place);
    if let Some(d) = trend {
        table.push(vec![
            text![
                "delivery at ",
                Measured::exact(d.at_kpa_abs.round(), Unit::KpaAbs)
            ]
            .into(),
            Cell::Number(measured(&d.anr_l_per_min, Unit::AnrLitresPerMin)),
        ]);
        table.push(vec![
            "change of delivery over the log".into(),
            Cell::number_or(
                d.change_percent().map(|c| measured(&c, Unit::Percent)),
                "fewer than six runs",
            ),
        ]);
    }
    table.push(vec![
        "smallest detectable loss of delivery".into(),
        detectable(trend),
    ]);
    table
}

/// The smallest loss that would have been called wear; when not even a quarter would,
/// how many runs it takes.
fn detectable(trend: Option<&DeliveryTrend>) -> Cell {
    let limit = trend.and_then(wear_seen_from_percent);
    if let Some(percent) = limit.filter(|percent| *percent <= WEAR_TO_SHOW_PERCENT) {
        return Cell::Number(Measured::exact(percent.round(), Unit::Percent));
    }
    let wanted = format!("{WEAR_TO_SHOW_PERCENT:.0} %");
    Cell::missing(&match wear_shown_after(trend, WEAR_TO_SHOW_PERCENT) {
        Some(runs) => {
            format!("too few runs to tell; {wanted} would show after {runs} undisturbed runs")
        }
        None => {
            format!("{wanted} would not show after any number of runs: no barometer is recorded")
        }
    })
}

/// Hours shown one by one at most; longer logs are cut into wider bars.
const MOST_BARS: i64 = 96;

fn by_hour(recording: &Recording, compressor: &CompressorDigest) -> Option<Plot> {
    let t: &Timeline = &compressor.timeline;
    let from = t.known().first()?.0.div_euclid(3_600_000) * 3_600_000;
    let to = t.known().last()?.1;
    let hours = ((to - from) as f64 / 3_600_000.0).ceil() as i64;
    let per_bar = (hours + MOST_BARS - 1) / MOST_BARS;
    let width_ms = per_bar.max(1) * 3_600_000;
    let mut bars = Vec::new();
    let mut at = from;
    while at < to {
        let w = t.window(at, width_ms);
        let label = head::wall(recording, at)
            .map_or_else(String::new, |wall| wall.at.strftime("%d %H:%M").to_string());
        bars.push(Bar {
            label: label.into(),
            value: w
                .percent()
                .map(|p| Measured::exact(tenth(p), Unit::Percent)),
            coverage: w.coverage().min(1.0),
        });
        at += width_ms;
    }
    let rated = recording
        .rig
        .compressors
        .iter()
        .find(|c| c.name == compressor.place)
        .and_then(|c| c.rated_duty_percent);
    Some(Plot::Bars(BarPlot {
        id: format!("duty-by-hour-{}", compressor.place),
        title: format!("Duty of {} over the day", place_words(&compressor.place)).into(),
        caption: format!("One bar for {per_bar} h; no bar where nothing is known.").into(),
        x_label: "day and hour".into(),
        y_label: "duty".into(),
        unit: Unit::Percent,
        bars,
        references: rated
            .map(|value| ReferenceLine {
                label: "rated".into(),
                value,
            })
            .into_iter()
            .collect(),
    }))
}
