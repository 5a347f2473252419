//! The J1939 module on the bus: speed, outside pressure and temperature.

use crate::rng::Noise;
use crate::scenario::Scenario;
use crate::world::World;
use crate::world::ZERO_CELSIUS_K;
use seep_common::codec::can::CanFrame;
use seep_common::codec::candump;

/// CCVS1 (PGN 65265) from address 0, priority 6.
const CCVS1: u32 = 0x18FE_F100;

/// AMB (PGN 65269) from address 0x21, priority 6.
const AMB: u32 = 0x18FE_F521;

/// The bus and its log.
#[derive(Debug)]
pub(crate) struct Bus {
    out: Vec<u8>,
    noise: Noise,
    outside_zero_k: f64,
}

impl Bus {
    /// An empty log with a first line that says what it is.
    #[must_use]
    pub(crate) fn new(scenario: &Scenario) -> Self {
        let mut noise = Noise::new(scenario.seed, "bus");
        Bus {
            out: format!(
                "# invented data: simulated scenario {}, seed {}\n",
                scenario.name, scenario.seed
            )
            .into_bytes(),
            outside_zero_k: 0.4 * noise.normal(),
            noise,
        }
    }

    /// Send the speed.
    pub(crate) fn send_speed(&mut self, world: &World, unix_ms: i64) {
        // 1/256 km/h per bit (J1939-71, SPN 84); wheel sensors see nothing
        // below a walking pace.
        let seen = if world.road.kmh < 0.6 {
            0.0
        } else {
            world.road.kmh
        };
        let [low, high] = ((seen * 256.0) as u16).to_le_bytes();
        // Byte 1: two-speed axle, parking brake (bits 3-4) released or set.
        let brake = if world.road.kmh > 0.0 { 0xF3 } else { 0xF7 };
        self.send(
            CCVS1,
            [brake, low, high, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF],
            unix_ms,
        );
    }

    /// Send outside pressure and temperature.
    pub(crate) fn send_surroundings(&mut self, world: &World, unix_ms: i64) {
        // 0.5 kPa per bit (SPN 108); 0.03125 °C per bit from −273 °C (SPN 171).
        let barometer = (world.weather.pa / 1000.0 / 0.5 + 0.05 * self.noise.normal()).round();
        let outside_c = world.weather.kelvin - ZERO_CELSIUS_K + self.outside_zero_k;
        let warm = (outside_c + 273.0) / 0.03125;
        let [low, high] = (warm.round() as u16).to_le_bytes();
        let data = [barometer as u8, 0xFF, 0xFF, low, high, 0xFF, 0xFF, 0xFF];
        self.send(AMB, data, unix_ms);
    }

    fn send(&mut self, id: u32, data: [u8; 8], unix_ms: i64) {
        let mut frame =
            CanFrame::new(id, true, &data).expect("a 29 bit identifier with 8 bytes is a frame");
        frame.t_us = unix_ms * 1000 + (self.noise.uniform() * 900.0) as i64;
        candump::append_line(&frame, &mut self.out);
    }

    /// The log.
    #[must_use]
    pub(crate) fn into_log(self) -> Vec<u8> {
        self.out
    }
}
