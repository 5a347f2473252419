//! Every limit drawn against what was measured, those of one unit on one scale.

use crate::findings::place_words;
use crate::model::{IntervalPlot, IntervalRow, Plot, Unit};
use crate::proof::{JudgedLimit, Outcome};

/// One picture for each unit that limits are given in; broken limits first.
pub(super) fn plots(limits: &[JudgedLimit]) -> Vec<Plot> {
    let mut sorted: Vec<&JudgedLimit> = limits.iter().collect();
    sorted.sort_by_key(|l| urgency(&l.outcome));
    let mut units: Vec<Unit> = Vec::new();
    for limit in &sorted {
        if limit.measured.is_some() && !units.contains(&limit.limit.unit) {
            units.push(limit.limit.unit);
        }
    }
    units
        .into_iter()
        .filter(|unit| *unit != Unit::Count)
        .map(|unit| Plot::Intervals(plot(&sorted, unit)))
        .collect()
}

fn urgency(outcome: &Outcome) -> u8 {
    match outcome {
        Outcome::Fail => 0,
        Outcome::Open(_) => 1,
        Outcome::Pass => 2,
    }
}

fn plot(limits: &[&JudgedLimit], unit: Unit) -> IntervalPlot {
    let (id, title, x_label) = match unit {
        Unit::Mm => (
            "holds-by-height",
            "Holding height, against the limit",
            "fall",
        ),
        Unit::KpaDifference => (
            "holds-by-pressure",
            "Holding pressure, against the limit",
            "fall",
        ),
        Unit::Seconds => (
            "cycle-times",
            "Slowest fill and dump, against the limit",
            "time",
        ),
        _ => ("shares", "Duty and recording, against the limit", "share"),
    };
    IntervalPlot {
        id: id.into(),
        title: title.into(),
        caption: "Broken limits first, then those that cannot be judged yet.".into(),
        x_label: x_label.into(),
        unit,
        rows: limits
            .iter()
            .filter(|l| l.limit.unit == unit)
            .map(|l| row(l))
            .collect(),
    }
}

fn row(limit: &JudgedLimit) -> IntervalRow {
    IntervalRow {
        label: format!("{}, {}", place_words(&limit.place), limit.what).into(),
        value: limit.measured,
        before: None,
        limit: Some(limit.limit.value),
        others: Vec::new(),
        remark: match &limit.outcome {
            Outcome::Pass => "pass",
            Outcome::Fail => "FAIL",
            Outcome::Open(_) => "open",
        }
        .into(),
    }
}
