//! Numbers as words: never more digits than the interval allows.
//!
//! The half width of an interval is printed with one or two significant
//! digits and the value to the same place. Two digits when the half width
//! starts with 100 to 354, one from 355 to 949, and 950 to 999 is rounded up
//! to the next power of ten with two.
//! **Source**: the rounding rule of the Particle Data Group (Review of
//! Particle Physics, introduction, "Rounding"); from memory.
//!
//! Bounds are rounded away from the claim (an upper bound up, a lower bound
//! down), so a printed bound never says more than was measured.

use crate::model::{Measured, MeasuredKind};
use crate::render::units::DisplayUnits;

use super::decimal::{self, Place};
use super::scale;
use super::signs::{MISSING, NO_BREAK};

/// A number as text, its unit apart so that a column can name it once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Printed {
    /// The number with its interval.
    pub text: String,
    /// Unit symbol; empty for counts.
    pub unit: &'static str,
}

impl Printed {
    /// Number, space, unit.
    #[must_use]
    pub fn with_unit(&self) -> String {
        if self.unit.is_empty() {
            return self.text.clone();
        }
        format!("{}{NO_BREAK}{}", self.text, self.unit)
    }
}

/// A number with its interval in the reader's units.
///
/// ```
/// use seep_report::model::{Measured, Unit};
/// use seep_report::render::units::DisplayUnits;
/// use seep_report::render::number::print;
/// let leak = Measured::plus_minus(3.1416, 0.42, Unit::KpaPerHour);
/// assert_eq!(print(&leak, DisplayUnits::default()).text, "3.1\u{a0}±\u{a0}0.4");
/// ```
#[must_use]
pub fn print(m: &Measured, units: DisplayUnits) -> Printed {
    let (converted, symbol) = units.convert(m);
    let (scaled, unit) = scale::fit(converted, symbol);
    let usual_level = (m.level - 0.95).abs() < 1e-9 || m.kind == MeasuredKind::Exact;
    let mut text = print_bare(&scaled);
    if !usual_level && m.is_usable() {
        text.push_str(&format!(
            "{NO_BREAK}({}{NO_BREAK}%)",
            decimal::plain(m.level * 100.0, 3)
        ));
    }
    Printed { text, unit }
}

/// Number with interval and unit as one phrase, for sentences.
///
/// ```
/// use seep_report::model::{Measured, Unit};
/// use seep_report::render::units::DisplayUnits;
/// use seep_report::render::number::phrase;
/// let leak = Measured::below(0.4, Unit::KpaPerHour);
/// assert_eq!(phrase(&leak, DisplayUnits::default()), "below\u{a0}0.4\u{a0}kPa/h");
/// ```
#[must_use]
pub fn phrase(m: &Measured, units: DisplayUnits) -> String {
    print(m, units).with_unit()
}

fn print_bare(m: &Measured) -> String {
    if !m.is_usable() {
        return MISSING.to_string();
    }
    let exponent = decimal::exponent_for(m);
    if exponent == 0 {
        return print_kind(m);
    }
    let shrink = 10f64.powi(-exponent);
    let mantissa = print_kind(&Measured {
        value: m.value * shrink,
        low: m.low.map(|x| x * shrink),
        high: m.high.map(|x| x * shrink),
        ..*m
    });
    let power = format!("×{NO_BREAK}10{}", decimal::superscript(exponent));
    match m.kind {
        MeasuredKind::Estimate => format!("({mantissa}){NO_BREAK}{power}"),
        _ => format!("{mantissa}{NO_BREAK}{power}"),
    }
}

fn print_kind(m: &Measured) -> String {
    match m.kind {
        MeasuredKind::Exact => decimal::plain(m.value, 4),
        MeasuredKind::UpperBound => format!("below{NO_BREAK}{}", decimal::round_up(m.value)),
        MeasuredKind::LowerBound => format!("above{NO_BREAK}{}", decimal::round_down(m.value)),
        MeasuredKind::Estimate => print_estimate(m.value, m.low, m.high),
    }
}

fn print_estimate(value: f64, low: Option<f64>, high: Option<f64>) -> String {
    match (low, high) {
        (Some(low), Some(high)) => two_sided(value, low.min(high), low.max(high)),
        (Some(low), None) => one_sided(value, low, "at\u{a0}least"),
        (None, Some(high)) => one_sided(value, high, "at\u{a0}most"),
        (None, None) => format!(
            "{}{NO_BREAK}(interval{NO_BREAK}unknown)",
            decimal::plain(value, 2)
        ),
    }
}

/// `12.3 (at least 11.8)`.
fn one_sided(value: f64, end: f64, word: &str) -> String {
    let place = Place::of_half_width((value - end).abs());
    format!(
        "{}{NO_BREAK}({word}{NO_BREAK}{})",
        place.print(value),
        place.print(end)
    )
}

/// `12.3 ± 0.4` when the sides round alike, else `12.3 (11.8 to 13.1)`.
fn two_sided(value: f64, low: f64, high: f64) -> String {
    let (below, above) = (value - low, high - value);
    let half = (high - low) / 2.0;
    if half <= value.abs() * 1e-12 {
        return decimal::plain(value, 4);
    }
    let place = Place::of_half_width(half);
    if place.print(below) == place.print(above) {
        return format!(
            "{}{NO_BREAK}±{NO_BREAK}{}",
            place.print(value),
            place.print(half)
        );
    }
    let smaller = below.min(above).abs();
    let place = place.refined_towards(Place::of_half_width(smaller));
    format!(
        "{}{NO_BREAK}({}{NO_BREAK}to{NO_BREAK}{})",
        place.print(value),
        place.print(low),
        place.print(high)
    )
}

#[cfg(test)]
mod tests;
