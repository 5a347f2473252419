//! A leak of the tank ends its own rests: where it brings the tank down to where a
//! compressor cuts in, the air comes back and the rest is over.
//!
//! A sound log has whole nights at rest, and a limit taken from them would promise what a
//! leak of that size does not leave: a recorder that wakes with the ignition finds the
//! compressor running.

use super::input::{Car, ModelRest};
use super::plan::Reference;

/// Where less is left of what the rests tell, others decide than those that taught the errors
/// (warming days where only nights were looked at), and no limit is promised. Judgement.
const LEAST_LEFT: f64 = 0.5;

/// Rounds in which limit and rests settle; where they do not, nothing would be left.
const ROUNDS: usize = 40;

/// A rest of the tank as its limit needs it.
#[derive(Debug, Clone)]
struct TankRest {
    duration_s: f64,
    /// What it tells of the leak: its inverse variance.
    told: f64,
    /// Age of each mean, s, with `ln p/p_cut`, `p_cut` where the tank is refilled.
    ln_above_cut_in: Vec<(f64, f64)>,
    /// Known by its two ends.
    is_silent: bool,
}

impl TankRest {
    /// How long it lasts beside a leak that empties the tank by a factor e in `1/ln_per_s`:
    /// as long as the pressure that it had and the leak together stay above.
    fn lasts_s(&self, ln_per_s: f64) -> f64 {
        let mut means = self.ln_above_cut_in.iter();
        let below = means.find(|(age_s, above)| above - ln_per_s * age_s < 0.0);
        below.map_or(self.duration_s, |(age_s, _)| *age_s)
    }
}

/// Smallest leak of the tank that is found, cm³/min ANR, of one that would be with its rests
/// as they are. `None` where too little of what the rests tell would be left.
///
/// Equation: a leak c takes the pressure that a rest had without it down by `e^(−c·t/n)`, to
/// `p_cut` after `t_low`; `p_cut` is where the rig says that a compressor cuts in, or the lowest
/// pressure at which the tank ever rested. A rest of length T known by its two ends is lost
/// then. One that is watched goes on as `T/t_low` rests of that length; each tells of the leak
/// by the square of its length where the errors of its ends are the same, together `t_low/T` of
/// what it told. With the share s that is left of all inverse variances the standard error is
/// `1/√s` of what it was, and so is the limit: `c = limit/√s(c)`.
///
/// `told` gives the inverse variance of the leak of one park.
///
/// **Units**: cm³/min ANR at the usual pressure. **Domain**: limit above 0. **Source**: choked
/// discharge of a tank (ISO 6358-1).
pub(super) fn limit_with_refills(
    car: &Car,
    volume: usize,
    reference: &Reference,
    told: &dyn Fn(usize) -> f64,
    limit: f64,
) -> Option<f64> {
    let rests = tank_rests(car, volume, told);
    // L per cm³, s per min.
    let ln_per_s = |c: f64| c / 60_000.0 / reference.anr_l;
    let mut now = limit;
    for _ in 0..ROUNDS {
        let share = share_left(&rests, ln_per_s(now));
        if share < LEAST_LEFT {
            return None;
        }
        let next = limit / share.sqrt();
        if next <= 1.01 * now {
            return Some(next);
        }
        now = next;
    }
    None
}

fn tank_rests(car: &Car, volume: usize, told: &dyn Fn(usize) -> f64) -> Vec<TankRest> {
    let own = || car.rests.iter().filter(|r| r.volume == volume);
    let lowest = own().flat_map(|r| &r.kpa_abs).copied();
    let lowest = lowest.fold(f64::INFINITY, f64::min);
    let cut_in = car.volumes[volume].refilled_below_kpa_gauge;
    let rest = |r: &ModelRest| {
        let duration_s = r.end_s - r.start_s;
        let above = |i: usize| {
            let cut_in = cut_in.map_or(lowest, |gauge| gauge + r.outside_kpa_abs[i]);
            (r.t_s[i] - r.start_s, (r.kpa_abs[i] / cut_in).ln())
        };
        let mut ln_above_cut_in: Vec<(f64, f64)> = (0..r.t_s.len()).map(above).collect();
        if ln_above_cut_in.iter().any(|a| a.1 < 0.0) {
            // It went below and was not ended: nobody refills there and then.
            ln_above_cut_in.clear();
        }
        TankRest {
            duration_s,
            told: told(r.park),
            ln_above_cut_in,
            is_silent: r.longest_silence_s > 0.5 * duration_s,
        }
    };
    own().map(rest).collect()
}

/// Share of what the rests tell that is left beside a leak that empties the tank by a
/// factor e in `1/ln_per_s`.
fn share_left(rests: &[TankRest], ln_per_s: f64) -> f64 {
    let (mut left, mut all) = (0.0, 0.0);
    for r in rests {
        let lasts_s = r.lasts_s(ln_per_s);
        all += r.told;
        left += match (lasts_s >= r.duration_s, r.is_silent) {
            (true, _) => r.told,
            (false, true) => 0.0,
            (false, false) => r.told * lasts_s / r.duration_s,
        };
    }
    if all > 0.0 { left / all } else { 1.0 }
}

#[cfg(test)]
mod tests {
    use super::{TankRest, share_left};

    const NIGHT_S: f64 = 36_000.0;

    /// Invented: hourly means of a night that cools by `cooled`, ln.
    fn night(above: f64, cooled: f64, is_silent: bool) -> TankRest {
        let at = |i: i32| {
            (
                f64::from(i) / 10.0 * NIGHT_S,
                above - f64::from(i) / 10.0 * cooled,
            )
        };
        TankRest {
            duration_s: NIGHT_S,
            told: 4.0,
            ln_above_cut_in: (0..=10).map(at).collect(),
            is_silent,
        }
    }

    #[test]
    fn a_night_that_ends_below_cut_in_is_lost_or_cut_into_short_rests() {
        // Invented: falls by 0.2 in the night, so that 0.1 lasts for half of it.
        let per_s = 0.2 / NIGHT_S;
        let share = |rests: &[TankRest]| share_left(rests, per_s);
        let warm = |above, is_silent| night(above, 0.0, is_silent);
        assert_eq!(share(&[warm(0.3, true), warm(0.3, false)]), 1.0);
        assert_eq!(share(&[warm(0.15, true)]), 0.0);
        assert!((share(&[warm(0.11, false)]) - 0.6).abs() < 1e-12);
        assert!((share(&[warm(0.3, true), warm(0.15, true)]) - 0.5).abs() < 1e-12);
        assert_eq!(share(&[]), 1.0);
    }

    #[test]
    fn cold_and_leak_reach_cut_in_together() {
        let share = |cooled: f64| share_left(&[night(0.3, cooled, true)], 0.2 / NIGHT_S);
        assert_eq!((share(0.05), share(0.15)), (1.0, 0.0));
    }
}
