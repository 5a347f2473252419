//! Compressor, switches, duty, proof and forecast on invented logs made by hand, which
//! share nothing with the simulator of the sample logs.

mod bench;
mod corner;
mod delivery;
mod duty;
mod ledger;
mod lifts;
mod manifold;
mod positions;
mod proof;
mod pump;
mod reference;
mod sides;
mod switches;
mod valves;
