//! An invented corner with a height, alone or with its tank.

use super::bench::Rows;

pub(super) const AREA_CM2: f64 = 100.0;
const VOLUME_L: f64 = 3.0;
const KELVIN: f64 = 293.15;
/// A corner that sinks hands load to the others: its pressure falls with its height,
/// kPa per mm.
const STIFFNESS: f64 = 2.5;

pub(super) const RIG: &str = "[[circuit]]\nname = \"rear_left\"\nlower_stop_mm = -70.0\n\
    lowest_ok_mm = -40.0\nvolume_at_zero_height_l = 3.0\neffective_area_cm2 = 100.0\n";

pub(super) fn channels() -> Rows {
    Rows::new(&["rear_left_kpa_gauge", "rear_left_mm", "rear_left_c"])
}

/// Pressure of the corner at a height, kPa gauge.
pub(super) fn kpa_gauge(mm: f64) -> f64 {
    500.0 + STIFFNESS * mm
}

/// Amount of air, ANR L.
fn anr_l(mm: f64) -> f64 {
    let volume = VOLUME_L + AREA_CM2 * mm * 1e-4;
    (kpa_gauge(mm) + 101.325) / 100.0 * volume * 293.15 / KELVIN
}

/// Height at which the corner holds an amount of air, by bisection.
fn height_of(amount: f64) -> f64 {
    let (mut low, mut high) = (-150.0, 150.0);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if anr_l(middle) < amount {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// Heights over time: a choked hole, flow in proportion to absolute pressure, in steps of
/// a minute; `l_per_h` at the pressure of height 0.
pub(super) fn leaking(from_mm: f64, l_per_h: f64, minutes: usize) -> Vec<f64> {
    let mut amount = anr_l(from_mm);
    let mut mm = from_mm;
    let mut out = Vec::new();
    for _ in 0..minutes {
        out.push(mm);
        let flow = l_per_h * (kpa_gauge(mm) + 101.325) / (kpa_gauge(0.0) + 101.325);
        amount -= flow / 60.0;
        mm = height_of(amount);
    }
    out
}

pub(super) fn put(rows: &mut Rows, t_s: f64, mm: f64) {
    let noise = 0.1 * (t_s * 12.9898).sin();
    rows.put(t_s, "rear_left_mm", mm + 2.0 * noise);
    rows.put(t_s, "rear_left_kpa_gauge", kpa_gauge(mm) + noise);
    rows.put(t_s, "rear_left_c", KELVIN - 273.15);
}
