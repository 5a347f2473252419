//! The pressure of a volume that empties, with the heat it takes from its wall.

use super::law::Outlet;

/// κ − 1 of air: cooling by expansion.
const COOLING: f64 = 0.4;
/// Largest share of the air that leaves in one step.
const STEP_SHARE: f64 = 0.01;

/// The same share of the overpressure times this, near the end.
const SLOWER: f64 = 4.0;
/// Most steps from one reading to the next: near outside pressure they would not end.
const MOST_STEPS: f64 = 40.0;
/// Overpressure that counts as none, as a share of outside pressure.
const EMPTY: f64 = 1e-5;

/// A volume that empties into the open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SimulatedVessel {
    pub(super) outlet: Outlet,
    pub(super) start_kpa_abs: f64,
    pub(super) outside_kpa_abs: f64,
    /// Time constant of the air's heat exchange with the wall, s.
    pub(super) heat_s: f64,
}

/// Writes the pressure at each time, the first one being the start.
///
/// `ṁ = −q(p)`, `θ̇ = (κ−1)·θ·ṁ/m + (1−θ)/τ`, `p = m·θ`: ideal gas of uniform
/// temperature, heat exchange in proportion to the difference from the wall. Midpoint
/// steps; the heat exchange is exact within a step.
pub(super) fn pressures(vessel: &SimulatedVessel, t_s: &[f64], out: &mut [f64]) {
    // Air as its pressure at the wall's temperature, and its warmth.
    let (mut air, mut warmth) = (vessel.start_kpa_abs, 1.0);
    for i in 0..t_s.len() {
        let mut left = if i == 0 { 0.0 } else { t_s[i] - t_s[i - 1] };
        while left > 0.0 {
            let rate = rate(vessel, air, warmth);
            let over = (air * warmth - vessel.outside_kpa_abs).max(0.0);
            let fast = STEP_SHARE * air.min(SLOWER * over) / (air * rate.max(1e-12));
            let fast = if over < EMPTY * vessel.outside_kpa_abs {
                left
            } else {
                fast
            };
            let h = left.min(fast.max((t_s[i] - t_s[i - 1]) / MOST_STEPS));
            let (half_air, half_warmth) = step(vessel, (air, warmth), rate, 0.5 * h);
            let middle = self::rate(vessel, half_air, half_warmth);
            (air, warmth) = step(vessel, (air, warmth), middle, h);
            left -= h;
        }
        out[i] = air * warmth;
    }
}

/// Share of the air that leaves per second.
fn rate(vessel: &SimulatedVessel, air: f64, warmth: f64) -> f64 {
    let flow = vessel
        .outlet
        .flow_kpa_per_s(air * warmth, vessel.outside_kpa_abs, warmth);
    flow / air
}

fn step(vessel: &SimulatedVessel, (air, warmth): (f64, f64), rate: f64, h: f64) -> (f64, f64) {
    let back = 1.0 / vessel.heat_s;
    let pull = back + COOLING * rate;
    let settled = back / pull;
    (
        air * (-rate * h).exp(),
        settled + (warmth - settled) * (-pull * h).exp(),
    )
}
