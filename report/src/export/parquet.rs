//! Rows as Parquet, one file or a data set in folders; the only file that knows polars.

use super::{Chunk, Data};
use polars::io::parquet::write::BatchedWriter;
use polars::prelude::{
    BooleanChunked, Column, DataFrame, Float64Chunked, Int64Chunked, IntoColumn, IntoSeries,
    KeyValueMetadata, NewChunkedArray, ParquetCompression, ParquetWriter, StatisticsOptions,
    StringChunked, TimeUnit, TimeZone,
};
use std::io::Write;

/// Why columns cannot be written as Parquet.
pub use polars::prelude::PolarsError as ParquetError;

/// One Parquet file under construction.
pub struct ParquetFile<W: Write + Send> {
    writer: BatchedWriter<W>,
}

impl<W: Write + Send> std::fmt::Debug for ParquetFile<W> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("ParquetFile").finish_non_exhaustive()
    }
}

impl<W: Write + Send> ParquetFile<W> {
    /// Begin a file with the columns of `like`; `about` is stored in its footer.
    ///
    /// # Errors
    /// The column engine's errors.
    pub fn begin(to: W, like: &Chunk, about: &[(&str, String)]) -> Result<Self, ParquetError> {
        let metadata = about
            .iter()
            .map(|(key, value)| ((*key).to_string(), value.clone()))
            .collect();
        let writer = ParquetWriter::new(to)
            .with_compression(ParquetCompression::Snappy)
            .with_statistics(StatisticsOptions::default())
            .set_parallel(false)
            .with_key_value_metadata(Some(KeyValueMetadata::from_static(metadata)))
            .batched(table(like)?.schema())?;
        Ok(ParquetFile { writer })
    }

    /// Add rows; the columns must be those of the beginning.
    ///
    /// # Errors
    /// The column engine's errors, and the writer's.
    pub fn push(&mut self, chunk: &Chunk) -> Result<(), ParquetError> {
        if !chunk.is_empty() {
            self.writer.write_batch(&table(chunk)?)?;
        }
        Ok(())
    }

    /// Write the footer.
    ///
    /// # Errors
    /// The writer's errors.
    pub fn finish(self) -> Result<(), ParquetError> {
        self.writer.finish()?;
        Ok(())
    }
}

fn table(chunk: &Chunk) -> Result<DataFrame, ParquetError> {
    let columns: Vec<Column> = chunk
        .columns
        .iter()
        .map(|(name, data)| column(name, data))
        .collect::<Result<_, _>>()?;
    DataFrame::new(chunk.len(), columns)
}

fn column(name: &str, data: &Data) -> Result<Column, ParquetError> {
    let name = name.into();
    Ok(match data {
        Data::Int(v) => Column::new(name, v),
        Data::Number(v, _) => Float64Chunked::from_slice_options(name, v)
            .into_series()
            .into_column(),
        Data::Flag(v) => BooleanChunked::from_slice(name, v)
            .into_series()
            .into_column(),
        Data::Text(v) => StringChunked::from_iter_options(name, v.iter().map(Option::as_deref))
            .into_series()
            .into_column(),
        Data::Time(v) => Int64Chunked::from_slice_options(name, v)
            .into_datetime(TimeUnit::Milliseconds, Some(TimeZone::UTC))
            .into_series()
            .into_column(),
    })
}
