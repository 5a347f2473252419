//! Volumes of the corners from what fills take out of the tank.
//!
//! While the compressor is off, the air that leaves the tank is in the corners:
//! `Σ Δ(p·V(h)/T) = −V_tank·Δ(p_tank/T_tank)` with `V(h) = V_mid + A·(h − h_mid)`,
//! linear in each corner's volume and effective area. States are read after the
//! air has come near the temperature of its vessel again.
//!
//! A fill against a constant load moves height at constant pressure and tells the
//! area only. A load that changes while the valves are closed tells the volume:
//! `Δ(p·V(h)/T) = 0`.

mod gather;
mod solve;

pub use gather::{CircuitView, LeftOut, SessionView, transfers};
pub use solve::{GroupVolume, Solution, solve};

pub use super::volume_error::State;

/// One fill of one or more corners out of the tank, or a load that changed.
#[derive(Debug, Clone, PartialEq)]
pub struct Transfer {
    /// First opening, log time ms.
    pub from_ms: i64,
    /// Time from the last closing to the end of the readings used, s.
    pub settled_s: f64,
    /// Loss of air per litre of tank, ANR L/L.
    pub lost_per_l: f64,
    /// Its standard error from noise, ANR L/L.
    pub lost_per_l_se: f64,
    /// False when a load changed with the valves closed: nothing was moved.
    pub filled: bool,
    /// Corners filled.
    pub parts: Vec<Part>,
}

/// One corner in a transfer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Index of the circuit in the rig.
    pub circuit: usize,
    /// State before.
    pub before: State,
    /// State after.
    pub after: State,
}
