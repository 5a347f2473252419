//! The few columns of a table that a screen has room for.

use crate::model::{Label, Table};

/// Columns of a table by their places, under a shorter caption.
pub(super) fn columns(table: &Table, wanted: &[usize], caption: impl Into<Label>) -> Table {
    let columns = wanted.iter().filter_map(|i| table.columns.get(*i).cloned());
    let mut brief = Table::new(&table.id, caption, columns.collect());
    for row in &table.rows {
        brief.push(wanted.iter().filter_map(|i| row.get(*i).cloned()).collect());
    }
    brief
}
