//! CSV tables written by other loggers.

use super::csv_time::CsvTime;
use super::lines::{TextLine, TextLines};
use super::{ITEMS_PER_FILL, Input, recorded_at};
use crate::counts::{Count, Counts};
use crate::source::{Item, Payload};
use csv_core::{ReadRecordResult, Reader, ReaderBuilder};
use seep_common::rig::{Channel, Decode, Rig, SourceKind};
use seep_common::sample::ChannelIndex;
use seep_common::time::WallMs;
use std::io::{self, BufRead};

/// Reads rows of a table. Every line is a row of its own: a stray quote spoils
/// one row, not the rest of the file.
pub(super) struct Table<R> {
    lines: TextLines<R>,
    plan: ColumnPlan,
}

/// Why a text is not a table of a source.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum NotThisTable {
    /// The time column is missing: some other file, or some other source's.
    NoTimeColumn,
    /// The time column is there, but a channel's column is not.
    NoColumn {
        /// The heading the rig names.
        wanted: String,
        /// The headings there are.
        found: Vec<String>,
    },
    /// `time_format` or `zone` of the rig cannot be used.
    Time(String),
}

/// A table's header matched with a source of the rig.
pub(super) struct ColumnPlan {
    cells: Cells,
    source: usize,
    time: CsvTime,
    time_cell: usize,
    columns: Vec<(usize, ChannelIndex, Channel)>,
    width: usize,
    decimal_comma: bool,
}

impl ColumnPlan {
    /// Match the first line of a table with `source`.
    pub(super) fn new(header: &[u8], rig: &Rig, source: usize) -> Result<Self, NotThisTable> {
        let SourceKind::Csv {
            time_column,
            time_format,
            zone,
            delimiter,
        } = &rig.sources[source].kind
        else {
            return Err(NotThisTable::NoTimeColumn);
        };
        // The rig's delimiter first, then the other usual ones: the time column
        // tells which one it is.
        let (delimiter, cells, headings, time_cell) = [*delimiter, ';', '\t', ',']
            .into_iter()
            .find_map(|delimiter| {
                let mut cells = Cells::new(delimiter);
                let row = cells.split(without_mark(header))?;
                let headings: Vec<String> = (0..row.len())
                    .map(|i| row.text(i).trim().to_string())
                    .collect();
                let time_cell = headings.iter().position(|h| h == time_column)?;
                Some((delimiter, cells, headings, time_cell))
            })
            .ok_or(NotThisTable::NoTimeColumn)?;
        Ok(ColumnPlan {
            columns: columns(rig, source, &headings)?,
            time: CsvTime::new(time_format, zone).map_err(NotThisTable::Time)?,
            width: headings.len(),
            decimal_comma: delimiter != ',',
            cells,
            source,
            time_cell,
        })
    }

    fn row(&mut self, line: &[u8], items: &mut Vec<Item>, counts: &mut Counts) {
        let (source, width) = (self.source, self.width);
        let row = self
            .cells
            .split(line)
            .filter(|row| row.len() >= width && (width..row.len()).all(|i| row.text(i).is_empty()));
        let Some(row) = row else {
            counts.one(source, Count::BadLines);
            return;
        };
        let time = self.time.parse(row.text(self.time_cell));
        let Some(t_ms) = time.map(WallMs).and_then(recorded_at) else {
            counts.one(source, Count::BadTimes);
            return;
        };
        counts.one(source, Count::TableRows);
        let before = items.len();
        for (cell, channel, facts) in &self.columns {
            match number(row.text(*cell), self.decimal_comma) {
                Cell::Silent => {}
                Cell::Bad => counts.one(source, Count::BadNumbers),
                Cell::NotAvailable => counts.one(source, Count::NotAvailable),
                Cell::Number(raw) => {
                    let payload = Payload::Reading(*channel, facts.value_of(raw, None));
                    items.push(Item { t_ms, payload });
                }
            }
        }
        if items.len() == before {
            let payload = Payload::Heard(source as u16);
            items.push(Item { t_ms, payload });
        }
    }
}

impl<R: BufRead> Table<R> {
    /// The whole table, its header included, by a plan made for it.
    pub(super) fn new(reader: R, plan: ColumnPlan) -> Self {
        let mut lines = TextLines::new(reader);
        // The header; an error here comes again with the first row.
        let _ = lines.next();
        Table { lines, plan }
    }
}

impl<R: BufRead> Input for Table<R> {
    fn fill(&mut self, items: &mut Vec<Item>, counts: &mut Counts) -> io::Result<bool> {
        let Table { lines, plan } = self;
        while items.len() < ITEMS_PER_FILL {
            match lines.next()? {
                TextLine::End => return Ok(false),
                TextLine::TooLong => counts.one(plan.source, Count::LongLines),
                TextLine::Cut(_) => counts.one(plan.source, Count::CutLines),
                TextLine::Whole([]) => {}
                TextLine::Whole(line) => plan.row(line, items, counts),
            }
        }
        Ok(true)
    }
}

fn columns(
    rig: &Rig,
    source: usize,
    headings: &[String],
) -> Result<Vec<(usize, ChannelIndex, Channel)>, NotThisTable> {
    let mut out = Vec::new();
    for (i, channel) in rig.channels.iter().enumerate() {
        let Decode::Column { name } = &channel.decode else {
            continue;
        };
        if channel.source != source {
            continue;
        }
        let Some(cell) = headings.iter().position(|h| h == name) else {
            return Err(NotThisTable::NoColumn {
                wanted: name.clone(),
                found: headings.to_vec(),
            });
        };
        out.push((cell, ChannelIndex(i as u16), channel.clone()));
    }
    Ok(out)
}

/// Take a UTF-8 byte order mark off.
pub(super) fn without_mark(bytes: &[u8]) -> &[u8] {
    bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes)
}

enum Cell {
    Silent,
    NotAvailable,
    Bad,
    Number(f64),
}

fn number(text: &str, decimal_comma: bool) -> Cell {
    // Nearly every cell is a number without space around it.
    if let Ok(value) = text.parse::<f64>() {
        return if value.is_nan() {
            Cell::NotAvailable
        } else {
            Cell::Number(value)
        };
    }
    let trimmed = text.trim();
    if trimmed.len() < text.len() {
        return number(trimmed, decimal_comma);
    }
    if text.is_empty() {
        return Cell::Silent;
    }
    if decimal_comma && let Ok(value) = text.replacen(',', ".", 1).parse::<f64>() {
        return Cell::Number(value);
    }
    match text.to_ascii_lowercase().as_str() {
        "true" | "on" => Cell::Number(1.0),
        "false" | "off" => Cell::Number(0.0),
        "null" | "na" | "n/a" | "none" | "-" => Cell::NotAvailable,
        _ => Cell::Bad,
    }
}

/// Takes lines apart.
struct Cells {
    reader: Reader,
    bytes: Vec<u8>,
    ends: Vec<usize>,
}

/// The cells of a line.
struct Row<'a> {
    bytes: &'a [u8],
    /// The same as a text: looked at once, not cell by cell.
    text: Option<&'a str>,
    ends: &'a [usize],
}

impl Cells {
    fn new(delimiter: char) -> Self {
        let delimiter = u8::try_from(delimiter).unwrap_or(b',');
        Cells {
            reader: ReaderBuilder::new().delimiter(delimiter).build(),
            bytes: Vec::new(),
            ends: Vec::new(),
        }
    }

    /// `None` when the line is no row: a quote that does not close.
    fn split(&mut self, line: &[u8]) -> Option<Row<'_>> {
        self.reader.reset();
        self.bytes.resize(line.len() + 1, 0);
        self.ends.resize(line.len() + 2, 0);
        let (mut bytes, mut ends) = (0, 0);
        for part in [line, b"\n"] {
            let mut read = 0;
            while read < part.len() {
                let (result, nin, nout, nend) = self.reader.read_record(
                    &part[read..],
                    &mut self.bytes[bytes..],
                    &mut self.ends[ends..],
                );
                read += nin;
                bytes += nout;
                ends += nend;
                if result == ReadRecordResult::Record {
                    let bytes = &self.bytes[..bytes];
                    return Some(Row {
                        bytes,
                        text: std::str::from_utf8(bytes).ok(),
                        ends: &self.ends[..ends],
                    });
                }
                if nin == 0 {
                    return None;
                }
            }
        }
        None
    }
}

impl Row<'_> {
    fn len(&self) -> usize {
        self.ends.len()
    }

    fn text(&self, i: usize) -> &str {
        let start = if i == 0 { 0 } else { self.ends[i - 1] };
        let cell = start..self.ends[i];
        let text = match self.text {
            Some(text) => text.get(cell),
            None => std::str::from_utf8(&self.bytes[cell]).ok(),
        };
        text.unwrap_or("\u{fffd}")
    }
}

#[cfg(test)]
mod tests;
