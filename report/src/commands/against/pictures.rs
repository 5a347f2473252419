//! Before and after on one scale, one picture for each quantity.

use crate::comparison::Difference;
use crate::model::{IntervalPlot, IntervalRow, Plot, Unit};

/// The quantity that has changed most surely comes first; where none has, the losses do.
pub(super) fn plots(differences: &[Difference]) -> Vec<Plot> {
    let mut quantities: Vec<&str> = Vec::new();
    for d in differences {
        if !quantities.contains(&d.quantity) {
            quantities.push(d.quantity);
        }
    }
    let changed = |quantity: &str| {
        let own = differences.iter().filter(|d| d.quantity == quantity);
        own.filter(|d| d.changed()).count() > 0
    };
    quantities.sort_by_key(|q| (!changed(q), !changed(q) && *q != "loss at rest"));
    quantities
        .into_iter()
        .flat_map(|quantity| of_quantity(differences, quantity))
        .collect()
}

/// The rows of one unit are on one scale.
fn of_quantity(differences: &[Difference], quantity: &str) -> Vec<Plot> {
    let own: Vec<&Difference> = differences
        .iter()
        .filter(|d| d.quantity == quantity)
        .collect();
    let mut units: Vec<Unit> = Vec::new();
    for unit in own.iter().map(|d| d.shown().now.unit) {
        if !units.contains(&unit) {
            units.push(unit);
        }
    }
    let rows_in = |unit: Unit| -> Vec<&Difference> {
        let same = own.iter().filter(|d| d.shown().now.unit == unit);
        same.copied().collect()
    };
    units
        .into_iter()
        .enumerate()
        .map(|(i, unit)| Plot::Intervals(plot(&rows_in(unit), quantity, i)))
        .collect()
}

fn plot(rows: &[&Difference], quantity: &str, index: usize) -> IntervalPlot {
    let shown = rows[0].shown();
    let number = if index == 0 {
        String::new()
    } else {
        format!("-{}", index + 1)
    };
    IntervalPlot {
        id: format!("before-and-now-{}{number}", quantity.replace(' ', "-")),
        title: format!(
            "{}, before and now",
            crate::render::capital_words(shown.quantity)
        )
        .into(),
        caption: "All on one scale, the surest change first.".into(),
        x_label: shown.quantity.into(),
        unit: shown.now.unit,
        rows: rows.iter().map(|d| row(d)).collect(),
    }
}

fn row(d: &Difference) -> IntervalRow {
    let shown = d.shown();
    IntervalRow {
        label: d.what.clone().into(),
        value: Some(shown.now),
        before: Some(shown.before),
        limit: None,
        others: Vec::new(),
        remark: match (d.changed(), d.worse()) {
            (true, true) => "worse",
            (true, false) => "better",
            (false, _) => "no change seen",
        }
        .into(),
    }
}
