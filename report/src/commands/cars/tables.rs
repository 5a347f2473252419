//! The ranking, and where it comes from.

use super::judge::JudgedCar;
use super::shown;
use crate::findings::place_words;
use crate::model::{Cell, Column, Finding, Label, Measured, Severity, Table, Text, Unit};
use crate::render::duration_words;
use crate::text;
use std::path::PathBuf;

/// One line per car, the most urgent first.
pub(super) fn ranking(cars: &[JudgedCar]) -> Table {
    let mut table = Table::new(
        "cars",
        "One line per car, the most urgent first",
        vec![
            Column::text("car"),
            Column::text("urgency"),
            Column::text("what"),
            Column::text("evidence"),
            Column::text("last day"),
        ],
    );
    for car in cars {
        table.push(vec![
            Cell::from(&car.report.made_from.vehicle),
            Cell::text(car.report.verdict.severity.word()),
            Cell::text(&what(car)),
            evidence(car).into(),
            last_day(car),
        ]);
    }
    table
}

/// `corner leak, rear right; 2 more`.
fn what(car: &JudgedCar) -> String {
    let Some(worst) = car.worst().filter(|_| car.alarms() > 0) else {
        return match car.report.verdict.severity {
            Severity::Unknown => "too little data to tell".into(),
            _ => "no fault seen".into(),
        };
    };
    let more = match car.alarms() {
        0 | 1 => String::new(),
        n => format!("; {} more", n - 1),
    };
    format!("{}, {}{more}", worst.kind.name(), place_words(&worst.place))
}

/// The first measured fact, and the time left until a limit.
fn evidence(car: &JudgedCar) -> Text {
    let Some(worst) = car.worst().filter(|_| car.alarms() > 0) else {
        return Text::default();
    };
    let fact = first_fact(worst).unwrap_or_default();
    match car.hours_left {
        Some(h) => text![fact, "; a limit in ", duration_words(3600.0 * h)],
        None => fact,
    }
}

fn first_fact(finding: &Finding) -> Option<Text> {
    finding.evidence.iter().find_map(|e| match &e.value {
        Cell::Number(m) => Some(text![&e.label, " ", *m]),
        Cell::Duration { seconds } => Some(text![&e.label, " ", duration_words(*seconds)]),
        _ => None,
    })
}

fn last_day(car: &JudgedCar) -> Cell {
    match &car.report.made_from.to {
        Some(to) => Cell::text(&to.at.strftime("%Y-%m-%d").to_string()),
        None => Cell::missing("no clock record"),
    }
}

/// What each line was made from.
pub(super) fn logs(cars: &[JudgedCar]) -> Table {
    let mut table = Table::new(
        "logs",
        "The log behind each line",
        vec![
            Column::text("car"),
            Column::text("log"),
            Column::text("from"),
            Column::text("to"),
            Column::number("coverage", Unit::Percent),
        ],
    );
    for car in cars {
        let made_from = &car.report.made_from;
        let time = |t: &Option<crate::model::WallTime>| {
            t.clone()
                .map_or_else(|| Cell::missing("no clock record"), Cell::WallTime)
        };
        table.push(vec![
            Cell::from(&made_from.vehicle),
            Cell::text(&shown(&car.path)),
            time(&made_from.from),
            time(&made_from.to),
            Cell::Number(Measured::exact(
                (1000.0 * made_from.coverage).floor() / 10.0,
                Unit::Percent,
            )),
        ]);
    }
    table
}

/// Exactly which files and rigs were read.
pub(super) fn hashes(cars: &[JudgedCar]) -> Table {
    let mut table = Table::new(
        "hashes",
        "SHA-256 of each log and of its rig as recorded",
        vec![
            Column::text("log"),
            Column::text("log SHA-256"),
            Column::text("rig hash"),
        ],
    );
    for car in cars {
        table.push(vec![
            Cell::text(&shown(&car.path)),
            Cell::from(&car.report.made_from.log_sha256),
            Cell::from(&car.report.made_from.rig_hash),
        ]);
    }
    table
}

/// Logs that were not judged, and why.
pub(super) fn unread(unread: &[(String, String)]) -> Table {
    let mut table = Table::new(
        "not-read",
        "Not read",
        vec![Column::text("file"), Column::text("why")],
    );
    for (file, why) in unread {
        table.push(vec![Cell::text(file), Cell::text(why)]);
    }
    table
}

/// Logs of a car that a newer one stands for.
pub(super) fn older(older: &[(Label, PathBuf)]) -> Table {
    let mut table = Table::new(
        "older",
        "Older logs of the same car, not ranked",
        vec![Column::text("car"), Column::text("log")],
    );
    for (car, path) in older {
        table.push(vec![Cell::from(car), Cell::text(&shown(path))]);
    }
    table
}
