//! Rows by key, around the places that cannot be read.

use super::super::schema::quoted;
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};

/// A stretch halved this often in a row without reaching a row is lost.
const MOST_FRUITLESS: u32 = 8;

/// What was copied of one table.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Copied {
    /// Rows.
    pub rows: u64,
    /// Half-open stretches of the key that could not be read.
    pub lost: Vec<(i64, i64)>,
}

/// Copy a table row by row. A damaged page ends a scan; so each stretch is
/// scanned from both ends, and what lies between the last good rows is halved
/// until every row that any path reaches has been copied. `landmarks` are keys
/// where rows are likely, to start from.
pub(super) fn copy_table(
    old: &Connection,
    new: &Connection,
    table: &str,
    key: &str,
    landmarks: &[i64],
) -> rusqlite::Result<Copied> {
    let Ok(columns) = shared_columns(old, new, table) else {
        return Ok(Copied {
            rows: 0,
            lost: vec![(i64::MIN, i64::MAX)],
        });
    };
    let mut copier = Copier::new(old, new, table, key, &columns);
    let mut lost = Vec::new();
    let mut stretches = between(landmarks);
    while let Some((low, high, fruitless)) = stretches.pop() {
        let before = copier.rows;
        let up = copier.scan(low, high, true)?;
        if up.whole {
            continue;
        }
        let down = copier.scan(up.next, high, false)?;
        if down.whole {
            continue;
        }
        let fruitless = if copier.rows == before {
            fruitless + 1
        } else {
            0
        };
        let (low, high) = (up.next, down.next);
        if high.saturating_sub(low) <= 1 || fruitless > MOST_FRUITLESS {
            lost.push((low, high));
            continue;
        }
        // Halfway without overflow, for keys of either sign.
        let middle = (low >> 1) + (high >> 1) + (low & high & 1);
        stretches.push((middle, high, fruitless));
        stretches.push((low, middle, fruitless));
    }
    Ok(Copied {
        rows: copier.rows,
        lost: joined(lost),
    })
}

/// All keys, cut at the landmarks; the first stretch is last.
fn between(landmarks: &[i64]) -> Vec<(i64, i64, u32)> {
    let mut cuts = vec![i64::MIN, i64::MAX];
    cuts.extend(landmarks);
    cuts.sort_unstable();
    cuts.dedup();
    cuts.windows(2).rev().map(|w| (w[0], w[1], 0)).collect()
}

/// Neighbouring stretches as one.
fn joined(mut lost: Vec<(i64, i64)>) -> Vec<(i64, i64)> {
    lost.sort_unstable();
    let mut out: Vec<(i64, i64)> = Vec::new();
    for (from, to) in lost {
        match out.last_mut() {
            Some(last) if last.1 >= from => last.1 = last.1.max(to),
            _ => out.push((from, to)),
        }
    }
    out
}

/// Columns that both files have.
fn shared_columns(
    old: &Connection,
    new: &Connection,
    table: &str,
) -> rusqlite::Result<Vec<String>> {
    let of = |connection: &Connection| -> rusqlite::Result<Vec<String>> {
        connection
            .prepare("SELECT name FROM pragma_table_info(?1) ORDER BY cid")?
            .query_map([table], |row| row.get(0))?
            .collect()
    };
    let theirs = of(old)?;
    Ok(of(new)?
        .into_iter()
        .filter(|c| theirs.contains(c))
        .collect())
}

/// Where a scan of `[low, high)` came to.
struct Reached {
    /// Everything was read.
    whole: bool,
    /// Going up: first key not read. Going down: last key read, exclusive end.
    next: i64,
}

struct Copier<'a> {
    old: &'a Connection,
    new: &'a Connection,
    insert: String,
    select: String,
    width: usize,
    rows: u64,
}

impl<'a> Copier<'a> {
    fn new(
        old: &'a Connection,
        new: &'a Connection,
        table: &str,
        key: &str,
        columns: &[String],
    ) -> Self {
        let names: Vec<String> = columns.iter().map(|c| quoted(c)).collect();
        let places: Vec<String> = (1..=columns.len()).map(|i| format!("?{i}")).collect();
        let others = names.join(", ");
        Copier {
            old,
            new,
            insert: format!(
                "INSERT OR IGNORE INTO {table}({others}) VALUES ({})",
                places.join(", ")
            ),
            select: format!(
                "SELECT {key}, {others} FROM {table} WHERE {key} >= ?1 AND {key} < ?2 ORDER BY {key}"
            ),
            width: columns.len(),
            rows: 0,
        }
    }

    /// Copy rows from one end until the other or until one cannot be read.
    /// Errors of the old file end the scan; only the new file's are returned.
    fn scan(&mut self, low: i64, high: i64, up: bool) -> rusqlite::Result<Reached> {
        let mut reached = Reached {
            whole: false,
            next: if up { low } else { high },
        };
        let sql = format!("{}{}", self.select, if up { "" } else { " DESC" });
        let Ok(mut select) = self.old.prepare(&sql) else {
            return Ok(reached);
        };
        let Ok(mut rows) = select.query([low, high]) else {
            return Ok(reached);
        };
        let mut insert = self.new.prepare(&self.insert)?;
        loop {
            let row = match rows.next() {
                Ok(Some(row)) => row,
                Ok(None) => {
                    reached.whole = true;
                    return Ok(reached);
                }
                Err(_) => return Ok(reached),
            };
            let Ok(key) = row.get::<_, i64>(0) else {
                return Ok(reached);
            };
            let values: Result<Vec<Value>, _> = (1..=self.width).map(|i| row.get(i)).collect();
            let Ok(values) = values else {
                return Ok(reached);
            };
            // A key that runs the wrong way comes from a broken page.
            let in_order = if up {
                key >= reached.next
            } else {
                key < reached.next
            };
            if !in_order {
                return Ok(reached);
            }
            // A row that breaks a rule of the schema is not taken over.
            self.rows += insert.execute(params_from_iter(values))? as u64;
            reached.next = if up { key.saturating_add(1) } else { key };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::joined;

    #[test]
    fn neighbours_are_joined() {
        assert_eq!(joined(vec![(5, 9), (1, 2), (2, 4)]), [(1, 4), (5, 9)]);
    }
}
