//! `peer-logs`: writes the log that `seep` and a script are timed on.
//!
//! Invented: a car that is driven two hours a day with twelve channels at the
//! rates the recorder uses (10 Hz driving, 50 Hz around moves, 1 Hz parked).
//! The rows go through the same writer as a recording.

mod car;
mod day;

use clap::Parser;
use seep_common::rig::Rig;
use seep_common::store::{ClockRow, ClockState, EndReason, SessionStart, StoreError, Writer};
use seep_common::time::LogMs;
use std::path::PathBuf;
use std::process::ExitCode;

/// What to write.
#[derive(Debug, Parser)]
struct Arguments {
    /// Days of driving.
    #[arg(long, default_value_t = 30)]
    days: u32,
    /// Seed of the noise.
    #[arg(long, default_value_t = 7)]
    seed: u64,
    /// Loss of the front left corner, kPa an hour at its parked pressure.
    #[arg(long, default_value_t = 6.0)]
    leak: f64,
    /// What the compressor loses of its first day's delivery, percent a day.
    #[arg(long, default_value_t = 0.0)]
    worn: f64,
    /// Name of the car.
    #[arg(long, default_value = "Grey van (invented)")]
    name: String,
    /// The log to make; it must not exist yet.
    #[arg(long)]
    out: PathBuf,
}

/// 2026-09-01 05:00 UTC.
const FIRST_MS: i64 = 1_788_238_800_000;
const DAY_MS: i64 = 86_400_000;

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    match write(&arguments) {
        Ok(rows) => {
            println!("{}: {rows} rows, invented", arguments.out.display());
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("peer-logs: {error}");
            ExitCode::FAILURE
        }
    }
}

fn write(arguments: &Arguments) -> Result<u64, Box<dyn std::error::Error>> {
    let rig = Rig::parse(&car::rig(&arguments.name))?;
    let mut car = car::Car::new(&rig, arguments.seed, arguments.leak);
    let mut writer = Writer::create(&arguments.out)?;
    let mut rows = 0;
    let mut off_since_ms = None;
    for day in 0..arguments.days {
        let midnight_ms = FIRST_MS + i64::from(day) * DAY_MS;
        // One night a week the recorder stays on.
        let evening_min = if day % 7 == 6 { 8 * 60 } else { 30 };
        car.made_kpa_per_s = car::MADE_KPA_PER_S * (1.0 - arguments.worn / 100.0 * f64::from(day));
        for (at_ms, parked_min) in [(0, 30), (10 * 3_600_000, evening_min)] {
            let t_ms = midnight_ms + at_ms;
            if let Some(since_ms) = off_since_ms {
                // Air leaves while the recorder is off, too.
                car.pass((t_ms - since_ms) as f64 / 1000.0, 0.0);
            }
            let (added, end_ms) = session(&mut writer, &rig, &mut car, t_ms, parked_min)?;
            rows += added;
            off_since_ms = Some(end_ms);
        }
    }
    writer.close()?;
    Ok(rows)
}

/// An hour's drive and the time parked after it: rows, and when it ended.
fn session(
    writer: &mut Writer,
    rig: &Rig,
    car: &mut car::Car,
    t_ms: i64,
    parked_min: i64,
) -> Result<(u64, i64), StoreError> {
    let start = SessionStart {
        boot_id: "invented".into(),
        t_ms: LogMs(t_ms),
        program: "peer-logs".into(),
        origin: "invented".into(),
        start_boot_ms: None,
    };
    let session = writer.begin_session(&start, rig)?;
    let mut rows = 0;
    let mut clock = Some(ClockRow {
        noted_t_ms: LogMs(t_ms),
        from_t_ms: LogMs(t_ms),
        offset_ms: 0,
        state: ClockState::AsRecorded,
    });
    let mut end_ms = t_ms;
    day::outing(car, t_ms, parked_min, &mut |mut batch| {
        batch.clock.extend(clock.take());
        rows += batch.ticks.len() as u64;
        end_ms = batch
            .ticks
            .last()
            .map_or(end_ms, |tick| tick.t_ms.plus(1).0);
        writer.append(session, &batch)
    })?;
    writer.end_session(session, LogMs(end_ms), EndReason::LogEnded)?;
    Ok((rows, end_ms))
}
