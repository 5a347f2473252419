//! Fills and dumps.

use super::Score;
use super::car::{Car, Told, rows};
use serde_json::Value;

/// Conductances of single moves that hold the true one.
///
/// True is the conductance that explains the air moved: where several valves
/// are open at once they share the supply or the exhaust, and no reading at
/// the corner can part them.
pub(super) fn conductances(car: &Car) -> Score {
    let report = car.report("moves");
    let mut score = Score::default();
    for row in rows(&report, "move-list") {
        let Some(told) = Told::of(&row[5]) else {
            continue;
        };
        if let Some(truth) = truth_of(car, row) {
            score.count(told.holds(truth));
        }
    }
    score
}

/// Mean over the openings that make up a move, weighted by the air they moved.
fn truth_of(car: &Car, row: &Value) -> Option<f64> {
    let from_ms = unix_ms(row[0]["at"].as_str()?)?;
    let path = row[1]["text"].as_str()?;
    let (place, valve) = path.rsplit_once(' ')?;
    let place = place.replace(' ', "_");
    let own: Vec<_> = car
        .truth
        .moves
        .iter()
        .filter(|m| m.circuit == place && m.valve == valve && m.start_ms >= from_ms - 300)
        .collect();
    let mut end_ms = own.first().filter(|m| m.start_ms < from_ms + 300)?.end_ms;
    let (mut sum, mut litres) = (0.0, 0.0);
    for pulse in own {
        // Pulses less than four seconds apart are told as one move.
        if pulse.start_ms - end_ms >= 4_000 {
            break;
        }
        end_ms = pulse.end_ms;
        let moved = pulse.moved_anr_l.abs();
        sum += moved * pulse.effective_c_l_s_bar;
        litres += moved;
    }
    (litres > 0.0).then(|| sum / litres)
}

/// `2026-10-16T15:20:00.1+00:00[…]` as Unix ms; the reports are in UTC.
pub(super) fn unix_ms(at: &str) -> Option<i64> {
    let (day, time) = at.split_once('T')?;
    let day: Vec<i64> = day.split('-').filter_map(|p| p.parse().ok()).collect();
    let clock: Vec<&str> = time.split('+').next()?.split(':').collect();
    let [year, month, day] = day[..] else {
        return None;
    };
    let [hour, minute, second] = clock[..] else {
        return None;
    };
    // Days from the civil calendar (H. Hinnant's public algorithm, from memory).
    let shifted = if month <= 2 { year - 1 } else { year };
    let era = shifted.div_euclid(400);
    let of_era = shifted - era * 400;
    let of_year = (153 * (if month > 2 { month - 3 } else { month + 9 }) + 2) / 5 + day - 1;
    let days = era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468;
    let seconds: f64 = second.parse().ok()?;
    let minutes = (days * 24 + hour.parse::<i64>().ok()?) * 60 + minute.parse::<i64>().ok()?;
    Some(minutes * 60_000 + (seconds * 1000.0).round() as i64)
}

/// (c) A path that is squeezed shut drifts down and takes longer at the end;
/// no other path of that car is told to fall that clearly, and nowhere else is
/// a path called slow.
pub(super) fn drift_has_the_right_sign(car: &Car) {
    let report = car.report("moves");
    let squeezed = car.truth.fault == "line_restricted";
    let named: Vec<&str> = report["findings"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|f| f["place"].as_str())
        .collect();
    if !squeezed {
        assert!(named.is_empty(), "{}: {named:?}", car.name);
        return;
    }
    assert_eq!(named, [car.truth.place.as_str()], "{}", car.name);
    let words = car.truth.place.replace('_', " ");
    let mut seen = 0;
    for row in rows(&report, "paths") {
        let path = row[0]["text"].as_str().expect("path");
        let drift = Told::of(&row[5]).expect("six moves and more");
        let (first, last) = (Told::of(&row[3]), Told::of(&row[4]));
        let (first, last) = (first.expect("s").value, last.expect("s").value);
        if path.starts_with(&words) {
            seen += 1;
            assert!(drift.high < 0.0, "{path}: {drift:?}");
            assert!(last > 1.5 * first, "{path}: {first} to {last} s");
        } else {
            assert!(drift.high > -10.0, "{path}: {drift:?}");
        }
    }
    assert_eq!(seen, 2, "fill and dump");
}

#[test]
fn wall_times_are_read() {
    assert_eq!(
        unix_ms("1970-01-02T00:00:01.5+00:00[Etc/UTC]"),
        Some(86_401_500)
    );
    // The start of a scenario, 2026-10-16 15:20 UTC by its own comment.
    assert_eq!(
        unix_ms("2026-10-16T15:20:00+00:00[Etc/UTC]"),
        Some(1_792_164_000_000)
    );
}
