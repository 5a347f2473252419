//! Readings of one session in columns; the only room that knows polars.

mod parquet;

pub use parquet::ParquetFile;

use polars::prelude::{Column, DataFrame, PolarsError};
use seep_common::store::{Reader, StoreError};

/// Name of the log-time column.
const T_MS: &str = "t_ms";

/// Ticks of a span: log time and one column per channel, `NaN` where silent.
#[derive(Debug, Clone)]
pub struct Frame {
    table: DataFrame,
}

/// Why a frame could not be loaded.
#[derive(Debug, thiserror::Error)]
pub enum FrameError {
    /// The log could not be read.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The column engine refused the columns.
    #[error("building columns: {0}")]
    Columns(#[from] PolarsError),
}

impl Frame {
    /// Load channels over `[span.0, span.1)` of log time, ms; `shift_ms` is added
    /// to the times.
    ///
    /// # Errors
    /// The log's errors.
    pub fn load(
        reader: &Reader,
        names: &[String],
        span: (i64, i64),
        shift_ms: i64,
    ) -> Result<Self, FrameError> {
        let mut columns = reader.columns(names, span.0, span.1)?;
        for t_ms in &mut columns.t_ms {
            *t_ms += shift_ms;
        }
        let height = columns.t_ms.len();
        let mut out = vec![Column::new(T_MS.into(), columns.t_ms)];
        for (name, values) in columns.names.iter().zip(columns.values) {
            out.push(Column::new(name.as_str().into(), values));
        }
        Ok(Frame {
            table: DataFrame::new(height, out)?,
        })
    }

    /// Log times, ms, strictly rising.
    #[must_use]
    pub fn t_ms(&self) -> &[i64] {
        self.table
            .column(T_MS)
            .and_then(Column::i64)
            .and_then(|c| c.cont_slice())
            .unwrap_or(&[])
    }

    /// A channel's values in its unit, `NaN` where silent.
    #[must_use]
    pub fn column(&self, name: &str) -> Option<&[f32]> {
        self.table
            .column(name)
            .and_then(Column::f32)
            .and_then(|c| c.cont_slice())
            .ok()
    }

    /// Number of ticks.
    #[must_use]
    pub fn len(&self) -> usize {
        self.table.height()
    }

    /// True when the span holds no tick.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}
