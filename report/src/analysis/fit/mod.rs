//! Least-squares fits with honest intervals.
//!
//! Every fit ends in a [`Fit`]: values, standard errors, covariance, residual
//! spread, and how much the residuals hang together in time. A fit that cannot
//! be made ends in a [`NoFit`], which is an answer to report.
//!
//! Residuals of pressure and height at rest are correlated in time (slow
//! temperature, hysteresis, quantisation), so an interval that counts every
//! sample as independent is too narrow. [`Fit::allowing_for_autocorrelation`]
//! corrects it.

mod check;
mod least_squares;
mod linear;
mod outcome;

pub use linear::{Intercept, LinearFit, line, linear};
pub use outcome::{Fit, NoFit, Stop};
