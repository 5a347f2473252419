//! Volumes of the corners from what fills take out of the tank.
//!
//! While the compressor is off, the air that leaves the tank is in the corners:
//! `Σ Δ(p·V(h)/T) = −V_tank·Δ(p_tank/T_tank)` with `V(h) = V_mid + A·(h − h_mid)`,
//! linear in each corner's volume and effective area. States are those at which the
//! air has the temperature of its surroundings again (see `settle` and `tank`).
//!
//! A fill against a constant load moves height at constant pressure and tells the
//! area only. A load that changes while the valves are closed tells the volume:
//! `Δ(p·V(h)/T) = 0`.

mod gather;
mod heat_error;
mod settle;
mod solve;
mod stretches;
mod tank;

pub use gather::{HeatModel, LeftOut, SessionView, SettledState, transfers};
pub use heat_error::{TransferSets, solve_with_heat};
pub use solve::{GroupVolume, Solution, solve};
pub use stretches::CircuitView;
pub use tank::{Loss, TankView};

pub use super::volume_error::State;

/// A change of pressure below this share is no change of load.
const LEAST_LOAD_SHARE: f64 = 0.03;

/// One fill of one or more corners out of the tank, or a load that changed.
#[derive(Debug, Clone, PartialEq)]
pub struct Transfer {
    /// First opening, or last reading before the load changed, log time ms.
    pub from_ms: i64,
    /// Time from the last closing or the change to the end of the readings used, s.
    pub settled_s: f64,
    /// Air the tank lost; `None` when a load changed with the valves closed.
    pub loss: Option<Loss>,
    /// Corners filled or loaded.
    pub parts: Vec<Part>,
}

/// One corner in a transfer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Index of the circuit in the rig.
    pub circuit: usize,
    /// State before.
    pub before: SettledState,
    /// State after.
    pub after: SettledState,
}
