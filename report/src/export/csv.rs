//! Rows as comma-separated values.

use super::{Chunk, Data, Sink};
use crate::render::csv::writer::{Field, Writer};
use std::io::{self, Write};

/// Headings once, then rows.
#[derive(Debug, Default)]
pub(super) struct Csv {
    headed: bool,
}

/// Rows joined before they are handed on.
const ROWS_AT_ONCE: usize = 1_000;

impl Sink for Csv {
    fn chunk(&mut self, chunk: &Chunk, to: &mut dyn Write) -> io::Result<()> {
        if !self.headed {
            self.headed = true;
            let mut head = Writer::default();
            head.record(chunk.columns.iter().map(|c| Field::text(&c.0)));
            to.write_all(head.finish().as_bytes())?;
        }
        for start in (0..chunk.len()).step_by(ROWS_AT_ONCE) {
            let mut rows = Writer::default();
            for row in start..chunk.len().min(start + ROWS_AT_ONCE) {
                rows.record(chunk.columns.iter().map(|c| field(&c.1, row)));
            }
            to.write_all(rows.finish().as_bytes())?;
        }
        Ok(())
    }
}

fn field(data: &Data, row: usize) -> Field {
    match data {
        Data::Int(v) => Field::plain(&v[row].to_string()),
        Data::Time(v) => Field::plain(&v[row].map(super::tables::utc).unwrap_or_default()),
        Data::Number(v, decimals) => match v[row] {
            Some(value) => Field::plain(&format!("{value:.decimals$}")),
            None => Field::plain(""),
        },
        Data::Text(v) => Field::text(v[row].as_deref().unwrap_or_default()),
        Data::Flag(v) => Field::plain(if v[row] { "1" } else { "0" }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A place name out of a rig must not become a formula in a spreadsheet;
    /// a negative number must stay a number.
    #[test]
    fn words_are_guarded_and_numbers_are_not() {
        let chunk = Chunk {
            session: 1,
            columns: vec![
                (
                    "=place".into(),
                    Data::Text(vec![Some("=1+2,\"x\"".into()), None]),
                ),
                ("ambient_c".into(), Data::Number(vec![Some(-4.5), None], 2)),
                ("utc".into(), Data::Time(vec![Some(1_500), None])),
            ],
        };
        let mut out = Vec::new();
        let mut csv = Csv::default();
        csv.chunk(&chunk, &mut out).expect("written");
        csv.chunk(&chunk.rows(1, 2), &mut out).expect("written");
        let expected = "'=place,ambient_c,utc\r\n\"'=1+2,\"\"x\"\"\",-4.50,1970-01-01T00:00:01.500Z\r\n,,\r\n,,\r\n";
        assert_eq!(String::from_utf8(out).expect("text"), expected);
    }
}
