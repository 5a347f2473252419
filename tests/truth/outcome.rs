//! What a fault does to a car, from the truth alone.

use seep_sample_logs::scenario::Scenario;
use seep_sample_logs::truth::{RestStretch, Truth};

/// A corner on its stop has come this near to it, mm.
const STOP_MM: f64 = 12.0;

/// Share of the tank's air that may be gone in 12 h without a word.
const TOLERABLE_TANK: f64 = 0.05;

/// The corner came down to its lower stop while it rested, from well above it.
pub(crate) fn reached_stop(truth: &Truth, car: &Scenario, place: &str) -> bool {
    let Some(circuit) = car.circuits.iter().find(|c| c.name == place) else {
        return false;
    };
    let down = |r: &RestStretch| {
        let mm = r.volumes.get(place).and_then(|v| v.mm);
        mm.is_some_and(|mm| mm[0] - mm[1] > 20.0 && mm[1] < circuit.lower_stop_mm + STOP_MM)
    };
    truth.rests.iter().any(down)
}

/// Usual pressure, kPa gauge, and usual amount, ANR L, at the start of its rests.
pub(crate) fn usual(truth: &Truth, place: &str) -> Option<(f64, f64)> {
    let own = truth.rests.iter().filter_map(|r| r.volumes.get(place));
    let kpa = median(own.clone().map(|v| v.kpa_gauge[0]).collect())?;
    Some((kpa, median(own.map(|v| v.anr_l[0]).collect())?))
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

/// Air that may be gone in 12 h, as a share: for a corner what it holds above its
/// lowest good height, for the tank 5 %.
pub(crate) fn tolerable_share(truth: &Truth, car: &Scenario, place: &str) -> f64 {
    let Some(circuit) = car.circuits.iter().find(|c| c.name == place) else {
        return TOLERABLE_TANK;
    };
    let table = &truth.parameters.circuits[place].volume_at_height;
    let litres = |mm: f64| {
        let after = table
            .partition_point(|row| row[0] < mm)
            .clamp(1, table.len() - 1);
        let ([x0, y0], [x1, y1]) = (table[after - 1], table[after]);
        y0 + (y1 - y0) * (mm - x0) / (x1 - x0)
    };
    1.0 - litres(circuit.lower_stop_mm + 15.0) / litres(0.0)
}

/// Share of a volume's air that a conductance loses in 12 h.
pub(crate) fn share_in_12_h(cm3_min: f64, anr_l: f64) -> f64 {
    cm3_min * 0.72 / anr_l
}
