//! From the result value to bytes: terminal, HTML, JSON, CSV.

mod axis;
mod decimal;
mod health_tables;
pub mod number;
mod scale;
mod time_axis;
mod words;
