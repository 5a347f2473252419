//! An outing: up, an hour's drive, down, parked.

use crate::car::{CORNERS, CUT_IN_KPA, CUT_OUT_KPA, Car};
use seep_common::store::{Batch, Event, EventKind, StoreError};
use seep_common::time::LogMs;

const FULL_MS: i64 = 20;
const DRIVING_MS: i64 = 100;
const PARKED_MS: i64 = 1_000;
const DRIVE_MS: i64 = 3_600_000;
const MOVE_MS: i64 = 6_000;
const ROWS_PER_BATCH: usize = 20_000;

/// How fast the tank falls on the road, kPa/s.
const USED_KPA_PER_S: f64 = -0.25;

type Store<'a> = dyn FnMut(Batch) -> Result<(), StoreError> + 'a;

/// All rows and events of an outing, in batches.
pub(crate) fn outing(
    car: &mut Car,
    start_ms: i64,
    parked_min: i64,
    store: &mut Store,
) -> Result<(), StoreError> {
    let mut batch = Batch::default();
    let mut t_ms = start_ms;
    stand(car, &mut batch, &mut t_ms, 20_000);
    go(car, &mut batch, &mut t_ms, EventKind::Fill);
    let end_ms = t_ms + DRIVE_MS;
    while t_ms < end_ms {
        compressor(car, &mut batch, t_ms);
        let made = if car.running { car.made_kpa_per_s } else { 0.0 };
        car.pass(0.1, USED_KPA_PER_S + made);
        batch.ticks.push(car.row(t_ms, 65.0));
        t_ms += DRIVING_MS;
        if batch.ticks.len() >= ROWS_PER_BATCH {
            store(std::mem::take(&mut batch))?;
        }
    }
    car.running = false;
    batch
        .events
        .push(event(t_ms, EventKind::Run, "compressor_1", false));
    stand(car, &mut batch, &mut t_ms, 20_000);
    go(car, &mut batch, &mut t_ms, EventKind::Dump);
    stand(car, &mut batch, &mut t_ms, parked_min * 60_000);
    store(batch)
}

fn event(t_ms: i64, kind: EventKind, place: &str, on: bool) -> Event {
    Event {
        t_ms: LogMs(t_ms),
        kind,
        place: place.into(),
        on,
        wired: true,
    }
}

/// The pressure switch.
fn compressor(car: &mut Car, batch: &mut Batch, t_ms: i64) {
    let wanted = car.tank_kpa < if car.running { CUT_OUT_KPA } else { CUT_IN_KPA };
    if wanted != car.running {
        car.running = wanted;
        let told = event(t_ms, EventKind::Run, "compressor_1", wanted);
        batch.events.push(told);
    }
}

fn stand(car: &mut Car, batch: &mut Batch, t_ms: &mut i64, for_ms: i64) {
    let end_ms = *t_ms + for_ms;
    while *t_ms < end_ms {
        car.pass(1.0, 0.0);
        batch.ticks.push(car.row(*t_ms, 0.0));
        *t_ms += PARKED_MS;
    }
}

/// One corner after the other, up or down.
fn go(car: &mut Car, batch: &mut Batch, t_ms: &mut i64, kind: EventKind) {
    let up = kind == EventKind::Fill;
    for (i, corner) in CORNERS.iter().enumerate() {
        batch.events.push(event(*t_ms, kind, corner, true));
        for step in 0..MOVE_MS / FULL_MS {
            let seconds = (step * FULL_MS) as f64 / 1000.0;
            let part = 1.0 - libm::exp(-seconds / 1.5);
            car.moved(i, up, part);
            car.pass(FULL_MS as f64 / 1000.0, if up { -4.0 } else { 0.0 });
            batch.ticks.push(car.row(*t_ms, 0.0));
            *t_ms += FULL_MS;
        }
        batch.events.push(event(*t_ms, kind, corner, false));
    }
}
