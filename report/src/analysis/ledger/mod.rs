//! The air ledger: what came, what went, and what is left unexplained.

mod balance;
mod quiet;
mod share;
#[cfg(test)]
mod tests;

pub use balance::{Ledger, LedgerInput, VolumeEntry, balance};
pub use share::{LeakShare, idle_load_percent, leak_share};
