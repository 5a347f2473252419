//! Times that arithmetic can be done on.

use super::super::StoreError;
use super::super::error::Doing;
use rusqlite::Connection;
use std::path::Path;

/// First and last time that can be meant: ten thousand years on both sides of
/// 1970, ms. Sums and differences of two such times fit an `i64` with ease.
const LIMIT_MS: i64 = 10_000 * 365 * 86_400_000;

/// Every column whose value the recorder computes with.
const TIMES: [(&str, &str); 8] = [
    ("tick", "t_ms"),
    ("session", "start_t_ms"),
    ("session", "end_t_ms"),
    ("session", "start_boot_ms"),
    ("clock", "noted_t_ms"),
    ("clock", "from_t_ms"),
    ("clock", "offset_ms"),
    ("gap", "to_t_ms"),
];

/// Refuse a log with a time that cannot be meant: one bad cell near the end of
/// the number range must not stop recording for ever.
///
/// # Errors
/// [`StoreError::Damaged`] names table, column and value.
pub(super) fn check_times(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    for (table, column) in TIMES {
        if !has_column(connection, table, column).doing(path, "checking times")? {
            continue;
        }
        let (low, high): (Option<f64>, Option<f64>) = connection
            .query_row(
                &format!(
                    "SELECT CAST((SELECT min({column}) FROM {table}) AS REAL),
                            CAST((SELECT max({column}) FROM {table}) AS REAL)"
                ),
                [],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
            .doing(path, "checking times")?;
        let limit = LIMIT_MS as f64;
        let bad = [low, high].into_iter().flatten().find(|t| t.abs() > limit);
        if let Some(t_ms) = bad {
            return Err(StoreError::Damaged {
                path: path.into(),
                detail: format!(
                    "`{column}` of a row of `{table}` is {t_ms:.0} ms, which is no time that can be meant"
                ),
            });
        }
    }
    Ok(())
}

/// Older schemas lack some.
fn has_column(connection: &Connection, table: &str, column: &str) -> rusqlite::Result<bool> {
    connection.query_row(
        "SELECT count(*) FROM pragma_table_info(?1) WHERE name = ?2",
        [table, column],
        |row| row.get::<_, i64>(0).map(|n| n > 0),
    )
}
