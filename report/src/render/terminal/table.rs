//! Tables as text: columns narrowed, wrapped or split until they fit.

use anstyle::Style;
use textwrap::core::display_width;

use crate::model::{Align, Cell, Table};
use crate::render::units::DisplayUnits;
use crate::render::words;

use super::columns::{self, ColumnBlock, Need};
use super::page::{BOLD, DIM, Page};

/// Spaces before a table.
const INDENT: &str = "  ";

/// Spaces between columns.
const GAP: usize = 2;

/// The same where a table would have to be split otherwise.
const NARROW_GAP: usize = 1;

/// Print a table with its caption and the reasons for missing values.
pub(super) fn print(page: &mut Page, table: &Table, units: DisplayUnits) {
    page.blank();
    page.paragraph(INDENT, INDENT, &words::clean(&table.caption), BOLD);
    if table.rows.is_empty() {
        page.line(&format!("{INDENT}(no rows)"), DIM);
        return;
    }
    let mut reasons = Reasons::default();
    let head: Vec<String> = table
        .columns
        .iter()
        .map(|c| words::heading(c, units))
        .collect();
    let rows: Vec<Vec<String>> = table
        .rows
        .iter()
        .map(|row| cells(table, row, units, &mut reasons))
        .collect();
    let shape = Shape::of(head, rows, page.width - INDENT.len());
    for (i, block) in shape.blocks.iter().enumerate() {
        if i > 0 {
            page.blank();
        }
        print_block(page, table, block, &shape);
    }
    reasons.print(page);
}

/// Cuts columns into blocks that fit.
type Cut = fn(&[Need], usize, usize) -> Vec<ColumnBlock>;

/// How a table is laid out in the room there is.
struct Shape {
    head: Vec<String>,
    rows: Vec<Vec<String>>,
    gap: usize,
    blocks: Vec<ColumnBlock>,
}

impl Shape {
    /// The first of these that keeps the table in one piece: headings on one
    /// line; on two; units broken at their space; columns one space apart;
    /// intervals and dates broken at theirs. Else it is split.
    fn of(head: Vec<String>, rows: Vec<Vec<String>>, room: usize) -> Shape {
        let loose_head: Vec<String> = head.iter().map(|h| h.replace('\u{a0}', " ")).collect();
        let loose_rows: Vec<Vec<String>> = rows
            .iter()
            .map(|row| row.iter().map(|cell| loosened(cell)).collect())
            .collect();
        let one_line = needs(&head, &rows, Need::beside);
        if width(&one_line, GAP, |n| n.natural) <= room {
            let blocks = columns::blocks(&one_line, room, GAP);
            return Shape {
                head,
                rows,
                gap: GAP,
                blocks,
            };
        }
        let tries: [(_, _, _, Cut); 5] = [
            (&head, &rows, GAP, columns::blocks),
            (&loose_head, &rows, GAP, columns::blocks),
            (&loose_head, &rows, NARROW_GAP, columns::blocks),
            (&loose_head, &loose_rows, NARROW_GAP, columns::blocks),
            (&loose_head, &loose_rows, NARROW_GAP, columns::loose_blocks),
        ];
        for (head, rows, gap, cut) in tries {
            let needs = needs(head, rows, Need::under);
            let blocks = cut(&needs, room, gap);
            if blocks.len() == 1 {
                let (head, rows) = (head.clone(), rows.clone());
                return Shape {
                    head,
                    rows,
                    gap,
                    blocks,
                };
            }
        }
        let blocks = columns::blocks(&needs(&head, &rows, Need::under), room, GAP);
        Shape {
            head,
            rows,
            gap: GAP,
            blocks,
        }
    }
}

fn needs(head: &[String], rows: &[Vec<String>], with: fn(Need, &str) -> Need) -> Vec<Need> {
    (0..head.len())
        .map(|c| with(Need::of(rows.iter().map(|row| row[c].as_str())), &head[c]))
        .collect()
}

fn width(needs: &[Need], gap: usize, of: fn(&Need) -> usize) -> usize {
    (needs.iter().map(|n| of(n) + gap).sum::<usize>()).saturating_sub(gap)
}

/// A cell that may break before its interval, or between date and time.
fn loosened(cell: &str) -> String {
    let is_date = cell.len() > 10
        && cell.as_bytes()[..10]
            .iter()
            .all(|b| b.is_ascii_digit() || *b == b'-');
    if is_date {
        return cell.replacen('\u{a0}', " ", 1);
    }
    cell.replace("\u{a0}(", " (")
}

/// The cells of a row as text, padded to the number of columns.
fn cells(table: &Table, row: &[Cell], units: DisplayUnits, reasons: &mut Reasons) -> Vec<String> {
    let missing = Cell::missing("not given");
    table
        .columns
        .iter()
        .enumerate()
        .map(|(i, column)| {
            let cell = row.get(i).unwrap_or(&missing);
            let text = words::cell(cell, column.unit, units);
            match cell {
                Cell::Missing { reason } => {
                    format!("{text}{}", reasons.mark(&words::text(reason, units)))
                }
                _ => text,
            }
        })
        .collect()
}

fn print_block(page: &mut Page, table: &Table, block: &ColumnBlock, shape: &Shape) {
    let gap = " ".repeat(shape.gap);
    print_row(page, table, block, &shape.head, &gap, BOLD);
    let rule: Vec<String> = block.iter().map(|b| "-".repeat(b.1)).collect();
    page.line(&format!("{INDENT}{}", rule.join(&gap)), DIM);
    for row in &shape.rows {
        print_row(page, table, block, row, &gap, Style::new());
    }
}

/// One row, as many lines high as its tallest cell.
fn print_row(
    page: &mut Page,
    table: &Table,
    block: &ColumnBlock,
    row: &[String],
    gap: &str,
    style: Style,
) {
    let wrapped: Vec<Vec<String>> = block
        .iter()
        .map(|&(column, width)| wrap(&row[column], width))
        .collect();
    let height = wrapped.iter().map(Vec::len).max().unwrap_or(0);
    for line in 0..height {
        let parts: Vec<String> = wrapped
            .iter()
            .zip(block)
            .map(|(cell, &(column, width))| {
                let text = cell.get(line).map_or("", String::as_str);
                pad(text, width, table.columns[column].align)
            })
            .collect();
        page.line(&format!("{INDENT}{}", parts.join(gap)), style);
    }
}

fn wrap(text: &str, width: usize) -> Vec<String> {
    let options = textwrap::Options::new(width)
        .word_separator(textwrap::WordSeparator::AsciiSpace)
        .word_splitter(textwrap::WordSplitter::NoHyphenation);
    textwrap::wrap(text, options)
        .into_iter()
        .map(std::borrow::Cow::into_owned)
        .collect()
}

fn pad(text: &str, width: usize, align: Align) -> String {
    let space = " ".repeat(width.saturating_sub(display_width(text)));
    match align {
        Align::Left => format!("{text}{space}"),
        Align::Right => format!("{space}{text}"),
    }
}

/// Why values are missing, each reason named once below the table.
#[derive(Debug, Default)]
struct Reasons {
    seen: Vec<String>,
}

impl Reasons {
    /// ` a`, ` b`, … for a reason.
    fn mark(&mut self, reason: &str) -> String {
        let index = self.seen.iter().position(|r| r == reason);
        let index = index.unwrap_or_else(|| {
            self.seen.push(reason.to_string());
            self.seen.len() - 1
        });
        format!("\u{a0}{}", letters(index))
    }

    fn print(&self, page: &mut Page) {
        for (i, reason) in self.seen.iter().enumerate() {
            let first = format!("{INDENT}{}: ", letters(i));
            page.paragraph(&first, "     ", reason, DIM);
        }
    }
}

/// 0 as `a`, 25 as `z`, 26 as `aa`.
fn letters(index: usize) -> String {
    let last = char::from(b'a' + u8::try_from(index % 26).unwrap_or(0));
    match index / 26 {
        0 => last.to_string(),
        above => format!("{}{last}", letters(above - 1)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Column, Measured, Unit};

    fn printed(table: &Table, width: usize) -> String {
        let mut page = Page::new(width);
        print(&mut page, table, DisplayUnits::default());
        anstream::adapter::strip_str(&page.finish()).to_string()
    }

    #[test]
    fn letters_go_on_after_z() {
        assert_eq!(
            [letters(0), letters(25), letters(26), letters(27)],
            ["a", "z", "aa", "ab"]
        );
    }

    #[test]
    fn a_missing_value_is_explained_below() {
        let columns = vec![
            Column::text("corner"),
            Column::number("leak", Unit::KpaPerHour),
        ];
        let mut table = Table::new("t", "Leaks", columns);
        table.push(vec![
            "front left".into(),
            Measured::plus_minus(3.1, 0.4, Unit::KpaPerHour).into(),
        ]);
        table.push(vec![
            "front right".into(),
            Cell::missing("no rest long enough"),
        ]);
        let expected = [
            "  Leaks",
            "  corner       leak (kPa/h)",
            "  -----------  ------------",
            "  front left      3.1 ± 0.4",
            "  front right           — a",
            "  a: no rest long enough",
            "",
        ];
        assert_eq!(printed(&table, 80), expected.join("\n"));
    }

    #[test]
    fn a_wide_table_never_runs_over() {
        let columns = (0..14)
            .map(|i| Column::text(format!("column {i}")))
            .collect();
        let mut table = Table::new("t", "Wide", columns);
        table.push(
            (0..14)
                .map(|i| {
                    Cell::text(&format!(
                        "some words of cell {i} and_one_word_that_is_far_too_long_for_a_column"
                    ))
                })
                .collect(),
        );
        for width in [40, 57, 80] {
            for line in printed(&table, width).lines() {
                assert!(display_width(line) <= width, "{line}");
            }
        }
    }

    #[test]
    fn a_short_row_is_filled_not_lost() {
        let mut table = Table::new("t", "Short", vec![Column::text("a"), Column::text("b")]);
        table.rows.push(vec!["x".into()]);
        assert!(printed(&table, 80).contains("x  — a"));
    }
}
