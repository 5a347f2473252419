//! Marks of one kind at one place lie in one lane.

use std::collections::BTreeMap;

use crate::model::{Mark, MarkKind, TimePlot};

/// Marks of one kind at one place.
pub(super) type Lanes<'a> = BTreeMap<(MarkKind, &'a str), Vec<&'a Mark>>;

/// Marks sorted into lanes.
pub(super) fn lanes(plot: &TimePlot) -> Lanes<'_> {
    let mut lanes: Lanes = BTreeMap::new();
    for mark in &plot.marks {
        let lane = lanes.entry((mark.kind, mark.place.as_str())).or_default();
        lane.push(mark);
    }
    lanes
}
