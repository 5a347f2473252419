//! Pressure of a volume while air leaves or enters it, and how long it takes.
//!
//! Every form with a time constant is isothermal at the temperature of the
//! volume, which is right for anything slower than a minute; [`Blowdown`] has
//! the adiabatic counterpart. The forms with `C` and `b` use the exponent 0.5
//! of ISO 6358; [`Transfer`] integrates any exponent, cracking pressures,
//! falling tanks and volumes that grow.

mod blowdown;
mod charge;
mod choked;
mod laminar;
mod transfer;
mod vent;

pub use blowdown::Blowdown;
pub use charge::{charge_time_s, charged_kpa_abs};
pub use choked::{
    choked_conductance_l_per_s_bar, choked_kpa_abs, choked_time_constant_s, choked_time_s,
    half_life_s,
};
pub use laminar::{laminar_kpa_abs, laminar_time_s};
pub use transfer::{AirState, OtherSide, Transfer};
pub use vent::{vent_time_s, vented_kpa_abs};

#[cfg(test)]
mod tests;
