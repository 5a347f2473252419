//! Least-squares fits with honest intervals.
//!
//! Every fit ends in a [`Fit`]: values, standard errors, covariance, residual
//! spread, and how much the residuals hang together in time. A fit that cannot
//! be made ends in a [`NoFit`], which is an answer to report.
//!
//! Residuals of pressure and height at rest are correlated in time (slow
//! temperature, hysteresis, quantisation), so an interval that counts every
//! sample as independent is too narrow. [`Fit::allowing_for_autocorrelation`]
//! corrects it by a formula.

mod check;
mod curve;
mod least_squares;
mod linear;
mod nonlinear;
mod outcome;

pub use curve::Curve;
pub use linear::{Intercept, LinearFit, line, linear};
pub use nonlinear::nonlinear;
pub(crate) use outcome::unbiased_lag1;
pub use outcome::{Fit, NoFit, Stop};

#[cfg(test)]
mod coverage_tests;
