//! Air in volumes, through valves and out of leaks.
//!
//! No clock, no state, no I/O. The report's figures rest on these formulas, so
//! they are checked here against published figures.
//!
//! Conventions, stated once:
//! - **Units**: pressures in kPa absolute (`_kpa_abs`) unless the name says
//!   otherwise, volumes in litres (`_l`), temperatures in kelvin (`_k`), times
//!   in seconds (`_s`), heights in millimetres (`_mm`), sonic conductance in
//!   L/(s·bar) of ANR air (`c_l_per_s_bar`; 1 L/(s·bar) = 1e-8 m³/(s·Pa), the
//!   unit of ISO 6358 data sheets). 1 kPa·L is 1 J.
//! - **ANR air** (ISO 8778: 20 °C, 100 kPa) is the currency: an *ANR litre* is
//!   an amount of air, 0.041028 mol, wherever it happens to be.
//! - Transcendental functions come from `libm`, so a result is the same number
//!   on every machine.
//! - Arguments outside the stated domain give NaN or the limit the formula has
//!   there.

pub mod atmosphere;
pub mod flow;
pub mod gas;
pub mod leak;
