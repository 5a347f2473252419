//! `seep moves`: how long each fill and dump takes, and whether it gets slower.

use super::{
    and_elsewhere, brief, findings_of, head, hidden_lines, judged, lead, path_plots, positions,
    sides, verdict_of,
};
use crate::analysis::diagnose::{
    late_seen_from_ms, partner_seen_from_percent, shared_seen_from_percent,
    together_seen_from_percent,
};
use crate::analysis::moves::{Direction, Move, MoveTrend};
use crate::conclusion::Topic;
use crate::digest::Digest;
use crate::findings::{measured, place_words, reference_times};
use crate::judgement::{Judgement, comparable_mate, line_hidden};
use crate::model::{
    Cell, Column, Finding, Measured, Report, Section, Severity, Table, Text, Unit, Verdict,
};
use crate::recording::{Recording, RecordingError};

/// Moves listed one by one: the last ones.
const MOST_MOVES: usize = 40;

/// The report.
///
/// # Errors
/// The log's errors.
pub fn report(recording: &Recording) -> Result<Report, RecordingError> {
    let (digest, judgement) = judged(recording)?;
    let findings = findings_of(&judgement, &[Topic::Paths, Topic::Valves]);
    let verdict = and_elsewhere(
        verdict(&findings, &digest, recording),
        &findings,
        &judgement,
    );
    let mut report = head::judged_report(
        recording,
        &digest,
        "moves",
        "Fills and dumps",
        verdict,
        findings,
    );
    let mut section = summary(recording, &digest, &judgement);
    report.brief = section
        .tables
        .first()
        .map(|paths| brief::columns(paths, &[0, 1, 4, 5], "Time at reference conditions now"));
    let lead = lead::section(recording, &digest, &judgement, &report.findings)
        .filter(|_| !report.findings.is_empty());
    if let Some(lead) = lead {
        let leading = |id: &str| lead.plots.iter().any(|p| p.id() == id);
        section.plots.retain(|p| !leading(p.id()));
        report.brief = None;
        report.sections.push(lead);
    }
    report.sections.push(section);
    report
        .sections
        .extend(positions::section(recording, &digest));
    report.sections.extend(sides::section(recording, &digest));
    report.sections.push(list(recording, &digest));
    report.notes.push(
        "A raw time depends on tank pressure, load and step; so each move gives the sonic conductance \
         of its path (ISO 6358, critical pressure ratio 0.3 assumed), and times are compared at \
         reference conditions, the same for every log: the temperature of ISO 8778, sea level, and \
         the move of the table above, set in the rig."
            .into(),
    );
    Ok(report)
}

fn verdict(findings: &[Finding], digest: &Digest, recording: &Recording) -> Verdict {
    match verdict_of(findings) {
        Some(first) => first,
        None if digest.moves.len() < 6 => Verdict::unknown(
            "Too few moves were recorded to judge the valves: raise and lower the car a few times.",
        ),
        None => Verdict::new(
            Severity::Fine,
            0.95,
            format!(
                "{} moves, and {}",
                digest.moves.len(),
                hidden_lines::all_well(&recording.rig)
            ),
        ),
    }
}

/// The same without plots: for reports that speak of more.
pub(super) fn short_summary(
    recording: &Recording,
    digest: &Digest,
    judgement: &Judgement,
) -> Section {
    let mut section = summary(recording, digest, judgement);
    if !section.plots.is_empty() {
        section.plots.clear();
        section
            .notes
            .push("Each move of every path: `seep moves`.".into());
    }
    section
}

/// One row per circuit and direction.
pub(super) fn summary(recording: &Recording, digest: &Digest, judgement: &Judgement) -> Section {
    let mut section = Section::new("moves", "Fills and dumps");
    let mut table = Table::new(
        "paths",
        "Paths and their drift over the log; time at reference conditions, first and last third",
        vec![
            Column::text("path"),
            Column::mixed("moves"),
            Column::number("conductance", Unit::SonicConductance),
            Column::number("time at first", Unit::Seconds),
            Column::number("at last", Unit::Seconds),
            Column::number("drift", Unit::PercentPerDay),
        ],
    );
    for path in &judgement.paths {
        table.push(path_row(path, has_volume(digest, &path.place)));
        if let Some(plot) = path_plots::plot(recording, digest, path) {
            section.plots.push(plot);
        }
    }
    section.tables.push(table);
    section.tables.push(reference_move(recording));
    section.tables.push(limits(recording, judgement));
    section.tables.extend(sticking(judgement));
    section
        .notes
        .extend(partner_note(recording, judgement).map(Text::from));
    section
        .notes
        .extend(hidden_lines::note(&recording.rig).map(Text::from));
    if digest.unmeasured_moves > 0 {
        section.notes.push(
            format!(
                "{} openings could not be measured: readings around them are missing.",
                digest.unmeasured_moves
            )
            .into(),
        );
    }
    section
}

/// The move whose time is told, circuit by circuit.
fn reference_move(recording: &Recording) -> Table {
    let mut table = Table::new(
        "reference",
        "The move whose time is compared",
        vec![
            Column::text("circuit"),
            Column::number("low", Unit::Mm),
            Column::number("high", Unit::Mm),
            Column::number("pressure low", Unit::KpaGauge),
            Column::number("pressure high", Unit::KpaGauge),
            Column::number("tank", Unit::KpaGauge),
        ],
    );
    let tank = recording.rig.limits.reference_tank_kpa_gauge;
    for c in &recording.rig.circuits {
        let exact = |value: f64, unit| Cell::Number(Measured::exact(value, unit));
        table.push(vec![
            Cell::text(&place_words(&c.name)),
            exact(c.reference_mm.0, Unit::Mm),
            exact(c.reference_mm.1, Unit::Mm),
            exact(c.reference_kpa_gauge.0, Unit::KpaGauge),
            exact(c.reference_kpa_gauge.1, Unit::KpaGauge),
            exact(tank, Unit::KpaGauge),
        ]);
    }
    table
}

/// Openings that let nothing pass at first, valve by valve; none where no reading is
/// dense enough to show one.
fn sticking(judgement: &Judgement) -> Option<Table> {
    let mut table = Table::new(
        "sticking",
        "Openings that let nothing pass for half a second, of those long and dense enough to show it",
        vec![
            Column::text("valve"),
            Column::mixed("stuck"),
            Column::mixed("of"),
            Column::number("two would show from", Unit::Seconds),
        ],
    );
    for v in &judgement.faults.sticking {
        table.push(vec![
            Cell::text(&format!("{} {}", place_words(&v.place), v.direction.word())),
            Cell::count(v.sum.stuck as u64),
            Cell::count(v.sum.openings as u64),
            Cell::number_or(
                v.seen_from_ms()
                    .map(|ms| Measured::exact((ms / 10.0).round() / 100.0, Unit::Seconds)),
                "no opening was long enough",
            ),
        ]);
    }
    (!table.rows.is_empty()).then_some(table)
}

/// The smallest lasting changes that this log would have shown.
fn limits(recording: &Recording, judgement: &Judgement) -> Table {
    let mut table = Table::new(
        "path-limits",
        "What would have been seen: the smallest lasting change from the first to the last third of \
         the moves that this log shows with 95 % certainty",
        vec![
            Column::text("circuit"),
            Column::number("fill loses", Unit::Percent),
            Column::number("dump loses", Unit::Percent),
            Column::number("both lose", Unit::Percent),
            Column::number("valves later by", Unit::Seconds),
            Column::number("later now by", Unit::Seconds),
        ],
    );
    let growths = &judgement.faults.lags;
    let sparse = "readings too far apart, or too few moves";
    for circuit in &recording.rig.circuits {
        let own = |t: &MoveTrend| t.place == circuit.name;
        let growth = growths.iter().rev().find(|g| g.place == circuit.name);
        let seconds = |ms: f64| Measured::exact(ms.round() / 1000.0, Unit::Seconds);
        let mut row = vec![Cell::text(&place_words(&circuit.name))];
        let mut lost = losses(|direction| {
            let wanted = |t: &&MoveTrend| own(t) && direction.is_none_or(|d| t.direction == d);
            let paths = judgement.judged_paths.iter().filter(wanted);
            together_seen_from_percent(&paths.collect::<Vec<_>>())
        });
        if line_hidden(&recording.rig, &circuit.name) {
            lost[2] = Cell::missing(hidden_lines::HIDDEN);
        }
        row.extend(lost);
        row.push(Cell::number_or(
            late_seen_from_ms(&circuit.name, growths).map(seconds),
            sparse,
        ));
        row.push(Cell::number_or(
            growth.map(|g| measured(&g.growth_ms.scaled(1e-3), Unit::Seconds)),
            sparse,
        ));
        table.push(row);
    }
    let mut all = vec![Cell::text("all alike")];
    all.extend(losses(|direction| {
        shared_seen_from_percent(&judgement.judged_paths, direction)
    }));
    all.extend([Cell::text(""), Cell::text("")]);
    table.push(all);
    table
}

/// Losses of fills, of dumps and of both that would have been seen.
fn losses(seen_from_percent: impl Fn(Option<Direction>) -> Option<f64>) -> [Cell; 3] {
    let of = |direction: Option<Direction>| {
        let percent = seen_from_percent(direction);
        Cell::number_or(
            percent.map(|p| Measured::exact(p.round(), Unit::Percent)),
            "too few moves to compare",
        )
    };
    [
        of(Some(Direction::Fill)),
        of(Some(Direction::Dump)),
        of(None),
    ]
}

/// From what difference on a path shows that is slow throughout.
fn partner_note(recording: &Recording, judgement: &Judgement) -> Option<String> {
    let paths = &judgement.judged_paths;
    let percent = paths.iter().filter_map(|path| {
        let partner = comparable_mate(&recording.rig, &path.place)?;
        let same = |t: &&MoveTrend| t.place == partner && t.direction == path.direction;
        partner_seen_from_percent(path, paths.iter().find(same)?)
    });
    let most = percent.max_by(f64::total_cmp)?;
    Some(format!(
        "A path that was slow from the start shows against its partner on the axle when it passes \
         {most:.0} % less."
    ))
}

/// A conductance with its interval, or what it is at least.
fn conductance(value: f64, half_width: f64, at_least: bool) -> Measured {
    if at_least {
        Measured::above((value - half_width).max(0.0), Unit::SonicConductance)
    } else {
        Measured::plus_minus(value, half_width, Unit::SonicConductance)
    }
}

/// The same of a path.
fn conductance_of(path: &MoveTrend) -> Measured {
    let high = path.conductance.interval_95().1;
    let half_width = high - path.conductance.value;
    conductance(path.conductance.value, half_width, path.at_least)
}

fn path_row(path: &MoveTrend, has_volume: bool) -> Vec<Cell> {
    let times = reference_times(path);
    let time = |i: usize| Cell::number_or(times.map(|t| t[i]), NO_REFERENCE);
    vec![
        Cell::text(&format!(
            "{} {}",
            place_words(&path.place),
            path.direction.word()
        )),
        Cell::count(path.moves as u64),
        Cell::number_or(has_volume.then(|| conductance_of(path)), NO_VOLUME),
        time(0),
        time(1),
        Cell::number_or(
            path.drift_percent_per_day
                .map(|(v, low, high)| Measured::estimate(v, low, high, Unit::PercentPerDay)),
            "fewer than six moves or five drives",
        ),
    ]
}

/// Why a time is missing.
const NO_REFERENCE: &str = "the tank is too low for it";

/// Why a conductance is missing.
const NO_VOLUME: &str = "the rig gives no volume";

fn has_volume(digest: &Digest, place: &str) -> bool {
    digest.vessel(place).is_some_and(|v| !v.is_relative())
}

fn list(recording: &Recording, digest: &Digest) -> Section {
    let mut section = Section::new("move-list", "Move by move");
    let mut table = Table::new(
        "move-list",
        "The last moves, the newest first",
        vec![
            Column::text("from"),
            Column::text("path"),
            Column::number("by", Unit::Mm),
            Column::mixed("valve open"),
            Column::mixed("time to height"),
            Column::number("conductance", Unit::SonicConductance),
        ],
    );
    let skip = digest.moves.len().saturating_sub(MOST_MOVES);
    for m in digest.moves.iter().skip(skip).rev() {
        table.push(move_row(recording, m, has_volume(digest, &m.place)));
    }
    if skip > 0 {
        section.notes.push(
            format!("{skip} earlier moves are not listed; narrow the span with --to.").into(),
        );
    }
    section.tables.push(table);
    section
}

fn move_row(recording: &Recording, m: &Move, has_volume: bool) -> Vec<Cell> {
    let arrived = match m.time_to_height_s {
        Some(s) if m.timed_by_pressure => Cell::text(&format!("{s:.1} s (by pressure)")),
        Some(s) => Cell::text(&format!("{s:.1} s")),
        None => Cell::missing("did not settle before the next move"),
    };
    vec![
        head::wall_cell(recording, m.from_ms),
        Cell::text(&format!("{} {}", place_words(&m.place), m.direction.word())),
        Cell::number_or(
            m.mm.map(|(a, b)| Measured::exact((b - a).round(), Unit::Mm)),
            "no height",
        ),
        Cell::text(&format!("{:.2} s", m.open_s)),
        arrived,
        Cell::number_or(
            has_volume.then(|| conductance(m.conductance, 2.0 * m.conductance_se, m.at_least)),
            NO_VOLUME,
        ),
    ]
}
