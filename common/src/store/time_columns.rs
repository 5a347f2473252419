//! Times in columns of the log.

use crate::time::{BootMs, LogMs, WallMs};
use rusqlite::types::{FromSql, FromSqlResult, ToSql, ToSqlOutput, ValueRef};

macro_rules! columns {
    ($($clock:ident),+) => { $(
        impl ToSql for $clock {
            fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
                self.0.to_sql()
            }
        }

        impl FromSql for $clock {
            fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
                i64::column_result(value).map($clock)
            }
        }
    )+ };
}

columns!(BootMs, LogMs, WallMs);
