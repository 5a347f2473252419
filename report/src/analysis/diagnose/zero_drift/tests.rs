//! A pair of corners over twelve days. All data here is invented.

use super::*;
use crate::analysis::segment::{LastMove, Resolution};

fn wobble(i: u32) -> f64 {
    [1.5, -2.0, 0.5, 2.2, -1.4, -0.8][i as usize % 6]
}

/// Two rests of five hours a day; `drift` and `load` in kPa a day.
fn rests(place: &str, drift: f64, load: f64) -> Vec<Rest> {
    (0..24_u32)
        .map(|i| {
            let start_s = f64::from(i) * 43_200.0;
            let mm = if i % 3 == 0 { -40.0 } else { 0.0 };
            let points = (0..301)
                .map(|k| {
                    let t_s = start_s + f64::from(k) * 60.0;
                    RestPoint {
                        t_s,
                        kpa_abs: 550.0
                            + 0.2 * mm
                            + wobble(i)
                            + drift * t_s / 86_400.0
                            + load * start_s / 86_400.0,
                        kelvin: 288.0,
                        mm,
                        ticks: 2.0,
                    }
                })
                .collect();
            Rest {
                place: place.into(),
                points,
                bridges: Vec::new(),
                after: LastMove::Fill,
                quiet_since_s: None,
                sessions: vec![1],
                weather_unread_s: 0.0,
                resolution: Resolution::default(),
            }
        })
        .collect()
}

fn pair() -> [DriftPlace; 2] {
    let one = |place: &str, mate: &str| DriftPlace {
        place: place.into(),
        mate: Some(mate.into()),
        free_above_mm: -60.0,
    };
    [
        one("rear_left", "rear_right"),
        one("rear_right", "rear_left"),
    ]
}

#[test]
fn the_drifting_one_of_a_pair_is_found_under_a_load_both_share() {
    for (left, right, place) in [(3.0, 0.0, "rear_left"), (0.0, -3.0, "rear_right")] {
        let all = [
            rests("rear_left", left, -0.8),
            rests("rear_right", right, -0.8),
        ]
        .concat();
        let found = zero_drifts(&pair(), &all);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].place, place);
        assert!(
            (found[0].kpa_per_day.value - (left + right)).abs() < 0.3,
            "{found:?}"
        );
    }
}

#[test]
fn a_load_that_grows_is_no_drift() {
    let all = [
        rests("rear_left", 0.0, -2.0),
        rests("rear_right", 0.0, -2.0),
    ]
    .concat();
    assert_eq!(zero_drifts(&pair(), &all), []);
    let one_sided = [rests("rear_left", 0.0, 1.0), rests("rear_right", 0.0, 0.0)].concat();
    assert_eq!(zero_drifts(&pair(), &one_sided), []);
}

/// What is told as the smallest drift is found, and is no guess into the blue.
#[test]
fn a_drift_of_the_size_told_is_found() {
    let sound = [rests("rear_left", 0.0, 0.0), rests("rear_right", 0.0, 0.0)].concat();
    let kpa = drift_seen_from_kpa("rear_left", &pair(), &sound).expect("a pair");
    assert!((8.0..40.0).contains(&kpa), "{kpa}");
    let per_day = kpa / 11.5;
    let drifting = [
        rests("rear_left", per_day, 0.0),
        rests("rear_right", 0.0, 0.0),
    ]
    .concat();
    assert_eq!(zero_drifts(&pair(), &drifting).len(), 1);
}

#[test]
fn alone_the_creep_must_agree() {
    let alone = [DriftPlace {
        place: "rear".into(),
        mate: None,
        free_above_mm: -60.0,
    }];
    assert_eq!(zero_drifts(&alone, &rests("rear", 0.0, 3.0)), []);
    let found = zero_drifts(&alone, &rests("rear", 3.0, 0.0));
    assert_eq!(found.len(), 1);
}

/// Invented: a load that moves to one side, which its rubber follows within rests too.
#[test]
fn both_axles_at_once_are_a_load_and_no_sensors() {
    let mut places = pair().to_vec();
    places.extend(front_pair());
    let rear = [rests("rear_left", 0.0, 0.0), rests("rear_right", 3.0, 0.0)].concat();
    let level = [
        rests("front_left", 0.0, 0.0),
        rests("front_right", 0.0, 0.0),
    ];
    let one_drifts = [rear.clone(), level.concat()].concat();
    assert_eq!(zero_drifts(&places, &one_drifts).len(), 1);
    let shifted = [
        rests("front_left", 0.0, 0.0),
        rests("front_right", 3.0, 0.0),
    ];
    let both = [rear, shifted.concat()].concat();
    assert_eq!(zero_drifts(&places, &both), []);
}

/// Invented: one corner sinks a little more each day, and the body, which resists the
/// twist, lays its load on the other diagonal; the front takes 35 % of it. No sensor
/// drifts, though the rear moves like one and the front by too little to be one.
#[test]
fn a_body_that_twists_is_no_sensor() {
    let mut places = pair().to_vec();
    places.extend(front_pair());
    for twist in [2.6, -2.6] {
        let corner = |place: &str, share: f64| rests(place, share * twist, 0.0);
        let all = [
            corner("rear_left", 0.65),
            corner("rear_right", -0.65),
            corner("front_left", -0.35),
            corner("front_right", 0.35),
        ];
        assert_eq!(zero_drifts(&places, &all.concat()), [], "{twist}");
    }
}

fn front_pair() -> [DriftPlace; 2] {
    let front = |place: &str| {
        let other = place.replace("rear", "front");
        DriftPlace {
            mate: Some(if other == "front_left" {
                "front_right".into()
            } else {
                "front_left".into()
            }),
            place: other,
            free_above_mm: -60.0,
        }
    };
    ["rear_left", "rear_right"].map(front)
}
