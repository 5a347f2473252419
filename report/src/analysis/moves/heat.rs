//! Heat that a move leaves in the air of a corner.

use super::super::volume_error::State;

/// Ratio of gas constant and heat at constant pressure: `(κ − 1)/κ` with κ = 1.4.
const ISENTROPIC: f64 = 0.4 / 1.4;

/// The air of a spring gives its heat to the skin with this time constant, s. Common
/// practice, no source.
const SKIN_S: f64 = 12.0;

/// The time constant differs from spring to spring by so much, as a share of what heat
/// is left, and the skin itself keeps this share for minutes. Common practice, no source.
const UNKNOWN_SHARE: f64 = 0.5;
const KEPT_SHARE: f64 = 0.2;

/// What heat does to the amount of air told by `p·V/T` after a move.
pub(super) struct Heat {
    /// The amount is this many times what the thermometer says.
    pub factor: f64,
    /// Standard error of that factor.
    pub error: f64,
}

/// Heat left in a window after a move, whose ends are told in s after its end.
///
/// `ΔT/T = (κ−1)/κ·ln(p₁/p₀)`, whether air came, went or only the load changed, as long
/// as what comes is as warm as what is there: first law of an open system with
/// `cv·dU + p·dV = cp·T·dn`. It decays with the time constant of the skin.
pub(super) fn left(before: State, after: State, window_s: [f64; 2]) -> Heat {
    let [from, to] = window_s.map(|t| t.max(0.0) / SKIN_S);
    let decay = if to > from {
        ((-from).exp() - (-to).exp()) / (to - from)
    } else {
        1.0
    };
    let at_first = ISENTROPIC * (after.kpa_abs / before.kpa_abs).ln();
    let left = at_first * decay;
    Heat {
        factor: 1.0 / (1.0 + left),
        error: (UNKNOWN_SHARE * left)
            .hypot(KEPT_SHARE * at_first)
            .copysign(at_first),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(kpa_abs: f64) -> State {
        State {
            kpa_abs,
            kelvin: 293.15,
            mm: 0.0,
        }
    }

    /// **Source**: isentropic change, air from 600 to 660 kPa: T₂/T₁ = 1.1^0.2857 =
    /// 1.0276 (any table of isentropic flow).
    #[test]
    fn just_after_the_move_it_is_isentropic() {
        let heat = left(at(600.0), at(660.0), [0.0, 0.01]);
        assert!((1.0 / heat.factor - 1.0276).abs() < 5e-4, "{}", heat.factor);
        let late = left(at(600.0), at(660.0), [60.0, 90.0]);
        assert!((late.factor - 1.0).abs() < 1e-3 && late.error > 0.002);
        assert!(left(at(600.0), at(540.0), [0.5, 15.0]).factor > 1.0);
    }
}
