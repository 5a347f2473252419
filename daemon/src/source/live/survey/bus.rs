//! One CAN interface: every frame, nothing sent.

use super::lock;
use crate::heard::BusSurvey;
use crate::source::live::can::{Bus, Received, received};
use seep_common::codec::decode::IdFilter;
use std::io;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::time::Instant;

/// Lets every frame through.
const EVERYTHING: [IdFilter; 2] = [
    IdFilter {
        id: 0,
        mask: 0,
        extended: false,
    },
    IdFilter {
        id: 0,
        mask: 0,
        extended: true,
    },
];

/// Between attempts to open an interface that cannot be opened.
const OPEN_AGAIN_AFTER: Duration = Duration::from_secs(1);

/// So many frames are taken before others get their turn.
const MOST_AT_ONCE: usize = 512;

pub(super) async fn listen(name: String, shared: Arc<Mutex<BusSurvey>>, begun: Instant) {
    loop {
        let problem = match Bus::open(&name, &EVERYTHING) {
            Ok(bus) => {
                lock(&shared).set_problem(None);
                heed(&name, &bus, &shared, begun).await
            }
            Err(why) => why,
        };
        lock(&shared).set_problem(Some(problem));
        tokio::time::sleep(OPEN_AGAIN_AFTER).await;
    }
}

/// Listen until the interface is of no more use; why.
async fn heed(name: &str, bus: &Bus, shared: &Mutex<BusSurvey>, begun: Instant) -> String {
    loop {
        if let Err(e) = bus.ready().await {
            return format!("{name} cannot be read: {e}");
        }
        let t_s = begun.elapsed().as_secs_f64();
        for _ in 0..MOST_AT_ONCE {
            match bus.next() {
                Ok((frame, _)) => {
                    if let Ok(Received::Frame(frame)) = received(frame) {
                        lock(shared).take(&frame, t_s);
                    }
                }
                Err(e) if e.kind() == io::ErrorKind::WouldBlock => break,
                Err(e) => return format!("{name} cannot be read: {e}"),
            }
        }
        tokio::task::yield_now().await;
    }
}
