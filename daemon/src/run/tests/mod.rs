//! Collector and storage together, on clocks that a test sets. All data invented.

mod bench;
mod clocks;
mod drive;
mod long_reader;
mod rest;
