//! Sends what is wired to an RP2040 as sentences of NMEA 0183 over USB: ten times
//! a second while anything moves, once a second at rest. For seepd,
//! `kind = "nmea"`.
#![no_std]
#![no_main]

mod settings;
mod temperature;
mod usb;

use embassy_executor::Spawner;
use embassy_rp::adc::{self, Adc, Channel};
use embassy_rp::gpio::{Input, Pull};
use embassy_rp::i2c::{self, I2c};
use embassy_rp::peripherals::{I2C0, USB};
use embassy_rp::watchdog::Watchdog;
use embassy_rp::{bind_interrupts, usb as usb_device};
use embassy_time::{Duration, Instant, Ticker};
use panic_reset as _;
use seep_board::Board;
use settings::{NAMES, SAMPLE_EVERY_MS, SCALE, TEMPERATURE_EVERY_MS, WATCHDOG_MS};

bind_interrupts!(struct Irqs {
    USBCTRL_IRQ => usb_device::InterruptHandler<USB>;
    I2C0_IRQ => i2c::InterruptHandler<I2C0>;
});

#[embassy_executor::main]
async fn main(spawner: Spawner) {
    let p = embassy_rp::init(Default::default());
    usb::start(spawner, usb_device::Driver::new(p.USB, Irqs));

    let mut converter = Adc::new_blocking(p.ADC, adc::Config::default());
    let mut analogue = [
        Channel::new_pin(p.PIN_26, Pull::None),
        Channel::new_pin(p.PIN_27, Pull::None),
        Channel::new_pin(p.PIN_28, Pull::None),
        Channel::new_pin(p.PIN_29, Pull::None),
    ];
    // Optocouplers pull a pin to ground while the coil has current.
    let switches = [
        Input::new(p.PIN_2, Pull::Up),
        Input::new(p.PIN_3, Pull::Up),
        Input::new(p.PIN_6, Pull::Up),
        Input::new(p.PIN_7, Pull::Up),
        Input::new(p.PIN_8, Pull::Up),
    ];
    let mut bus = I2c::new_async(p.I2C0, p.PIN_5, p.PIN_4, Irqs, i2c::Config::default());

    let mut watchdog = Watchdog::new(p.WATCHDOG);
    watchdog.start(Duration::from_millis(WATCHDOG_MS));
    let mut board = Board::start(NAMES, SCALE, now_ms(), &mut usb::send);
    let mut every = Ticker::every(Duration::from_millis(SAMPLE_EVERY_MS));
    let mut temperature_0_01c = None;
    let mut temperature_due_ms = 0;
    loop {
        every.next().await;
        watchdog.feed(Duration::from_millis(WATCHDOG_MS));
        if usb::was_opened() {
            board.introduce(&mut usb::send);
        }
        let counts = core::array::from_fn(|i| {
            // The converter of this chip does not fail on a pin that is its own.
            converter
                .blocking_read(&mut analogue[i])
                .unwrap_or_default()
        });
        let on = core::array::from_fn(|i| switches[i].is_low());
        board.sample(&counts, &on);
        let now = now_ms();
        if board.is_due(now) {
            board.step(now, &mut || temperature_0_01c, &mut usb::send);
        }
        if now.wrapping_sub(temperature_due_ms) < u32::MAX / 2 {
            temperature_due_ms = now.wrapping_add(TEMPERATURE_EVERY_MS);
            temperature_0_01c = temperature::read(&mut bus).await;
        }
    }
}

/// Milliseconds since the start; wraps around after 49 days, as all who use it expect.
fn now_ms() -> u32 {
    Instant::now().as_millis() as u32
}
