//! A serial port over USB: bytes that wait for it, so that the loop never does.

use core::sync::atomic::{AtomicBool, Ordering};
use embassy_executor::Spawner;
use embassy_futures::select::{Either, select};
use embassy_rp::peripherals::USB;
use embassy_rp::usb::Driver;
use embassy_sync::blocking_mutex::raw::CriticalSectionRawMutex;
use embassy_sync::pipe::Pipe;
use embassy_time::{Duration, Timer};
use embassy_usb::class::cdc_acm::{CdcAcmClass, Sender, State};
use embassy_usb::{Builder, Config, UsbDevice};
use static_cell::StaticCell;

/// Largest packet at full speed, bytes.
const PACKET: u16 = 64;

static OUTBOX: Pipe<CriticalSectionRawMutex, 1024> = Pipe::new();
static OPEN: AtomicBool = AtomicBool::new(false);
static OPENED: AtomicBool = AtomicBool::new(false);

type Device = UsbDevice<'static, Driver<'static, USB>>;
type Line = Sender<'static, Driver<'static, USB>>;

/// Start the port.
pub fn start(spawner: Spawner, driver: Driver<'static, USB>) {
    static CONFIG: StaticCell<[u8; 256]> = StaticCell::new();
    static BOS: StaticCell<[u8; 256]> = StaticCell::new();
    static CONTROL: StaticCell<[u8; 64]> = StaticCell::new();
    static STATE: StaticCell<State> = StaticCell::new();
    // An identifier that pid.codes keeps for tests and private use.
    let mut config = Config::new(0x1209, 0x0001);
    config.product = Some("seep board");
    config.max_power = 100;
    let mut builder = Builder::new(
        driver,
        config,
        CONFIG.init([0; 256]),
        BOS.init([0; 256]),
        &mut [],
        CONTROL.init([0; 64]),
    );
    let class = CdcAcmClass::new(&mut builder, STATE.init(State::new()), PACKET);
    let (line, _) = class.split();
    // Each task is started once, so there is always room for it.
    if let (Ok(device), Ok(line)) = (run_device(builder.build()), run_line(line)) {
        spawner.spawn(device);
        spawner.spawn(line);
    }
}

/// Take all of a sentence, or none of it when there is no room. While nobody
/// has the port open nothing is kept: it would be read later as if it were new.
pub fn send(bytes: &[u8]) -> bool {
    if !OPEN.load(Ordering::Relaxed) {
        return true;
    }
    OUTBOX.free_capacity() >= bytes.len() && OUTBOX.try_write(bytes) == Ok(bytes.len())
}

/// True once after each opening of the port.
pub fn was_opened() -> bool {
    // This core has no swap; only one task clears the flag.
    let opened = OPENED.load(Ordering::Relaxed);
    if opened {
        OPENED.store(false, Ordering::Relaxed);
    }
    opened
}

#[embassy_executor::task]
async fn run_device(mut device: Device) -> ! {
    device.run().await
}

#[embassy_executor::task]
async fn run_line(mut line: Line) -> ! {
    loop {
        line.wait_connection().await;
        while !line.dtr() {
            Timer::after(Duration::from_millis(50)).await;
        }
        OUTBOX.clear();
        OPEN.store(true, Ordering::Relaxed);
        OPENED.store(true, Ordering::Relaxed);
        pass_on(&mut line).await;
        OPEN.store(false, Ordering::Relaxed);
    }
}

/// Pass bytes on until the port is closed or unplugged.
async fn pass_on(line: &mut Line) {
    // A full packet is not the last one: one byte less ends each transfer.
    let mut packet = [0; PACKET as usize - 1];
    while line.dtr() {
        let waited = Timer::after(Duration::from_millis(500));
        let length = match select(OUTBOX.read(&mut packet), waited).await {
            Either::First(length) => length,
            Either::Second(()) => continue,
        };
        if line.write_packet(&packet[..length]).await.is_err() {
            return;
        }
    }
}
