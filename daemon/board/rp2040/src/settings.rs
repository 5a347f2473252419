//! What is wired to the board. Pins are in `main.rs`, names and scale here.

use seep_board::{Names, Scale};

/// Names of the transducers, in the order of the pins in `main.rs`.
pub const NAMES: Names<4, 5> = Names {
    board: concat!("seep-board ", env!("CARGO_PKG_VERSION"), " rp2040"),
    analogue: ["TANK", "FRONT", "REAR", "SUPPLY"],
    switches: [
        "FRONT_FILL",
        "FRONT_DUMP",
        "REAR_FILL",
        "REAR_DUMP",
        "COMPRESSOR",
    ],
    temperature: Some("AIR"),
};

/// 12 bits of 3.3 V; 20 mV are movement: the converter's own noise and its four
/// steps of known non-linearity stay below (RP2040 datasheet, section 4.9.4).
pub const SCALE: Scale = Scale {
    reference_100uv: 33_000,
    highest_count: 4095,
    moved_100uv: 200,
};

/// Time between samples, ms.
pub const SAMPLE_EVERY_MS: u64 = 1;

/// Time between readings of the temperature, ms.
pub const TEMPERATURE_EVERY_MS: u32 = 1_000;

/// The board starts again when its loop stands still for so long, ms.
pub const WATCHDOG_MS: u64 = 2_000;
