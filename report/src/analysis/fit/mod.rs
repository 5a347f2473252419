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

mod axis;
mod check;
mod curve;
mod exponentials;
mod least_squares;
mod linear;
mod nonlinear;
mod offset_decay;
mod outcome;
mod search;
mod separable;

pub use curve::Curve;
pub use exponentials::{Constant, Exponentials, decay, exponentials};
pub use linear::{Intercept, LinearFit, line, linear};
pub use nonlinear::nonlinear;
pub use offset_decay::{DecayFromStart, OffsetDecay, offset_decay};
pub(crate) use outcome::unbiased_lag1;
pub use outcome::{Fit, NoFit, Stop};
pub use separable::{Basis, separable};

#[cfg(test)]
mod coverage_tests;
