//! Invented buses on which one field of many carries a gauge, and the person who
//! notes readings of it. Everything here is made up; no real bus is meant.

mod content;
mod course;

use crate::seeded::Seeded;
use content::Content;
use course::Course;
use seep_common::codec::can::CanFrame;
use seep_daemon::matching::{BusRecord, Candidate, GaugeReading};

/// Length of a recording, ms.
const LENGTH_MS: i64 = 300_000;

/// Identifiers on a bus.
const IDENTIFIERS: usize = 100;

/// Other sensors that follow the gauge without being it: other corners, the tank.
const FOLLOWERS: usize = 6;

/// 2025-08-10 10:00 UTC, ms.
const START_MS: i64 = 1_754_820_000_000;

/// Readings are noted to this step, kPa.
pub const ROUNDING_KPA: f64 = 10.0;

/// Noted times are off by up to this, ms.
pub const CLOCK_MS: i64 = 1_000;

/// A gauge that has not moved for so long either way stands still, ms.
const STILL_MS: i64 = 1_500;

/// Moments that a waiting person tries before the next note is due.
const MOST_WAITED: usize = 100;

/// A bus of a seed.
pub struct UnknownBus {
    /// What was recorded.
    pub bus: BusRecord,
    /// What the person noted.
    pub readings: Vec<GaugeReading>,
    gauge: Course,
    /// Identifier that carries the gauge; `None` where none does.
    carrier: Option<u32>,
    place: String,
}

impl UnknownBus {
    /// A bus and `readings` notes at any moment; without the gauge's signal where
    /// `carried` is false.
    #[must_use]
    pub fn new(seed: u64, readings: usize, carried: bool) -> Self {
        Self::noted(seed, readings, carried, false)
    }

    /// As [`UnknownBus::new`]; where `still`, the person waits with each note until
    /// the gauge stands still, if it does in time.
    #[must_use]
    pub fn noted(seed: u64, readings: usize, carried: bool, still: bool) -> Self {
        let mut random = Seeded::new(seed);
        let gauge = Course::moves(&mut random, LENGTH_MS);
        let followers: Vec<Course> = (0..FOLLOWERS)
            .map(|_| gauge.follower(&mut random))
            .collect();
        let place = random.below(IDENTIFIERS);
        let mut bus = BusRecord::default();
        let (mut carrier, mut truth) = (None, String::new());
        for n in 0..IDENTIFIERS {
            let extended = n % 5 < 2;
            let id = if extended {
                0x18F0_0000 + (n * 0x101) as u32
            } else {
                0x100 + (n * 13) as u32
            };
            let mut content = Content::filler(&mut random);
            if let Some(follower) = followers.get((n + IDENTIFIERS - place + 97) % IDENTIFIERS) {
                content.put(follower.clone(), &mut random, false);
            }
            if n == place && carried {
                let multiplexed = random.below(10) == 0;
                content.put(gauge.clone(), &mut random, multiplexed);
                carrier = Some(id);
                truth = format!("truth: {id:X}, {}", content.last());
            }
            send(&mut bus, id, extended, &mut content, &mut random);
        }
        let readings = notes(&gauge, readings, still, &mut random);
        UnknownBus {
            bus,
            readings,
            gauge,
            carrier,
            place: truth,
        }
    }

    /// Where the signal is, for messages.
    #[must_use]
    pub fn truth(&self) -> &str {
        &self.place
    }

    /// Whether a candidate is the gauge: the right identifier, and its value
    /// within a step of the notes of the truth over the whole recording (root
    /// mean square).
    #[must_use]
    pub fn is_right(&self, candidate: &Candidate) -> bool {
        if Some(candidate.group.id) != self.carrier {
            return false;
        }
        let squares: Vec<f64> = (candidate.decoded(&self.bus).into_iter())
            .map(|(t_ms, value)| (value - self.gauge.at(t_ms - START_MS)).powi(2))
            .collect();
        let mean = squares.iter().sum::<f64>() / squares.len().max(1) as f64;
        mean.sqrt() <= ROUNDING_KPA
    }
}

fn send(bus: &mut BusRecord, id: u32, extended: bool, content: &mut Content, random: &mut Seeded) {
    let period_ms = [50, 100, 200, 500, 1000][random.below(5)];
    let mut t_ms = random.below(period_ms as usize) as i64;
    while t_ms < LENGTH_MS {
        let bytes = content.next(t_ms, random);
        if let Ok(mut frame) = CanFrame::new(id, extended, &bytes) {
            frame.t_us = (START_MS + t_ms) * 1000;
            bus.push(&frame);
        }
        t_ms += period_ms + random.below(3) as i64 - 1;
    }
}

/// Notes spread over the recording, each at a moment of its own stretch.
fn notes(gauge: &Course, count: usize, still: bool, random: &mut Seeded) -> Vec<GaugeReading> {
    let edge_ms = 3_000;
    let stretch = (LENGTH_MS - 2 * edge_ms) as usize / count.max(1);
    (0..count)
        .map(|n| {
            let mut moment = || edge_ms + (n * stretch + random.below(stretch)) as i64;
            let mut t_ms = moment();
            for _ in 0..if still { MOST_WAITED } else { 0 } {
                if gauge.at(t_ms - STILL_MS) == gauge.at(t_ms + STILL_MS) {
                    break;
                }
                t_ms = moment();
            }
            let off = random.below(2 * CLOCK_MS as usize + 1) as i64 - CLOCK_MS;
            GaugeReading {
                t_ms: START_MS + t_ms + off,
                value: (gauge.at(t_ms) / ROUNDING_KPA).round() * ROUNDING_KPA,
            }
        })
        .collect()
}
