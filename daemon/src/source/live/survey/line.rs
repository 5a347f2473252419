//! One serial line: its speed is found by the rate of good checksums.

use super::lock;
use crate::heard::LineSurvey;
use crate::source::live::tty::{LineTotals, Tty, read_failed, unplugged};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::io::AsyncReadExt;
use tokio::time::{Instant, timeout};
use tokio_serial::SerialPort;

/// Speeds that are tried, baud, in this order: those of NMEA 0183 and its fast
/// form (4,800 and 38,400), then the usual ones of boards.
const SPEEDS: [u32; 9] = [
    38_400, 115_200, 9_600, 4_800, 57_600, 19_200, 230_400, 460_800, 2_400,
];

/// A speed is given so long from its first byte, long enough for a sender that
/// speaks once a second.
const TRIED_FOR: Duration = Duration::from_millis(1_300);

/// Between attempts to open a line that cannot be opened.
const OPEN_AGAIN_AFTER: Duration = Duration::from_secs(1);

/// A look is taken at least so often.
const LOOK_EVERY: Duration = Duration::from_millis(100);

pub(super) async fn listen(port: String, shared: Arc<Mutex<LineSurvey>>, begun: Instant) {
    let mut totals = LineTotals::default();
    loop {
        let problem = match Tty::open(&port, SPEEDS[0], &mut totals) {
            Ok(mut tty) => {
                let why = heed(&port, &mut tty, &shared, begun).await;
                tty.close(&mut totals);
                why
            }
            Err(why) => why,
        };
        lock(&shared).set_problem(Some(problem));
        tokio::time::sleep(OPEN_AGAIN_AFTER).await;
    }
}

/// Listen until the line ends; why it did. The line stays open while speeds are
/// tried: opening it restarts many boards.
async fn heed(port: &str, tty: &mut Tty, shared: &Mutex<LineSurvey>, begun: Instant) -> String {
    let mut portion = vec![0; 4096];
    let mut tried = 0;
    let mut first_byte: Option<Instant> = None;
    lock(shared).at_speed(SPEEDS[0]);
    lock(shared).set_problem(Some("nothing was sent so far".into()));
    loop {
        match timeout(LOOK_EVERY, tty.stream.read(&mut portion)).await {
            Ok(Ok(0)) => return unplugged(port),
            Ok(Ok(n)) => {
                first_byte.get_or_insert_with(Instant::now);
                let t_s = begun.elapsed().as_secs_f64();
                lock(shared).take(&portion[..n], Some(t_s));
            }
            Ok(Err(e)) => return read_failed(port, &e),
            Err(_) if tty.is_gone() => return unplugged(port),
            Err(_) => {}
        }
        let counts = lock(shared).counts();
        if counts.sentences > counts.bad_checksums {
            lock(shared).set_problem(None);
            continue;
        }
        if first_byte.is_some_and(|at| at.elapsed() > TRIED_FOR) {
            if counts.missing_checksums > counts.bad_checksums {
                let why = "the sentences carry no checksum; let the sender add it";
                lock(shared).set_problem(Some(why.into()));
                continue;
            }
            tried += 1;
            first_byte = None;
            let baud = SPEEDS[tried % SPEEDS.len()];
            if let Err(e) = tty.stream.set_baud_rate(baud) {
                return format!("{port} cannot be set to {baud} baud: {e}");
            }
            let mut survey = lock(shared);
            survey.at_speed(baud);
            survey.set_problem(Some(searching(tried)));
        }
    }
}

fn searching(tried: usize) -> String {
    if tried < SPEEDS.len() {
        format!(
            "bytes arrive; looking for the line speed ({tried} of {} tried)",
            SPEEDS.len()
        )
    } else {
        "bytes arrive, but no good sentence at any usual speed: it is not NMEA 0183, or noise"
            .into()
    }
}
