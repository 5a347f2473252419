//! How long a move takes: air through a path into or out of a volume that may
//! change pressure and size on the way.

use crate::physics::flow::FlowPath;
use crate::physics::gas::{amount_anr_l, pressure_kpa_abs};

/// Pressure and volume of the air in a circuit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirState {
    /// Pressure, kPa absolute.
    pub kpa_abs: f64,
    /// Volume, L.
    pub volume_l: f64,
}

/// What is on the other end of the path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OtherSide {
    /// Pressure that does not move: the outside, or a reference tank pressure,
    /// kPa absolute.
    Constant(f64),
    /// A closed tank that gives or takes the air that passes.
    Tank(AirState),
}

/// A path between a circuit and the other side, all at one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transfer {
    /// The path.
    pub path: FlowPath,
    /// The other end.
    pub other: OtherSide,
    /// Temperature of all the air, K.
    pub t_k: f64,
}

/// Panels of the quadrature; each takes five Gauss–Legendre points.
const PANELS: u32 = 64;

/// Five-point Gauss–Legendre rule on -1 to 1: (abscissa, weight).
/// **Source**: Abramowitz and Stegun, table 25.4.
const GAUSS_5: [(f64, f64); 5] = [
    (-0.906_179_845_938_664, 0.236_926_885_056_189_1),
    (-0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
    (0.0, 0.568_888_888_888_888_9),
    (0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
    (0.906_179_845_938_664, 0.236_926_885_056_189_1),
];

impl Transfer {
    /// Time until the circuit has gone from one state to another.
    ///
    /// Pressure and volume move together along a straight line between the two
    /// states: a corner lifting its load goes along V at nearly constant p, a
    /// corner on its stops along p at constant V. The amount that must pass is
    /// integrated over the flow at each point,
    /// `t = ∫ dn/q(p_other(n), p)`, with the tank falling as it gives.
    ///
    /// With the states and pressures of a fixed reference move and a
    /// conductance fitted from any move, this is the *time-to-height at
    /// reference conditions*.
    ///
    /// **Units**: s. `None` when the path cannot carry the move: pressures do
    /// not drive it, the tank runs out, or the amount would have to rise and
    /// fall. **Domain**: isothermal; relative error below 1e-7 for exponent
    /// 0.5, below 1e-3 for other exponents when the end pressures are equal.
    /// **Source**: mass balance with ISO 6358-1.
    ///
    /// ```
    /// use seep_common::physics::discharge::{AirState, OtherSide, Transfer};
    /// use seep_common::physics::flow::FlowPath;
    /// let lift = Transfer {
    ///     path: FlowPath::new(1.0, 0.3).unwrap(),
    ///     other: OtherSide::Constant(900.0),
    ///     t_k: 293.15,
    /// };
    /// let low = AirState { kpa_abs: 500.0, volume_l: 3.0 };
    /// let high = AirState { kpa_abs: 500.0, volume_l: 4.0 };
    /// // 5 ANR litres at C·p1·share
    /// let share = lift.path.flow_share(900.0, 500.0);
    /// let t = lift.time_s(low, high).unwrap();
    /// assert!((t - 5.0 / (9.0 * share)).abs() < 1e-9);
    /// assert_eq!(lift.time_s(high, low), None); // would need a dump
    /// ```
    #[must_use]
    pub fn time_s(&self, from: AirState, to: AirState) -> Option<f64> {
        let line = Line { from, to };
        let (start, end) = (line.amount_rate(0.0), line.amount_rate(1.0));
        if start == 0.0 && end == 0.0 {
            return Some(0.0);
        }
        if start * end < 0.0 {
            return None;
        }
        let filling = start + end > 0.0;
        let width = 0.5 / f64::from(PANELS);
        let mut total = 0.0;
        for panel in 0..PANELS {
            let middle = (2.0 * f64::from(panel) + 1.0) * width;
            for (x, weight) in GAUSS_5 {
                total += weight * width * self.slowness(&line, middle + x * width, filling)?;
            }
        }
        Some(total)
    }

    /// Conductance that makes a move take a time. The path's own conductance
    /// does not matter: times go as 1/C.
    ///
    /// **Units**: s in; L/(s·bar) out. `None` as [`Transfer::time_s`].
    ///
    /// ```
    /// use seep_common::physics::discharge::{AirState, OtherSide, Transfer};
    /// use seep_common::physics::flow::FlowPath;
    /// let unit = Transfer {
    ///     path: FlowPath::new(1.0, 0.3).unwrap(),
    ///     other: OtherSide::Tank(AirState { kpa_abs: 900.0, volume_l: 20.0 }),
    ///     t_k: 293.15,
    /// };
    /// let low = AirState { kpa_abs: 400.0, volume_l: 3.0 };
    /// let high = AirState { kpa_abs: 500.0, volume_l: 4.0 };
    /// let unit_time = unit.time_s(low, high).unwrap();
    /// let c = unit.conductance_l_per_s_bar(low, high, 2.0 * unit_time).unwrap();
    /// assert!((c - 0.5).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn conductance_l_per_s_bar(
        &self,
        from: AirState,
        to: AirState,
        time_s: f64,
    ) -> Option<f64> {
        let own = self.time_s(from, to)?;
        (time_s > 0.0).then(|| self.path.c_l_per_s_bar * own / time_s)
    }

    /// Seconds per unit of the stretched path coordinate v. The stretch
    /// `s = 1 - (1-v)²` takes out the pole of 1/flow where the pressures meet.
    fn slowness(&self, line: &Line, v: f64, filling: bool) -> Option<f64> {
        let s = 1.0 - (1.0 - v) * (1.0 - v);
        let here = line.at(s);
        let passed = self.anr_l(here) - self.anr_l(line.from);
        let other = self.other_kpa_abs(passed);
        let flow = if filling {
            self.path.anr_l_per_s(other, here.kpa_abs, self.t_k)
        } else {
            self.path.anr_l_per_s(here.kpa_abs, other, self.t_k)
        };
        let amount = (line.amount_rate(s) * self.anr_l(AirState::UNIT)).abs();
        (flow > 0.0).then(|| amount * 2.0 * (1.0 - v) / flow)
    }

    fn anr_l(&self, state: AirState) -> f64 {
        amount_anr_l(state.kpa_abs, state.volume_l, self.t_k)
    }

    fn other_kpa_abs(&self, passed_anr_l: f64) -> f64 {
        match self.other {
            OtherSide::Constant(kpa_abs) => kpa_abs,
            OtherSide::Tank(tank) => {
                let left = self.anr_l(tank) - passed_anr_l;
                pressure_kpa_abs(left, tank.volume_l, self.t_k)
            }
        }
    }
}

impl AirState {
    /// 1 kPa in 1 L, to turn kPa·L into an amount.
    const UNIT: AirState = AirState {
        kpa_abs: 1.0,
        volume_l: 1.0,
    };
}

/// Straight line between two states.
struct Line {
    from: AirState,
    to: AirState,
}

impl Line {
    fn at(&self, s: f64) -> AirState {
        AirState {
            kpa_abs: self.from.kpa_abs + s * (self.to.kpa_abs - self.from.kpa_abs),
            volume_l: self.from.volume_l + s * (self.to.volume_l - self.from.volume_l),
        }
    }

    /// d(p·V)/ds, kPa·L.
    fn amount_rate(&self, s: f64) -> f64 {
        let here = self.at(s);
        (self.to.kpa_abs - self.from.kpa_abs) * here.volume_l
            + (self.to.volume_l - self.from.volume_l) * here.kpa_abs
    }
}
