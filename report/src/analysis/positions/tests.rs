//! Invented moves between three heights.

use super::super::moves::{Direction, Move};
use super::*;

fn to(at_s: i64, place: &str, mm: f64) -> Move {
    Move {
        place: place.into(),
        direction: Direction::Fill,
        from_ms: at_s * 1000,
        to_ms: at_s * 1000 + 3_000,
        open_s: 3.0,
        wired: true,
        driving: None,
        mm: Some((0.0, mm)),
        kpa_abs: (500.0, 520.0),
        time_to_height_s: Some(4.0),
        timed_by_pressure: false,
        response_ms: None,
        amount_anr_l: 2.0,
        amount_error: Default::default(),
        shape_kpa: 900.0,
        conductance: 0.1,
        conductance_se: 0.01,
        at_least: false,
        error: Default::default(),
        timing: Default::default(),
    }
}

/// Forty visits, three of four to 0 mm, the others to 40; the left corner of the first
/// sinks by 0.1 mm a day; the right one starts five seconds later.
#[test]
fn the_heights_that_a_driver_comes_back_to() {
    let moves: Vec<Move> = (0..40_i64)
        .flat_map(|i| {
            let at_s = i * 43_200;
            let wobble = (i * 7 % 5 - 2) as f64 * 0.5;
            let high = if i % 4 == 3 { 40.0 } else { 0.0 };
            let sinks = if high > 0.0 { 0.0 } else { -0.05 * i as f64 };
            [
                to(at_s, "front_left", high + wobble + sinks),
                to(at_s + 5, "front_right", high - wobble),
            ]
        })
        .collect();
    let heights = |name: &str, mm: f64| NamedPosition {
        name: name.into(),
        mm: ["front_left", "front_right"]
            .map(|p| (p.to_string(), mm))
            .into(),
    };
    let named = [heights("high", 43.0), heights("low", -40.0)];
    let found = positions(&moves, 9.0, &named);
    assert_eq!(found[0].name, None);
    assert_eq!(found[1].name.as_deref(), Some("high"));
    let off = found[1].corners[1].off_mm.expect("a named height");
    assert!((off + 3.0).abs() < 0.6, "{off}");
    assert_eq!(found.iter().map(|p| p.visits).collect::<Vec<_>>(), [30, 10]);
    assert_eq!(found[0].arrival_s, Some(9.0));
    let left = &found[0].corners[0];
    let drift = left.drift_mm_per_month.expect("a drift");
    assert!((drift.value + 3.0).abs() < 0.3, "{left:?}");
    assert!(drift.low < -2.5 && drift.high < 0.0, "{left:?}");
    let slower = found[0].arrival_s_per_month.expect("a drift of the time");
    assert_eq!(slower.value, 0.0);
    assert!(
        (found[1].corners[1].mm - 40.0).abs() < 0.6,
        "{:?}",
        found[1]
    );
}

#[test]
fn places_visited_once_are_no_positions() {
    let moves: Vec<Move> = (0..5)
        .map(|i| to(i * 1_000, "front_left", 20.0 * i as f64))
        .collect();
    assert_eq!(positions(&moves, 9.0, &[]), []);
}

/// Thirty visits of one afternoon, each 0.1 mm higher: one drive is no trend of months.
#[test]
fn visits_of_one_drive_are_no_trend() {
    let moves: Vec<Move> = (0..30)
        .flat_map(|i| {
            let at_s = i * 600;
            [(at_s, 0.1 * i as f64), (at_s + 300, 60.0)].map(|(t, mm)| to(t, "front_left", mm))
        })
        .collect();
    let found = positions(&moves, 9.0, &[]);
    assert_eq!(found[0].visits, 30);
    assert_eq!(found[0].corners[0].drift_mm_per_month, None);
}
