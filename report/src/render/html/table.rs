//! Tables with real headings, in a box that scrolls sideways on a phone.
//!
//! The caption is seen above the box, so that it wraps at the page's edge and
//! not at the table's; readers that speak meet it inside the table.

use maud::{Markup, html};

use crate::model::{Align, Cell, Column, Table, Text};
use crate::render::signs::MISSING;
use crate::render::units::DisplayUnits;
use crate::render::words;

use super::prose::prose;

/// Rows printed; more would make the page too large to open on a phone.
const MOST_ROWS: usize = 400;

/// Tables up to this many rows are printed on one sheet.
const KEPT_WHOLE: usize = 12;

/// Longest row name that is never wrapped.
const LONGEST_KEPT: usize = 22;

/// A table with its caption.
pub(super) fn table(table: &Table, units: DisplayUnits) -> Markup {
    let left_off = table.rows.len().saturating_sub(MOST_ROWS);
    let caption = words::clean(&table.caption);
    html! {
        p.caption aria-hidden="true" { (caption) }
        div.scroll role="region" aria-label=(caption) tabindex="0" {
            table.few[table.rows.len() <= KEPT_WHOLE] {
                caption.hidden { (caption) }
                thead { tr {
                    @for column in &table.columns {
                        th scope="col" class=(side(column)) { (words::heading(column, units)) }
                    }
                } }
                tbody {
                    @for row in table.rows.iter().take(MOST_ROWS) { (print_row(table, row, units)) }
                }
            }
        }
        @if table.rows.is_empty() { p.note { "No rows." } }
        @if left_off > 0 {
            p.note { (left_off) " further rows are left out here; the CSV and JSON forms have them all." }
        }
    }
}

/// The first cell names the row.
fn print_row(table: &Table, row: &[Cell], units: DisplayUnits) -> Markup {
    let missing = Cell::missing("not given");
    let reason = |i: usize| match row.get(i) {
        Some(Cell::Missing { reason }) => Some(reason),
        _ => None,
    };
    html! {
        tr {
            @for (i, column) in table.columns.iter().enumerate() {
                @let cell = row.get(i).unwrap_or(&missing);
                @let names_row = i == 0 && !matches!(cell, Cell::Missing { .. });
                @if names_row {
                    @let text = words::cell(cell, column.unit, units);
                    @let kept = if text.chars().count() <= LONGEST_KEPT { " kept" } else { "" };
                    th scope="row" class=(format!("{}{kept}", side(column))) { (text) }
                } @else {
                    @let kept = if matches!(cell, Cell::WallTime(_)) { " kept" } else { "" };
                    td class=(format!("{}{kept}", side(column))) {
                        // The same reason is not said again in the next column.
                        @if i > 0 && reason(i).is_some() && reason(i) == reason(i - 1) { (MISSING) }
                        @else { (print_cell(cell, column, units)) }
                    }
                }
            }
        }
    }
}

fn print_cell(cell: &Cell, column: &Column, units: DisplayUnits) -> Markup {
    match cell {
        Cell::Missing { reason } => missing_value(reason, units),
        Cell::Text { text } => prose(text, units),
        other => html! { (words::cell(other, column.unit, units)) },
    }
}

/// A dash and, small beside it, why.
pub(super) fn missing_value(reason: &Text, units: DisplayUnits) -> Markup {
    html! { span.missing { (MISSING) " " small { (words::text(reason, units)) } } }
}

fn side(column: &Column) -> &'static str {
    match column.align {
        Align::Left => "l",
        Align::Right => "r",
    }
}
