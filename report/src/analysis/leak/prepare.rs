//! From readings at rest to amounts of air.

use super::super::air::Vessel;
use super::super::segment::Rest;
use seep_common::physics::gas::{ANR_K, amount_anr_l};

/// How temperature entered the amounts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TemperatureUse {
    /// A recorded channel was used.
    Recorded,
    /// None is recorded; the swing of a night widens the interval.
    Assumed,
}

/// One rest as amounts of air against time.
#[derive(Debug, Clone, PartialEq)]
pub struct Prepared {
    /// Log times, s.
    pub t_s: Vec<f64>,
    /// Amounts, ANR L (of a 1 L volume where the rig gives none).
    pub amount_anr_l: Vec<f64>,
    /// Pressures, kPa absolute.
    pub kpa_abs: Vec<f64>,
    /// Temperatures, K.
    pub kelvin: Vec<f64>,
    /// Heights, mm, `NaN` where none is recorded.
    pub mm: Vec<f64>,
    /// Volumes, L.
    pub volume_l: Vec<f64>,
    /// Ticks behind each value.
    pub ticks: Vec<f64>,
    /// How temperature entered.
    pub temperature: TemperatureUse,
    /// True for an air spring whose height is not recorded: off its stops it
    /// sinks while its pressure stays, so it may lose more than it looks.
    pub height_missing: bool,
}

/// Means of a rest are joined until at most this many are left.
const MOST_POINTS: f64 = 300.0;

/// Shortest mean, s.
const SHORTEST_MEAN_S: f64 = 30.0;

/// Turn a rest into amounts. `None` with fewer than six usable means.
#[must_use]
pub fn prepare(rest: &Rest, vessel: &Vessel) -> Option<Prepared> {
    let has_kelvin = rest.points.iter().any(|p| !p.kelvin.is_nan());
    let has_mm = rest.points.iter().any(|p| !p.mm.is_nan());
    let width_s = (rest.seconds() / MOST_POINTS).max(SHORTEST_MEAN_S);
    let start_s = rest.points.first()?.t_s;
    let mut out = Prepared {
        t_s: Vec::new(),
        amount_anr_l: Vec::new(),
        kpa_abs: Vec::new(),
        kelvin: Vec::new(),
        mm: Vec::new(),
        volume_l: Vec::new(),
        ticks: Vec::new(),
        temperature: if has_kelvin {
            TemperatureUse::Recorded
        } else {
            TemperatureUse::Assumed
        },
        height_missing: vessel.is_spring() && !has_mm,
    };
    let mut i = 0;
    while i < rest.points.len() {
        let key = ((rest.points[i].t_s - start_s) / width_s).floor();
        let mut sums = [0.0_f64; 5];
        let mut mm_ticks = 0.0;
        while i < rest.points.len() && ((rest.points[i].t_s - start_s) / width_s).floor() <= key {
            let p = &rest.points[i];
            let usable = !has_kelvin || !p.kelvin.is_nan();
            if usable {
                sums[0] += p.ticks;
                sums[1] += p.ticks * p.t_s;
                sums[2] += p.ticks * p.kpa_abs;
                sums[3] += p.ticks * if has_kelvin { p.kelvin } else { ANR_K };
                if !p.mm.is_nan() {
                    sums[4] += p.ticks * p.mm;
                    mm_ticks += p.ticks;
                }
            }
            i += 1;
        }
        let mm = if mm_ticks > 0.0 {
            sums[4] / mm_ticks
        } else {
            f64::NAN
        };
        // With a height channel, a mean without a height has no volume.
        if sums[0] > 0.0 && (!has_mm || mm_ticks > 0.0) {
            push(&mut out, vessel, &sums, mm);
        }
    }
    (out.t_s.len() >= 6).then_some(out)
}

fn push(out: &mut Prepared, vessel: &Vessel, sums: &[f64; 5], mm: f64) {
    let kpa_abs = sums[2] / sums[0];
    let kelvin = sums[3] / sums[0];
    let volume_l = vessel.volume_l(mm);
    out.t_s.push(sums[1] / sums[0]);
    out.amount_anr_l
        .push(amount_anr_l(kpa_abs, volume_l, kelvin));
    out.kpa_abs.push(kpa_abs);
    out.kelvin.push(kelvin);
    out.mm.push(mm);
    out.volume_l.push(volume_l);
    out.ticks.push(sums[0]);
}
