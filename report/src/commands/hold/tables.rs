//! Tables and notes of a hold.

use super::super::head;
use super::judged::{HoldOutcome, JudgedHold};
use crate::analysis::estimate::Estimate;
use crate::analysis::hold::emptying::{Emptying, Outlet};
use crate::analysis::hold::{AirSpring, Design, HoldEstimate, HoldThermometer, expected_limit};
use crate::findings::{loss, measured, place_words};
use crate::model::{Cell, Column, Measured, Section, Table, Text, Unit};

/// ANR cm³/min in an ANR L/s.
const CM3_MIN_PER_L_S: f64 = 60_000.0;

/// ANR cm³/min that a share of the air per second is; `None` where the rig gives no
/// volume.
fn cm3_per_min(judged: &JudgedHold, kpa_abs: f64) -> Option<f64> {
    let held = &judged.held;
    let litres = held.volume_l? * kpa_abs / 100.0 * 293.15 / held.conditions.kelvin;
    Some(litres * CM3_MIN_PER_L_S)
}

/// The loss as a flow, with the error of the volume.
pub(super) fn flow(judged: &JudgedHold, seen: &HoldEstimate) -> Option<Measured> {
    let factor = cm3_per_min(judged, seen.kpa_abs)?;
    let own = seen.loss_per_s.scaled(factor);
    let all = own.with_known_error(own.value.abs() * judged.held.vessel.volume_uncertainty);
    Some(as_told(&all, seen, Unit::AnrCm3PerMin))
}

/// With its interval where it is a leak, else an upper limit: never below what the hold
/// could have shown.
fn as_told(estimate: &Estimate, seen: &HoldEstimate, unit: Unit) -> Measured {
    if seen.is_leak {
        return measured(estimate, unit);
    }
    let floor = crate::analysis::hold::detection_limit(estimate);
    Measured::below(loss(estimate, unit).value.max(floor), unit)
}

/// Smallest leak of this hold, as a flow or as pressure.
pub(super) fn limit(judged: &JudgedHold, seen: &HoldEstimate) -> Measured {
    limit_of(judged, seen, seen.limit_per_s)
}

fn limit_of(judged: &JudgedHold, seen: &HoldEstimate, per_s: f64) -> Measured {
    let (factor, unit) = cm3_per_min(judged, seen.kpa_abs)
        .map_or((seen.kpa_abs * 3600.0, Unit::KpaPerHour), |factor| {
            (factor, Unit::AnrCm3PerMin)
        });
    Measured::exact(two_digits(per_s * factor), unit)
}

/// Rounds up to two significant digits.
fn two_digits(value: f64) -> f64 {
    if value <= 0.0 || !value.is_finite() {
        return value;
    }
    let unit = 10_f64.powf(value.log10().floor() - 1.0);
    (value / unit).ceil() * unit
}

pub(super) fn plain_kpa_per_h(seen: &HoldEstimate) -> Measured {
    measured(
        &seen.plain.per_s.scaled(seen.kpa_abs * 3600.0),
        Unit::KpaPerHour,
    )
}

pub(super) fn sections(judged: &[JudgedHold]) -> Vec<Section> {
    let mut section = Section::new("hold", "Held");
    section.tables.push(losses(judged));
    section.tables.push(shown(judged));
    let emptied = judged.iter().filter_map(|j| match &j.outcome {
        HoldOutcome::Emptying(Ok(seen)) => Some((j, seen)),
        _ => None,
    });
    let rows: Vec<Vec<Cell>> = emptied.map(|(j, seen)| emptying_row(j, seen)).collect();
    if !rows.is_empty() {
        let mut table = emptying_table();
        rows.into_iter().for_each(|row| table.push(row));
        section.tables.push(table);
    }
    section.tables.push(next(judged));
    vec![section]
}

fn losses(judged: &[JudgedHold]) -> Table {
    let mut table = Table::new(
        "hold",
        "What each place lost while it was held; “below” is an upper limit",
        vec![
            Column::text("place"),
            Column::text("verdict"),
            Column::number("loss", Unit::AnrCm3PerMin),
            Column::number("equivalent pressure drop", Unit::KpaPerHour),
            Column::mixed("smallest leak shown"),
        ],
    );
    for j in judged {
        let place = Cell::text(&place_words(&j.held.vessel.place));
        let HoldOutcome::Hold(seen) = &j.outcome else {
            let why = not_held(&j.outcome);
            let none = || Cell::missing("not a hold");
            table.push(vec![place, Cell::text(&why), none(), none(), none()]);
            continue;
        };
        let kpa_per_h = seen.loss_per_s.scaled(seen.kpa_abs * 3600.0);
        table.push(vec![
            place,
            Cell::text(match (seen.is_leak, j.held.conditions.spring) {
                (true, _) => "leak",
                (false, AirSpring::NoHeight) => "no leak seen; off its stops it could sink unseen",
                (false, _) => "no leak seen",
            }),
            Cell::number_or(flow(j, seen), "no volume in the rig"),
            Cell::Number(as_told(&kpa_per_h, seen, Unit::KpaPerHour)),
            Cell::Number(limit(j, seen)),
        ]);
    }
    table
}

fn not_held(outcome: &HoldOutcome) -> String {
    match outcome {
        HoldOutcome::Disturbed => {
            "a valve or the compressor moved its air: choose a span without".into()
        }
        HoldOutcome::Emptying(Ok(_)) => "emptied, see below".into(),
        HoldOutcome::Emptying(Err(why)) => format!("emptied; {why}"),
        HoldOutcome::Open(why) => why.to_string(),
        HoldOutcome::Hold(_) => String::new(),
    }
}

/// What stands behind each figure.
fn shown(judged: &[JudgedHold]) -> Table {
    let mut table = Table::new(
        "hold-evidence",
        "The fall as it stands (one exponential, nothing taken off; its interval allows for \
         autocorrelation) and what limits the figure above",
        vec![
            Column::text("place"),
            Column::mixed("held"),
            Column::number("pressure", Unit::KpaAbs),
            Column::number("fall as it stands", Unit::KpaPerHour),
            Column::number("lag-1 autocorrelation", Unit::One),
            Column::mixed("since last move"),
            Column::number("settling's share of the error", Unit::Percent),
        ],
    );
    for j in judged {
        let HoldOutcome::Hold(seen) = &j.outcome else {
            continue;
        };
        table.push(vec![
            Cell::text(&place_words(&j.held.vessel.place)),
            Cell::duration(seen.length_s),
            Cell::Number(Measured::exact(
                (seen.kpa_abs * 10.0).round() / 10.0,
                Unit::KpaAbs,
            )),
            Cell::Number(plain_kpa_per_h(seen)),
            Cell::Number(Measured::exact(
                (seen.plain.residual_lag1 * 100.0).round() / 100.0,
                Unit::One,
            )),
            j.held.conditions.since_move_s.map_or_else(
                || Cell::missing("not recorded: taken to be just before"),
                Cell::duration,
            ),
            Cell::Number(Measured::exact(
                (seen.settling_share * 100.0).round(),
                Unit::Percent,
            )),
        ]);
    }
    table
}

/// Other holds: minutes long, minutes after the last move.
const OTHERS: [(f64, f64); 4] = [(5.0, 10.0), (10.0, 10.0), (10.0, 60.0), (30.0, 60.0)];

fn next(judged: &[JudgedHold]) -> Table {
    let mut columns = vec![Column::text("place")];
    for (length, wait) in OTHERS {
        columns.push(Column::mixed(format!(
            "{length} min, {wait} min after a move"
        )));
    }
    let mut table = Table::new(
        "hold-next",
        "Smallest leak that another hold would show, with the same sensors and noise",
        columns,
    );
    for j in judged {
        let HoldOutcome::Hold(seen) = &j.outcome else {
            continue;
        };
        let mut row = vec![Cell::text(&place_words(&j.held.vessel.place))];
        row.extend(OTHERS.map(|(length, wait)| {
            let design = Design {
                length_s: length * 60.0,
                since_move_s: wait * 60.0,
            };
            let limit = expected_limit(design, &j.held.readings, &j.held.conditions, seen.noise_ln);
            Cell::number_or(limit.map(|l| limit_of(j, seen, l)), "too few readings")
        }));
        table.push(row);
    }
    table
}

fn emptying_table() -> Table {
    Table::new(
        "hold-emptying",
        "How it emptied: the way out that follows the pressure best",
        vec![
            Column::text("place"),
            Column::text("way out"),
            Column::number("air lost per second at high pressure", Unit::Percent),
            Column::number("conductance", Unit::SonicConductance),
            Column::number("law changes at", Unit::KpaAbs),
            Column::number("residual above", Unit::KpaDifference),
            Column::number("residual below", Unit::KpaDifference),
            Column::text("remarks"),
        ],
    )
}

fn emptying_row(judged: &JudgedHold, seen: &Emptying) -> Vec<Cell> {
    let held = &judged.held;
    let conductance = held.volume_l.map(|v| {
        let factor = v * (293.15 / held.conditions.kelvin).sqrt();
        let own = seen.per_s.scaled(factor);
        let all = own.with_known_error(own.value * held.vessel.volume_uncertainty);
        measured(&all, Unit::SonicConductance)
    });
    let kpa = |v: Option<f64>| {
        let rounded = v.map(|v| Measured::exact((v * 100.0).round() / 100.0, Unit::KpaDifference));
        Cell::number_or(rounded, "no reading")
    };
    let (above, below) = seen.residual_by_regime_kpa;
    vec![
        Cell::text(&place_words(&held.vessel.place)),
        Cell::text(&way_out(seen)),
        Cell::Number(measured(&seen.per_s.scaled(100.0), Unit::Percent)),
        Cell::number_or(conductance, "no volume in the rig"),
        Cell::Number(Measured::exact(seen.knee_kpa_abs.round(), Unit::KpaAbs)),
        kpa(above),
        kpa(below),
        Cell::text(&remarks(seen)),
    ]
}

fn way_out(seen: &Emptying) -> String {
    match seen.outlet {
        Outlet::Hole { critical_ratio, .. } => {
            format!("a hole, valve or fitting (ISO 6358, b = {critical_ratio:.2})")
        }
        Outlet::Gap { .. } => "a narrow gap: porous wall, thread or seal".into(),
    }
}

fn remarks(seen: &Emptying) -> String {
    let mut words = vec![format!(
        "open {:.1} s after the first reading",
        seen.begins_s
    )];
    if let Some(at) = seen.knee_s {
        words.push(match seen.outlet {
            Outlet::Hole { .. } => format!("choked until {at:.1} s"),
            Outlet::Gap { .. } => format!("inertia until {at:.1} s, then drag"),
        });
    }
    if !seen.follows {
        words.push("neither law follows it within twice the scatter".into());
    }
    words.join(", ")
}

pub(super) fn notes(judged: &[JudgedHold]) -> Vec<Text> {
    let mut out = vec![
        head::reference_air(),
        "A leak is named where a tight volume would look the same in one hold of 200; the \
         smallest leak shown is found in 95 of 100 holds (the scheme of ISO 11843-1). Settling \
         of heated or cooled air after a move, creep of rubber, drift of temperature, weather \
         and sensor, and counts stand beside the leak with sizes of common practice (no source)."
            .into(),
        "Fitting by fitting: taking apart and reconnecting changes more than a second run of \
         the same hold; compare holds before and after a repair only where nothing else was \
         touched."
            .into(),
    ];
    let bare = judged
        .iter()
        .any(|j| j.held.conditions.thermometer == HoldThermometer::None);
    if bare {
        out.push(
            "No temperature is recorded: the air may warm or cool unseen, and the limits allow \
             for it."
                .into(),
        );
    }
    if judged
        .iter()
        .any(|j| j.held.conditions.since_move_s.is_none())
    {
        out.push(
            "The log begins with the hold: if nothing was filled or dumped for some minutes \
             before, say so with --settled MINUTES, and the limit shrinks."
                .into(),
        );
    }
    out
}
