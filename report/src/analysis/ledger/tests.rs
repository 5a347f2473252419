//! Books of an invented tank and corner.

use super::super::air::Vessel;
use super::super::moves::{AmountError, Direction, Move, Timing};
use super::super::segment::{LastMove, Rest, RestPoint};
use super::*;
use seep_common::rig::VolumeModel;

fn vessel(place: &str, volume: VolumeModel) -> Vessel {
    Vessel {
        place: place.into(),
        volume,
        line_l: 0.0,
        volume_uncertainty: 0.02,
        lower_stop_mm: None,
        lowest_ok_mm: None,
        lowest_ok_kpa_gauge: None,
    }
}

/// Half an hour at one pressure.
fn rest(place: &str, from_s: f64, kpa_abs: f64) -> Rest {
    let points = (0..60).map(|i| RestPoint {
        t_s: from_s + 30.0 * f64::from(i),
        kpa_abs,
        kelvin: 293.15,
        mm: 0.0,
        ticks: 10.0,
    });
    Rest {
        place: place.into(),
        points: points.collect(),
        bridges: Vec::new(),
        after: LastMove::Unknown,
        quiet_since_s: None,
        sessions: vec![1],
        weather_unread_s: 0.0,
        resolution: super::super::segment::Resolution::default(),
    }
}

fn fill(at_s: f64, anr_l: f64) -> Move {
    Move {
        place: "front_left".into(),
        direction: Direction::Fill,
        from_ms: (1000.0 * at_s) as i64,
        to_ms: (1000.0 * at_s) as i64 + 2_000,
        open_s: 2.0,
        wired: true,
        driving: None,
        mm: Some((0.0, 0.0)),
        kpa_abs: (500.0, 600.0),
        time_to_height_s: None,
        timed_by_pressure: false,
        response_ms: None,
        amount_anr_l: anr_l,
        amount_error: AmountError {
            own_l: 0.05,
            shared_l: vec![0.02 * anr_l],
        },
        shape_kpa: 900.0,
        conductance: 0.1,
        conductance_se: 0.01,
        at_least: false,
        error: Default::default(),
        timing: Timing::default(),
    }
}

/// 20 L of tank fall by 15 kPa, which is 3 ANR L (p·V at 20 °C), and a corner of 3 L
/// rises by 100 kPa, which is as much.
fn books(tank_falls_kpa: f64) -> Ledger {
    books_with(tank_falls_kpa, &[])
}

fn books_with(tank_falls_kpa: f64, runs_ms: &[(i64, i64)]) -> Ledger {
    let vessels = [
        vessel("front_left", VolumeModel::Fixed { volume_l: 3.0 }),
        vessel("tank", VolumeModel::Fixed { volume_l: 20.0 }),
    ];
    let rests = [
        rest("front_left", 0.0, 500.0),
        rest("front_left", 2_000.0, 600.0),
        rest("tank", 0.0, 1_000.0),
        rest("tank", 2_000.0, 1_000.0 - tank_falls_kpa),
    ];
    balance(&LedgerInput {
        vessels: &vessels,
        rests: &rests,
        moves: &[fill(1_900.0, 3.0)],
        runs_ms,
        leaks: &[],
        own_thermometers: &["tank".into(), "front_left".into()],
        window_s: (0.0, 4_000.0),
    })
}

#[test]
fn books_that_close() {
    let ledger = books(15.0);
    assert_eq!((ledger.volumes.len(), ledger.moves), (2, 1));
    for v in &ledger.volumes {
        assert!(v.unexplained.value.abs() < 1e-9, "{v:?}");
        assert!(v.unexplained.se > 0.05, "{v:?}");
    }
    let tank = &ledger.volumes[1];
    assert!((tank.change.value + 3.0).abs() < 1e-9 && (tank.went.value - 3.0).abs() < 1e-9);
}

#[test]
fn a_valve_that_nobody_saw_is_left_over() {
    let tank = &books(45.0).volumes[1];
    assert!((tank.unexplained.value + 6.0).abs() < 1e-9, "{tank:?}");
    let (low, high) = tank.unexplained.interval_95();
    assert!(low < -6.0 && high < 0.0, "{tank:?}");
}

/// A run that begins before the recorder does fills the tank by 60 kPa all the same.
#[test]
fn a_run_cut_off_by_a_session_delivers() {
    let tank = &books_with(-60.0, &[(1_830_000, 1_860_000)]).volumes[1];
    // 20 L by 60 kPa, and what the corner took.
    assert!((tank.came.value - 15.0).abs() < 1e-9, "{tank:?}");
    assert_eq!(tank.unexplained.value, 0.0, "{tank:?}");
}

/// Invented: one hour idle with six minutes on load, then a fill made up by a run.
#[test]
fn idle_load_leaves_out_what_makes_up_for_a_fill() {
    use super::super::duty::Timeline;
    let min = 60_000;
    let runs = [(10 * min, 16 * min), (61 * min, 70 * min)];
    let timeline = Timeline::new(&runs, &[(0, 100 * min)]);
    let percent = idle_load_percent(&timeline, &[fill(3_600.0, 3.0)]).expect("known");
    // 0 to 60 min with 6 on load, 70 to 100 with none.
    assert!((percent - 100.0 * 6.0 / 90.0).abs() < 0.01, "{percent}");
}
