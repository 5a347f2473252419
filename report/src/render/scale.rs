//! Units that change with size: seconds to days, bytes to gigabytes.

use crate::model::{Measured, Unit};

const MINUTE_S: f64 = 60.0;
const HOUR_S: f64 = 3_600.0;
const DAY_S: f64 = 86_400.0;

/// The number in the size of its unit that reads best.
pub(crate) fn fit(m: Measured, symbol: &'static str) -> (Measured, &'static str) {
    let size = m.value.abs();
    let (divisor, symbol) = match m.unit {
        Unit::Seconds => time_scale(size),
        Unit::Bytes => byte_scale(size),
        _ => return (m, symbol),
    };
    let divided = Measured {
        value: m.value / divisor,
        low: m.low.map(|x| x / divisor),
        high: m.high.map(|x| x / divisor),
        ..m
    };
    (divided, symbol)
}

/// True when [`fit`] may choose another symbol from cell to cell, so that a
/// column cannot name the unit once.
pub(crate) fn varies(unit: Unit) -> bool {
    matches!(unit, Unit::Seconds | Unit::Bytes)
}

/// Divisor and symbol for a length of time, s.
pub(crate) fn time_scale(seconds: f64) -> (f64, &'static str) {
    match seconds {
        0.0 => (1.0, "s"),
        s if s < 1.0 => (1e-3, "ms"),
        s if s < 2.0 * MINUTE_S => (1.0, "s"),
        s if s < 2.0 * HOUR_S => (MINUTE_S, "min"),
        s if s < 3.0 * DAY_S => (HOUR_S, "h"),
        _ => (DAY_S, "d"),
    }
}

fn byte_scale(bytes: f64) -> (f64, &'static str) {
    match bytes {
        b if b < 1e4 => (1.0, "B"),
        b if b < 1e7 => (1e3, "kB"),
        b if b < 1e10 => (1e6, "MB"),
        _ => (1e9, "GB"),
    }
}

/// An exactly known length of time with its two largest parts: `3 d 4 h`.
pub(crate) fn duration(seconds: f64) -> String {
    use super::signs::{MISSING, NO_BREAK as N};
    if !seconds.is_finite() {
        return MISSING.to_string();
    }
    let sign = if seconds < 0.0 { "−" } else { "" };
    let s = seconds.abs();
    // Rounded before it is split, so that 59.96 s does not read `60.0 s`.
    let text = match s {
        s if s < 0.9995 => format!("{:.0}{N}ms", s * 1e3),
        s if s < 59.95 => format!("{s:.1}{N}s"),
        s if s < HOUR_S - 0.5 => two_parts(s.round(), MINUTE_S, 1.0, ["min", "s"]),
        s if s < DAY_S - 30.0 => two_parts(to_whole(s, MINUTE_S), HOUR_S, MINUTE_S, ["h", "min"]),
        s => two_parts(to_whole(s, HOUR_S), DAY_S, HOUR_S, ["d", "h"]),
    };
    format!("{sign}{text}")
}

fn to_whole(seconds: f64, unit_s: f64) -> f64 {
    (seconds / unit_s).round() * unit_s
}

fn two_parts(seconds: f64, large_s: f64, small_s: f64, names: [&str; 2]) -> String {
    use super::signs::NO_BREAK as N;
    let large = (seconds / large_s).floor();
    let small = ((seconds - large * large_s) / small_s).round();
    let [large_name, small_name] = names;
    format!("{large:.0}{N}{large_name}{N}{small:02.0}{N}{small_name}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations_read_like_speech() {
        let cases = [
            (0.0, "0 ms"),
            (0.25, "250 ms"),
            (12.34, "12.3 s"),
            (59.96, "1 min 00 s"),
            (252.0, "4 min 12 s"),
            (3599.6, "1 h 00 min"),
            (7500.0, "2 h 05 min"),
            (86_399.0, "1 d 00 h"),
            (273_600.0, "3 d 04 h"),
            (-90.0, "−1 min 30 s"),
            (f64::NAN, "—"),
        ];
        for (seconds, text) in cases {
            assert_eq!(duration(seconds).replace('\u{a0}', " "), text, "{seconds}");
        }
    }
}
