//! Rows as one JSON object per line.

use super::{Chunk, Data, Sink};
use seep_common::text::escape_hidden;
use serde_json::{Map, Value};
use std::io::{self, Write};

/// One object per row; a silent channel is `null`.
#[derive(Debug)]
pub(super) struct JsonLines;

impl Sink for JsonLines {
    fn chunk(&mut self, chunk: &Chunk, to: &mut dyn Write) -> io::Result<()> {
        for row in 0..chunk.len() {
            let object: Map<String, Value> = chunk
                .columns
                .iter()
                .map(|(name, data)| (name.clone(), value(data, row)))
                .collect();
            let line = serde_json::to_string(&object)?;
            writeln!(to, "{}", escape_hidden(&line))?;
        }
        Ok(())
    }
}

fn value(data: &Data, row: usize) -> Value {
    match data {
        Data::Int(v) => v[row].into(),
        Data::Time(v) => v[row].map(super::tables::utc).into(),
        Data::Number(v, _) => v[row].into(),
        Data::Text(v) => v[row].clone().into(),
        Data::Flag(v) => v[row].into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_one_object() {
        let chunk = Chunk {
            session: 1,
            columns: vec![
                ("t_ms".into(), Data::Int(vec![5])),
                ("tank_kpa_gauge".into(), Data::Number(vec![None], 1)),
                ("on".into(), Data::Flag(vec![true])),
            ],
        };
        let mut out = Vec::new();
        JsonLines.chunk(&chunk, &mut out).expect("written");
        let read: Value = serde_json::from_slice(&out).expect("JSON");
        assert_eq!(
            read,
            serde_json::json!({"t_ms": 5, "tank_kpa_gauge": null, "on": true})
        );
    }
}
