//! From the result value to bytes: terminal, HTML, JSON, CSV.

mod axis;
pub mod csv;
mod decimal;
mod health_tables;
pub mod html;
pub mod json;
mod lines;
pub mod number;
mod place_style;
mod scale;
mod signs;
pub mod terminal;
mod time_axis;
pub mod units;
mod words;

use crate::model::{Report, Text};
use units::DisplayUnits;

pub(crate) use scale::duration as duration_words;
pub(crate) use words::capital as capital_words;

/// A text of a report in the reader's units, safe to print.
#[must_use]
pub fn text_in(text: &Text, units: DisplayUnits) -> String {
    words::text(text, units)
}

/// What the report becomes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Text for a terminal or a mail.
    Text,
    /// The result value for programs.
    Json,
    /// The tables for a spreadsheet.
    Csv,
    /// One page for a browser or a printer.
    Html,
}

/// How the report is laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RenderOptions {
    /// Units of text, HTML and CSV; JSON keeps the stored ones.
    pub units: DisplayUnits,
    /// Columns of the terminal.
    pub width: usize,
    /// Plots in plain characters between the tables.
    pub text_plots: bool,
    /// The answer only, on one screen (text).
    pub short: bool,
    /// The answer only, on one sheet with lines to sign (page).
    pub one_sheet: bool,
}

impl Default for RenderOptions {
    /// kPa, 80 columns, no plots.
    fn default() -> Self {
        RenderOptions {
            units: DisplayUnits::default(),
            width: 80,
            text_plots: false,
            short: false,
            one_sheet: false,
        }
    }
}

/// The report in `format`. The same report gives the same bytes.
#[must_use]
pub fn render(report: &Report, format: Format, options: &RenderOptions) -> String {
    match format {
        Format::Text => terminal::render(report, options),
        Format::Json => json::render(report),
        Format::Csv => csv::render(report, options.units),
        Format::Html => html::render(report, options),
    }
}
