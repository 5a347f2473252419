//! Patterns of slow paths. All data here is invented.

use super::*;

pub(in super::super) fn path(
    place: &str,
    direction: Direction,
    first: f64,
    last: f64,
) -> MoveTrend {
    let falling = last < 0.99 * first;
    MoveTrend {
        place: place.into(),
        direction,
        moves: 12,
        by_height: true,
        conductance: Estimate {
            value: 0.1,
            se: 0.003,
            degrees_of_freedom: 10.0,
        },
        at_least: false,
        median_conductance: (first + last) / 2.0,
        first_last_third: (first, last),
        reference_time_s: None,
        ln_level: None,
        ln_change: Some(Estimate {
            value: (last / first).ln(),
            se: 0.03,
            degrees_of_freedom: 10.0,
        }),
        ln_pace_change: None,
        drift_percent_per_day: Some(if falling {
            (-10.0, -14.0, -6.0)
        } else {
            (0.0, -1.0, 1.0)
        }),
        trend_p: Some(if falling { 1e-5 } else { 0.6 }),
        scatter: 0.03,
    }
}

fn mate(place: &str) -> Option<String> {
    Some(match place {
        "front_left" => "front_right".into(),
        "front_right" => "front_left".into(),
        _ => return None,
    })
}

fn both(place: &str, fill: (f64, f64), dump: (f64, f64)) -> [MoveTrend; 2] {
    [
        path(place, Direction::Fill, fill.0, fill.1),
        path(place, Direction::Dump, dump.0, dump.1),
    ]
}

#[test]
fn both_ways_slow_is_the_line_and_one_way_is_the_valve() {
    let good = (0.1, 0.1);
    let trends = [
        both("front_left", (0.1, 0.05), (0.1, 0.06)),
        both("front_right", good, good),
    ]
    .concat();
    let found = explain_paths(&trends, mate, |_| false);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(
        matches!(&found[0].fault, Conclusion::LineRestricted { place } if place == "front_left")
    );
    assert!(found[0].developing);

    let trends = [
        both("front_left", (0.1, 0.05), good),
        both("front_right", good, good),
    ]
    .concat();
    let found = explain_paths(&trends, mate, |_| false);
    assert!(matches!(&found[0].fault, Conclusion::FillSlow { .. }));
}

/// Invented: either way alone could be chance, both together not.
#[test]
fn two_ways_of_a_line_bear_each_other_out() {
    let unsure = |t: MoveTrend| MoveTrend {
        ln_change: t.ln_change.map(|c| Estimate {
            se: 0.1,
            degrees_of_freedom: 12.0,
            ..c
        }),
        ..t
    };
    let slow = both("front_left", (0.1, 0.073), (0.12, 0.079)).map(unsure);
    assert!(
        slow.iter()
            .all(|t| t.ln_change.is_some_and(|c| c.falls_p() > CHANGE_P))
    );
    let trends = [slow, both("front_right", (0.1, 0.1), (0.1, 0.1))].concat();
    let found = explain_paths(&trends, mate, |_| false);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(matches!(&found[0].fault, Conclusion::LineRestricted { .. }));
}

/// The line's rule: what narrows it slows the wider way more. Invented.
#[test]
fn a_small_loss_of_the_other_way_does_not_make_it_the_line() {
    let trends = [
        both("front_left", (0.07, 0.038), (0.1, 0.092)),
        both("front_right", (0.07, 0.07), (0.1, 0.1)),
    ]
    .concat();
    let found = explain_paths(&trends, mate, |_| false);
    assert!(
        matches!(&found[0].fault, Conclusion::FillSlow { .. }),
        "{found:?}"
    );
}

#[test]
fn slow_throughout_shows_against_the_mate() {
    let trends = [
        both("front_left", (0.04, 0.04), (0.1, 0.1)),
        both("front_right", (0.1, 0.1), (0.1, 0.1)),
    ]
    .concat();
    let found = explain_paths(&trends, mate, |_| false);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(!found[0].developing);
    assert!(matches!(&found[0].fault, Conclusion::FillSlow { .. }));
}

#[test]
fn every_fill_slow_is_the_supply() {
    let trends: Vec<MoveTrend> = ["front_left", "front_right", "rear_left", "rear_right"]
        .iter()
        .flat_map(|p| both(p, (0.1, 0.05), (0.1, 0.1)))
        .collect();
    let found = explain_paths(&trends, mate, |_| false);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].fault, Conclusion::SupplyRestricted);
}

#[test]
fn two_circuits_whose_dumps_both_slow_have_one_exhaust() {
    let trends = [
        both("front", (0.1, 0.1), (0.2, 0.12)),
        both("rear", (0.1, 0.1), (0.2, 0.13)),
    ]
    .concat();
    let found = explain_paths(&trends, |_| None, |_| false);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].fault, Conclusion::ExhaustRestricted);
}

#[test]
fn steady_paths_have_no_finding() {
    let trends = [
        both("front_left", (0.1, 0.1), (0.1, 0.1)),
        both("front_right", (0.1, 0.1), (0.1, 0.1)),
    ]
    .concat();
    assert!(explain_paths(&trends, mate, |_| false).is_empty());
}

/// At the manifold the flow law gives the valves alone: two slow ways are two valves.
#[test]
fn no_line_is_blamed_by_a_sensor_that_sits_before_it() {
    let trends = [
        both("front_left", (0.1, 0.05), (0.1, 0.06)),
        both("front_right", (0.1, 0.1), (0.1, 0.1)),
    ]
    .concat();
    let found = explain_paths(&trends, mate, |place| place == "front_left");
    let faults: Vec<&Conclusion> = found.iter().map(|f| &f.fault).collect();
    let place = || "front_left".to_string();
    let valves = [
        Conclusion::FillSlow { place: place() },
        Conclusion::DumpSlow { place: place() },
    ];
    assert_eq!(found.len(), 2, "{faults:?}");
    assert!(valves.iter().all(|v| faults.contains(&v)), "{faults:?}");
    for f in &found {
        let total: f64 = f.ranking.iter().map(|r| r.1).sum();
        assert!((total - 1.0).abs() < 1e-9, "{total}");
    }
}
