//! A temperature sensor with the register layout of the LM75 on I²C: register 0
//! holds the temperature, high byte first, 1/256 °C per count of its 16 bits.

use embassy_rp::i2c::{Async, I2c};
use embassy_rp::peripherals::I2C0;
use embassy_time::{Duration, with_timeout};

const ADDRESS: u16 = 0x48;

/// A stuck bus must not stop the loop.
const LONGEST: Duration = Duration::from_millis(20);

/// The temperature in 0.01 °C; `None` when the sensor does not answer.
pub async fn read(bus: &mut I2c<'static, I2C0, Async>) -> Option<i32> {
    let mut bytes = [0; 2];
    let asked = bus.write_read_async(ADDRESS, [0u8], &mut bytes);
    with_timeout(LONGEST, asked).await.ok()?.ok()?;
    let raw = i32::from(i16::from_be_bytes(bytes));
    Some((raw * 100 + if raw < 0 { -128 } else { 128 }) / 256)
}
