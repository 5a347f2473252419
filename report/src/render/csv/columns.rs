//! How a column of cells becomes one or more columns of a spreadsheet.

use crate::model::{Cell, Measured, MeasuredKind, Table, Unit};
use crate::render::units::DisplayUnits;
use crate::render::words;

use super::writer::Field;

/// What a column of the table turns into.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Spread {
    /// Value, low, high and kind instead of the value alone.
    interval: bool,
    /// The one unit of all numbers; none when they differ, and then a unit
    /// column is added.
    unit: Option<Unit>,
    /// True when there is any number.
    numbers: bool,
}

/// The layout of one table.
#[derive(Debug)]
pub(super) struct Sheet<'a> {
    table: &'a Table,
    units: DisplayUnits,
    spreads: Vec<Spread>,
}

impl<'a> Sheet<'a> {
    /// Look at every cell to choose the layout.
    pub(super) fn of(table: &'a Table, units: DisplayUnits) -> Self {
        let spreads = (0..table.columns.len())
            .map(|c| Spread::of(table, c))
            .collect();
        Sheet {
            table,
            units,
            spreads,
        }
    }

    /// Headings, units in brackets.
    pub(super) fn headings(&self) -> Vec<String> {
        let mut out = Vec::new();
        for (column, spread) in self.table.columns.iter().zip(&self.spreads) {
            let name = words::clean(&column.name);
            let symbol = spread.unit.map_or("", |u| self.units.shown(u).symbol);
            let with = |what: &str| {
                let unit = if symbol.is_empty() {
                    String::new()
                } else {
                    format!(" ({symbol})")
                };
                format!("{name}{what}{unit}")
            };
            out.push(with(""));
            if spread.interval {
                out.extend([with(" low"), with(" high"), format!("{name} kind")]);
            }
            if spread.needs_unit() {
                out.push(format!("{name} unit"));
            }
        }
        out
    }

    /// The fields of one row; short rows are filled with empty fields.
    pub(super) fn fields(&self, row: &[Cell]) -> Vec<Field> {
        let missing = Cell::missing("");
        let mut out = Vec::new();
        for (i, spread) in self.spreads.iter().enumerate() {
            let cell = row.get(i).unwrap_or(&missing);
            out.extend(spread.fields(cell, self.units));
        }
        out
    }
}

impl Spread {
    fn of(table: &Table, column: usize) -> Spread {
        let cells = table.rows.iter().filter_map(|row| row.get(column));
        let mut units: Vec<Unit> = Vec::new();
        let mut interval = false;
        for cell in cells {
            match cell {
                Cell::Number(m) => {
                    units.push(m.unit);
                    interval |= m.kind != MeasuredKind::Exact;
                }
                Cell::Duration { .. } => units.push(Unit::Seconds),
                _ => {}
            }
        }
        units.sort_unstable();
        units.dedup();
        let unit = match units[..] {
            [] => table.columns[column].unit,
            [one] => Some(one),
            _ => None,
        };
        Spread {
            interval,
            unit,
            numbers: !units.is_empty(),
        }
    }

    fn needs_unit(self) -> bool {
        self.numbers && self.unit.is_none()
    }

    fn fields(self, cell: &Cell, units: DisplayUnits) -> Vec<Field> {
        let (first, rest, unit) = match cell {
            Cell::Number(m) => number(m, units),
            Cell::Duration { seconds } => number(&Measured::exact(*seconds, Unit::Seconds), units),
            Cell::Text { text } => (Field::text(&words::text(text, units)), None, ""),
            Cell::WallTime(t) => {
                let text = t.at.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string();
                (Field::text(&text), None, "")
            }
            Cell::Missing { reason } if self.interval => {
                let kind = format!("missing: {}", words::text(reason, units));
                let empty = Field::text("");
                let rest = [empty.clone(), empty.clone(), Field::text(&kind)];
                (empty, Some(rest), "")
            }
            Cell::Missing { .. } => (Field::text(""), None, ""),
        };
        let mut out = vec![first];
        if self.interval {
            let empty = || Field::text("");
            out.extend(rest.unwrap_or_else(|| [empty(), empty(), empty()]));
        }
        if self.needs_unit() {
            out.push(Field::text(unit));
        }
        out
    }
}

/// Value; low, high and kind; unit symbol.
fn number(m: &Measured, units: DisplayUnits) -> (Field, Option<[Field; 3]>, &'static str) {
    let (m, symbol) = units.convert(m);
    let end = |x: Option<f64>| Field::number(x.unwrap_or(f64::NAN));
    let kind = match m.kind {
        MeasuredKind::Estimate => "estimate",
        MeasuredKind::UpperBound => "upper bound",
        MeasuredKind::LowerBound => "lower bound",
        MeasuredKind::Exact => "exact",
    };
    let rest = [end(m.low), end(m.high), Field::text(kind)];
    (Field::number(m.value), Some(rest), symbol)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Column;

    #[test]
    fn intervals_get_their_own_columns_and_mixed_units_a_unit_column() {
        let columns = vec![
            Column::text("corner"),
            Column::number("leak", Unit::KpaPerHour),
            Column::mixed("length"),
        ];
        let mut table = Table::new("t", "Leaks", columns);
        table.push(vec![
            "a".into(),
            Measured::below(0.5, Unit::KpaPerHour).into(),
            Cell::duration(3.0),
        ]);
        table.push(vec![
            "b".into(),
            Cell::missing("no rest"),
            Measured::exact(2.0, Unit::Mm).into(),
        ]);
        let sheet = Sheet::of(&table, DisplayUnits::default());
        assert_eq!(
            sheet.headings(),
            [
                "corner",
                "leak (kPa/h)",
                "leak low (kPa/h)",
                "leak high (kPa/h)",
                "leak kind",
                "length",
                "length unit"
            ]
        );
        let texts = |fields: &[&str]| fields.iter().map(|f| Field::text(f)).collect::<Vec<_>>();
        assert_eq!(
            sheet.fields(&table.rows[0]),
            texts(&["a", "0.5", "", "0.5", "upper bound", "3", "s"])
        );
        assert_eq!(
            sheet.fields(&table.rows[1]),
            texts(&["b", "", "", "", "missing: no rest", "2", "mm"])
        );
    }
}
