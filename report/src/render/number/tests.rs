//! Table of printed numbers, and what must hold for any number.

use proptest::prelude::*;

use super::*;
use crate::model::Unit;
use crate::render::units::{LengthUnit, PressureUnit, TemperatureUnit};

fn text(m: &Measured) -> String {
    phrase(m, DisplayUnits::default()).replace(NO_BREAK, " ")
}

#[test]
fn estimates_print_only_what_the_interval_allows() {
    let cases = [
        (3.1437, 0.42, "3.1 ± 0.4 V"),
        (3.1437, 0.123, "3.14 ± 0.12 V"),
        (3.1437, 0.0967, "3.14 ± 0.10 V"),
        (3.1437, 0.35, "3.14 ± 0.35 V"),
        (3.1437, 0.36, "3.1 ± 0.4 V"),
        (0.03, 12.0, "0 ± 12 V"),
        (-0.03, 12.0, "0 ± 12 V"),
        (-7.26, 0.5, "−7.3 ± 0.5 V"),
        (56_712.0, 1_234.0, "56 700 ± 1200 V"),
        (567_120.0, 12_340.0, "567 000 ± 12 000 V"),
        (1234.5, 0.6, "1234.5 ± 0.6 V"),
        (12.0, 0.0, "12 V"),
        (0.000_012_3, 0.000_000_5, "(1.23 ± 0.05) × 10⁻⁵ V"),
    ];
    for (value, half, printed) in cases {
        assert_eq!(
            text(&Measured::plus_minus(value, half, Unit::Volt)),
            printed
        );
    }
}

#[test]
fn uneven_and_open_intervals_print_their_ends() {
    let inf = f64::INFINITY;
    let cases = [
        (12.3, 11.8, 13.1, "12.3 (11.8 to 13.1) V"),
        (0.02, 0.015, 0.5, "0.020 (0.015 to 0.500) V"),
        (40.0, 21.0, inf, "40 (at least 21) V"),
        (40.0, -inf, 52.0, "40 (at most 52) V"),
        (43.21, -inf, inf, "43 (interval unknown) V"),
        (12.0, 12.5, 13.0, "12.00 (12.50 to 13.00) V"),
    ];
    for (value, low, high, printed) in cases {
        assert_eq!(
            text(&Measured::estimate(value, low, high, Unit::Volt)),
            printed
        );
    }
}

#[test]
fn bounds_round_away_from_the_claim() {
    let cases = [
        (Measured::below(0.4, Unit::Volt), "below 0.4 V"),
        (Measured::below(0.431, Unit::Volt), "below 0.44 V"),
        (Measured::below(0.44, Unit::Volt), "below 0.44 V"),
        (Measured::below(0.999, Unit::Volt), "below 1 V"),
        (Measured::below(1234.0, Unit::Volt), "below 1300 V"),
        (Measured::below(0.0, Unit::Volt), "below 0 V"),
        (
            Measured::below(0.000_012_3, Unit::Volt),
            "below 1.3 × 10⁻⁵ V",
        ),
        (Measured::above(0.999, Unit::Volt), "above 0.99 V"),
        (Measured::above(-1.01, Unit::Volt), "above −1.1 V"),
        (
            Measured {
                level: 0.9,
                ..Measured::below(0.4, Unit::Volt)
            },
            "below 0.4 (90 %) V",
        ),
    ];
    for (m, printed) in cases {
        assert_eq!(text(&m), printed);
    }
}

#[test]
fn exact_numbers_and_changing_units() {
    let cases = [
        (Measured::count(0), "0"),
        (Measured::count(9_999), "9999"),
        (Measured::count(12_345_678), "12 345 678"),
        (Measured::exact(0.1 + 0.2, Unit::Volt), "0.3 V"),
        (Measured::exact(101.526, Unit::Volt), "101.5 V"),
        (Measured::exact(12.5, Unit::Percent), "12.5 %"),
        (Measured::exact(f64::NAN, Unit::Volt), "— V"),
        (
            Measured::plus_minus(0.0423, 0.003, Unit::Seconds),
            "42.3 ± 3.0 ms",
        ),
        (
            Measured::plus_minus(133_200.0, 9_000.0, Unit::Seconds),
            "37.0 ± 2.5 h",
        ),
        (
            Measured::plus_minus(900_000.0, 9_000.0, Unit::Seconds),
            "10.42 ± 0.10 d",
        ),
        (Measured::exact(52_400_000.0, Unit::Bytes), "52.4 MB"),
    ];
    for (m, printed) in cases {
        assert_eq!(text(&m), printed);
    }
}

#[test]
fn the_readers_unit_moves_value_and_interval_together() {
    let psi = DisplayUnits {
        pressure: PressureUnit::Psi,
        temperature: TemperatureUnit::Fahrenheit,
        length: LengthUnit::Inch,
    };
    let say = |m: Measured| phrase(&m, psi).replace(NO_BREAK, " ");
    assert_eq!(
        say(Measured::plus_minus(689.4757, 6.894_757, Unit::KpaGauge)),
        "100.0 ± 1.0 psi"
    );
    assert_eq!(
        say(Measured::plus_minus(20.0, 1.0, Unit::Celsius)),
        "68.0 ± 1.8 °F"
    );
}

/// The number at the start of `text`, and the size of its last place.
fn parse(text: &str) -> (f64, f64) {
    let word: String = text
        .chars()
        .map(|c| if c == '−' { '-' } else { c })
        .filter(|&c| c != NO_BREAK)
        .take_while(|&c| c == '-' || c == '.' || c.is_ascii_digit())
        .collect();
    let decimals = word.split_once('.').map_or(0, |(_, f)| f.len());
    let place = 10f64.powi(-i32::try_from(decimals).expect("a few digits"));
    (word.parse().expect("a printed number"), place)
}

proptest! {
    /// The printed value and half width lie within half a printed place (or,
    /// for grouped hundreds, within a tenth of the half width) of the true ones.
    #[test]
    fn printed_value_lies_within_rounding(
        value in -1e6..1e6f64,
        half in 1e-2..1e5f64,
    ) {
        let printed = print(&Measured::plus_minus(value, half, Unit::Volt), DisplayUnits::default());
        let (left, right) = printed.text.split_once('±').expect("symmetric");
        let (shown, place) = parse(left);
        let (shown_half, _) = parse(right.trim_start_matches(NO_BREAK));
        let slack = (place / 2.0).max(half * 0.145) * (1.0 + 1e-9);
        prop_assert!((shown - value).abs() <= slack, "{} for {value}", printed.text);
        prop_assert!((shown_half - half).abs() <= half * 0.145, "{} for {half}", printed.text);
    }

    /// Printing what was printed gives the same text again.
    #[test]
    fn printing_is_stable(value in -1e4..1e4f64, half in 1e-2..1e3f64) {
        let once = print(&Measured::plus_minus(value, half, Unit::Volt), DisplayUnits::default()).text;
        let (left, right) = once.split_once('±').expect("symmetric");
        let (value, _) = parse(left);
        let (half, _) = parse(right.trim_start_matches(NO_BREAK));
        let twice = print(&Measured::plus_minus(value, half, Unit::Volt), DisplayUnits::default()).text;
        prop_assert_eq!(once, twice);
    }

    /// A bound never says more than was measured, and at most a tenth less.
    #[test]
    fn bounds_never_claim_more(bound in 1e-2..1e6f64) {
        let up = print(&Measured::below(bound, Unit::Volt), DisplayUnits::default()).text;
        let down = print(&Measured::above(bound, Unit::Volt), DisplayUnits::default()).text;
        let (up, _) = parse(up.trim_start_matches("below\u{a0}"));
        let (down, _) = parse(down.trim_start_matches("above\u{a0}"));
        prop_assert!(up >= bound * (1.0 - 1e-9) && up <= bound * 1.1 * (1.0 + 1e-9));
        prop_assert!(down <= bound * (1.0 + 1e-9) && down >= bound * 0.9 * (1.0 - 1e-9));
    }

    /// Nothing a fit can return makes the printer fail.
    #[test]
    fn any_number_prints(value: f64, low: f64, high: f64) {
        for unit in Unit::ALL {
            let m = Measured::estimate(value, low, high, unit);
            prop_assert!(!phrase(&m, DisplayUnits::default()).is_empty());
        }
    }
}
