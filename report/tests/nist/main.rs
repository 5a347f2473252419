//! Fits and statistics against the NIST Statistical Reference Datasets and
//! other published results.

#![allow(clippy::unwrap_used)]

mod dat;
mod digits;
mod linear;
mod models;
mod nonlinear;
mod univariate;
