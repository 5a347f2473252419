//! A grid of plain characters with a labelled value axis.

use crate::render::axis::Axis;

/// Width of the axis labels.
const LABELS: usize = 9;

/// Columns that are not grid: indent, labels and the axis line.
pub(super) const MARGIN: usize = 2 + LABELS + 2;

/// Several things in one place.
const SEVERAL: char = '*';

/// The grid. Row 0 is at the top.
#[derive(Debug)]
pub(super) struct Canvas {
    /// Columns.
    pub(super) cols: usize,
    rows: usize,
    cells: Vec<char>,
}

impl Canvas {
    /// An empty grid.
    pub(super) fn new(cols: usize, rows: usize) -> Self {
        Canvas {
            cols,
            rows,
            cells: vec![' '; cols * rows],
        }
    }

    /// Column of a position from 0 to 1; none outside.
    pub(super) fn col(&self, position: f64) -> Option<usize> {
        index(position, self.cols)
    }

    /// Row of a value; none off the axis.
    fn row(&self, axis: &Axis, value: f64) -> Option<usize> {
        index(axis.position(value), self.rows).map(|from_below| self.rows - 1 - from_below)
    }

    /// Mark one value, over whatever is there.
    pub(super) fn dot(&mut self, position: f64, axis: &Axis, value: f64, mark: char) {
        if let (Some(col), Some(row)) = (self.col(position), self.row(axis, value)) {
            self.cells[row * self.cols + col] = mark;
        }
    }

    /// Mark everything from `low` to `high` in one column; two letters in one
    /// place become `*`.
    pub(super) fn run(&mut self, col: usize, axis: &Axis, low: f64, high: f64, mark: char) {
        let (Some(bottom), Some(top)) = (self.row(axis, low), self.row(axis, high)) else {
            return;
        };
        for row in top..=bottom {
            let cell = &mut self.cells[row * self.cols + col];
            *cell = match *cell {
                old if old == mark => mark,
                old if old.is_ascii_alphabetic() || old == SEVERAL => SEVERAL,
                _ => mark,
            };
        }
    }

    /// Fill the empty places of a column.
    pub(super) fn fill_empty(&mut self, col: usize, mark: char) {
        for row in 0..self.rows {
            let cell = &mut self.cells[row * self.cols + col];
            if *cell == ' ' {
                *cell = mark;
            }
        }
    }

    /// The rows with their axis labels, and the axis below.
    pub(super) fn lines(&self, axis: &Axis) -> Vec<String> {
        let mut out = self.rows(axis);
        out.push(format!("  {:>LABELS$} +{}", "", "-".repeat(self.cols)));
        out
    }

    /// The rows with their axis labels.
    pub(super) fn rows(&self, axis: &Axis) -> Vec<String> {
        let mut labels = vec![String::new(); self.rows];
        for tick in &axis.ticks {
            if let Some(row) = self.row(axis, tick.at) {
                labels[row].clone_from(&tick.label);
            }
        }
        labels
            .iter()
            .enumerate()
            .map(|(row, label)| {
                let cells = &self.cells[row * self.cols..(row + 1) * self.cols];
                let edge = if label.is_empty() { '|' } else { '+' };
                format!(
                    "  {label:>LABELS$} {edge}{}",
                    cells.iter().collect::<String>()
                )
            })
            .collect()
    }
}

/// Labels below the grid, those that would overlap left out.
pub(super) fn foot(cols: usize, labels: &[(f64, String)]) -> String {
    let mut line = String::new();
    for (position, label) in labels {
        let Some(col) = index(*position, cols) else {
            continue;
        };
        let width = label.chars().count();
        let start = col
            .saturating_sub(width / 2)
            .min(cols.saturating_sub(width));
        let used = line.chars().count();
        if used > 0 && start < used + 2 {
            continue;
        }
        line.push_str(&" ".repeat(start - used.min(start)));
        line.push_str(label);
    }
    format!("{}{line}", " ".repeat(MARGIN))
}

/// `position` from 0 to 1 as one of `n` steps.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn index(position: f64, n: usize) -> Option<usize> {
    if !(0.0..=1.0).contains(&position) || n == 0 {
        return None;
    }
    Some(((position * n as f64) as usize).min(n - 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_land_where_the_axis_says() {
        let axis = Axis::between(0.0, 4.0, 4);
        let mut canvas = Canvas::new(5, 4);
        canvas.dot(0.0, &axis, 0.5, 'o');
        canvas.dot(1.0, &axis, 4.0, 'o');
        canvas.run(2, &axis, 1.5, 2.5, 'a');
        canvas.run(2, &axis, 2.5, 2.5, 'b');
        let lines = canvas.lines(&axis);
        assert_eq!(lines[0].trim_start(), "4 +    o");
        assert_eq!(lines[1], "          2 +  *  ");
        assert_eq!(lines[2], "          1 +  a  ");
        assert_eq!(lines[3], "          0 +o    ");
    }

    #[test]
    fn labels_below_never_overlap() {
        let labels: Vec<(f64, String)> = (0..20)
            .map(|i| (f64::from(i) / 20.0, format!("label{i}")))
            .collect();
        let line = foot(40, &labels);
        assert!(line.chars().count() <= MARGIN + 40);
        assert!(line.trim().split("  ").count() >= 3, "{line}");
    }
}
