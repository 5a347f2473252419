//! Decimal places: choosing them, rounding to them, printing them.

use crate::model::{Measured, MeasuredKind};

use super::signs::{MISSING, NO_BREAK};

/// Sign of negative numbers.
const MINUS: char = '−';

/// A decimal place: numbers are rounded to multiples of `10^exponent`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Place {
    exponent: i32,
}

impl Place {
    /// The place a half width allows (see [`super::number`] for the rule).
    pub(crate) fn of_half_width(half_width: f64) -> Place {
        if !(half_width.is_finite() && half_width > 0.0) {
            return Place { exponent: -3 };
        }
        let magnitude = magnitude_of(half_width);
        let leading = half_width / 10f64.powi(magnitude);
        // 950 to 999 needs no arm of its own: printed to the place of its first
        // digit it carries over into `10`, two digits.
        let exponent = if leading < 3.55 {
            magnitude - 1
        } else {
            magnitude
        };
        Place { exponent }
    }

    /// At most one digit finer than `self`, if `other` asks for it.
    pub(crate) fn refined_towards(self, other: Place) -> Place {
        Place {
            exponent: other.exponent.clamp(self.exponent - 1, self.exponent),
        }
    }

    /// The place of `digits` significant digits of `value`.
    fn of_digits(value: f64, digits: i32) -> Place {
        Place {
            exponent: magnitude_of(value) - digits + 1,
        }
    }

    /// `value` rounded to this place, as text.
    pub(crate) fn print(self, value: f64) -> String {
        let step = 10f64.powi(self.exponent.max(0));
        let rounded = if self.exponent > 0 {
            (value / step).round() * step
        } else {
            value
        };
        let decimals = usize::try_from(-self.exponent).unwrap_or(0);
        group(&format!("{rounded:.decimals$}"))
    }

    /// `value` as a whole number of steps of this place, by `rounding`.
    fn steps(self, value: f64, rounding: fn(f64) -> f64) -> f64 {
        // Dividing by a power of ten leaves an error far below a billionth of
        // a step, which must not push an exact number over the edge.
        let steps = value * 10f64.powi(-self.exponent);
        let nearest = steps.round();
        if (steps - nearest).abs() < 1e-9 {
            nearest
        } else {
            rounding(steps)
        }
    }

    fn print_steps(self, steps: f64) -> String {
        let text = if self.exponent > 0 {
            format!("{:.0}", steps * 10f64.powi(self.exponent))
        } else {
            let decimals = usize::try_from(-self.exponent).unwrap_or(0);
            format!("{:.decimals$}", steps / 10f64.powi(-self.exponent))
        };
        trim_zeros(&group(&text))
    }
}

/// Power of ten of the first digit; zero for zero.
fn magnitude_of(value: f64) -> i32 {
    let size = value.abs();
    if size == 0.0 || !size.is_finite() {
        return 0;
    }
    // The scientific form knows the first digit exactly; a logarithm can be
    // off by one next to a power of ten.
    let text = format!("{size:e}");
    text.split_once('e')
        .and_then(|(_, exponent)| exponent.parse().ok())
        .unwrap_or(0)
}

/// A number without interval: whole numbers in full, others with at most
/// `digits` significant digits, never fewer than the whole part has.
pub(crate) fn plain(value: f64, digits: i32) -> String {
    if !value.is_finite() {
        return MISSING.to_string();
    }
    let whole = (value - value.round()).abs() <= value.abs() * 1e-12;
    let place = Place::of_digits(value, digits);
    let exponent = if whole { 0 } else { place.exponent.min(0) };
    trim_zeros(&Place { exponent }.print(value))
}

/// Two significant digits, rounded up.
pub(crate) fn round_up(value: f64) -> String {
    let place = Place::of_digits(value, 2);
    place.print_steps(place.steps(value, f64::ceil))
}

/// Two significant digits, rounded down.
pub(crate) fn round_down(value: f64) -> String {
    let place = Place::of_digits(value, 2);
    place.print_steps(place.steps(value, f64::floor))
}

/// Power of ten to take out of a number too small or too large to read.
pub(crate) fn exponent_for(m: &Measured) -> i32 {
    let ends = [Some(m.value), m.low, m.high];
    let largest = ends.iter().flatten().fold(0.0f64, |a, x| a.max(x.abs()));
    let whole = m.kind == MeasuredKind::Exact && m.value.fract() == 0.0;
    if largest == 0.0 || whole || (1e-3..1e7).contains(&largest) {
        0
    } else {
        magnitude_of(largest)
    }
}

/// `-5` as `⁻⁵`.
pub(crate) fn superscript(exponent: i32) -> String {
    exponent
        .to_string()
        .chars()
        .map(|c| match c {
            '-' => '⁻',
            '1' => '¹',
            '2' => '²',
            '3' => '³',
            '4' => '⁴',
            '5' => '⁵',
            '6' => '⁶',
            '7' => '⁷',
            '8' => '⁸',
            '9' => '⁹',
            _ => '⁰',
        })
        .collect()
}

/// True minus sign, no minus zero, groups of three from five digits on.
fn group(text: &str) -> String {
    let negative = text.starts_with('-') && text.chars().any(|c| ('1'..='9').contains(&c));
    let digits = text.trim_start_matches('-');
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    let mut out = String::with_capacity(text.len() + 4);
    if negative {
        out.push(MINUS);
    }
    for (i, c) in whole.chars().enumerate() {
        if i > 0 && whole.len() > 4 && (whole.len() - i).is_multiple_of(3) {
            out.push(NO_BREAK);
        }
        out.push(c);
    }
    if !fraction.is_empty() {
        out.push('.');
        out.push_str(fraction);
    }
    out
}

fn trim_zeros(text: &str) -> String {
    if !text.contains('.') {
        return text.to_string();
    }
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}
