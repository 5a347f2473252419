//! Losses at rest.

use super::Score;
use super::car::{Car, Told, hours, rows};
use super::moves::unix_ms;
use serde_json::Value;

/// A tight corner is not worth its word when *below X* is above this, kPa/h: a
/// tenth of the slow leak of these logs.
const ABSURD_KPA_PER_H: f64 = 1.0;

/// The same of a tank, whose thermometer is that of the outside: what sun and
/// engine heat do to it in two days is priced and not measured.
const ABSURD_TANK_KPA_PER_H: f64 = 1.5;

/// A true loss below this is none: the seepage of a sound circuit is 0.02.
const NONE_CM3_PER_MIN: f64 = 0.1;

/// What is told of a place, and what is true.
struct Place {
    name: String,
    told: Told,
    as_pressure: Told,
    true_cm3_per_min: f64,
}

impl Place {
    fn leaks(&self) -> bool {
        self.true_cm3_per_min.abs() > NONE_CM3_PER_MIN
    }

    /// *Below X* is a one-sided statement about a loss; all else an interval.
    fn holds(&self) -> bool {
        self.told.holds(self.true_cm3_per_min)
    }
}

fn places(car: &Car) -> Vec<Place> {
    let report = car.report("leaks");
    rows(&report, "leaks")
        .iter()
        .map(|row| {
            let name = row[0]["text"].as_str().expect("place").replace(' ', "_");
            Place {
                told: Told::of(&row[3]).expect("a loss"),
                as_pressure: Told::of(&row[2]).expect("a loss"),
                true_cm3_per_min: truth_of(car, &report, &name),
                name,
            }
        })
        .collect()
}

/// Mean net loss of a place, cm³/min ANR.
///
/// Of a leak that is open all the time: litres passed over hours open, as the
/// answer sheet tells them. A leak that comes and goes has no one rate: the
/// pooled figure is the mean over the rests that the report lists, so it is held
/// against the mean over the same hours of the true rests.
fn truth_of(car: &Car, report: &Value, place: &str) -> f64 {
    let faults = || car.truth.faults.iter().filter(|f| f.passed_anr_l.is_some());
    let always = |open_h: f64| open_h > car.hours() - 0.5;
    let steady = faults().all(|f| f.open_h.is_none_or(always));
    if steady {
        let litres = car.truth.ledger.leaked[place];
        return 1000.0 * litres / (60.0 * car.hours());
    }
    let listed = listed_ms(report, place);
    let mut sum = (0.0, 0.0);
    for rest in &car.truth.rests {
        let common =
            |&(from, to): &(i64, i64)| hours(from.max(rest.start_ms), to.min(rest.end_ms)).max(0.0);
        let h: f64 = listed.iter().map(common).sum();
        sum.0 += h * rest.volumes[place].leak_anr_cm3_min;
        sum.1 += h;
    }
    assert!(sum.1 > 0.5 * car.hours(), "{} {place}: {sum:?}", car.name);
    sum.0 / sum.1
}

/// First and last moment of the rests that the report lists for a place, Unix ms.
fn listed_ms(report: &Value, place: &str) -> Vec<(i64, i64)> {
    let of_place = |row: &&Value| row[0]["text"].as_str() == Some(&place.replace('_', " "));
    rows(report, "rests")
        .iter()
        .filter(of_place)
        .map(|row| {
            let from = row[1]["at"]
                .as_str()
                .and_then(unix_ms)
                .expect("a wall time");
            let seconds = row[2]["seconds"].as_f64().expect("a length");
            (from, from + (1000.0 * seconds) as i64)
        })
        .collect()
}

/// (a) Every true leak's rate lies in the interval told for its place.
pub(super) fn true_leaks_are_told(car: &Car) {
    for place in places(car).iter().filter(|p| p.leaks()) {
        println!(
            "{} {}: true {:.3}, told {:.3} ({:.3} to {:.3}) cm³/min",
            car.name,
            place.name,
            place.true_cm3_per_min,
            place.told.value,
            place.told.low,
            place.told.high
        );
        assert!(
            place.holds(),
            "{} {}: {:?}",
            car.name,
            place.name,
            place.told
        );
    }
}

/// (b) Where nothing leaks the interval holds nothing, or *below X* is told
/// with an X that says something.
pub(super) fn tight_places_are_not_accused(car: &Car) {
    for place in places(car).iter().filter(|p| !p.leaks()) {
        let told = place.told;
        if told.is_bound {
            assert!(
                told.high >= place.true_cm3_per_min,
                "{} {}: {told:?}",
                car.name,
                place.name
            );
            let absurd = match place.name.as_str() {
                "tank" => ABSURD_TANK_KPA_PER_H,
                _ => ABSURD_KPA_PER_H,
            };
            assert!(
                place.as_pressure.high < absurd,
                "{} {}: below {} kPa/h says nothing",
                car.name,
                place.name,
                place.as_pressure.high
            );
        } else {
            assert!(
                told.holds(0.0) || told.holds(place.true_cm3_per_min),
                "{} {}: {told:?}",
                car.name,
                place.name
            );
        }
    }
}

/// How often the truth is in.
pub(super) struct Coverage {
    pub(super) leaks: Score,
    pub(super) places: Score,
}

/// Count for one car; the interval of a tight place is its *below X* or holds
/// its seepage.
pub(super) fn coverage(car: &Car) -> Coverage {
    let mut out = Coverage {
        leaks: Score::default(),
        places: Score::default(),
    };
    for place in places(car) {
        let held = place.holds();
        if !held {
            println!(
                "{} {}: true {:.3}, told {:?}",
                car.name, place.name, place.true_cm3_per_min, place.told
            );
        }
        out.places.count(held);
        if place.leaks() {
            out.leaks.count(held);
        }
    }
    out
}
