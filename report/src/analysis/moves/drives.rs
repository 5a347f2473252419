//! Moves of one drive count as one.

use crate::analysis::estimate::Estimate;
use crate::analysis::stats::{median, robust_sd};

/// Values further apart than this are of two drives, ms. Common practice, no
/// source: engine and cabin have cooled, passengers have changed.
const APART_MS: i64 = 3_600_000;

/// The values of one drive.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Drive {
    /// When, days: the middle one of its moves.
    pub(crate) day: f64,
    /// One value for each move.
    pub(crate) values: Vec<f64>,
}

impl Drive {
    /// The middle value.
    pub(crate) fn middle(&self) -> f64 {
        median(&self.values).unwrap_or(f64::NAN)
    }
}

/// Values, in time order, by drive: moves minutes apart share load, air temperature and
/// supply, so that twenty of them are no twenty witnesses.
pub(crate) fn by_drive(values: &[f64], t_ms: &[i64]) -> Vec<Drive> {
    let mut groups: Vec<(Vec<i64>, Vec<f64>)> = Vec::new();
    for (value, t) in values.iter().zip(t_ms) {
        match groups.last_mut() {
            Some((times, own)) if times.last().is_some_and(|last| t - last < APART_MS) => {
                times.push(*t);
                own.push(*value);
            }
            _ => groups.push((vec![*t], vec![*value])),
        }
    }
    let drive = |(times, values): (Vec<i64>, Vec<f64>)| Drive {
        day: times[times.len() / 2] as f64 / 86_400_000.0,
        values,
    };
    groups.into_iter().map(drive).collect()
}

/// Drives from which on their own spread tells how much they differ.
const TELLING: usize = 5;

/// Median over drives of their middle values, each drive one witness; robust, since a path
/// that fails within the span has a few drives of another kind.
///
/// Of a few drives the spread between them is not known: then drives of a sound path
/// differ by `usual_sd`, and the moves of a drive by `within_sd`. `None` without a move.
pub(crate) fn level(drives: &[Drive], usual_sd: f64, within_sd: f64) -> Option<Estimate> {
    let middles: Vec<f64> = drives.iter().map(Drive::middle).collect();
    let value = median(&middles)?;
    let n = middles.len() as f64;
    let moves = drives.iter().map(|d| d.values.len()).sum::<usize>() as f64;
    // A median scatters 1.25 times as much as a mean (normal errors).
    let within = 1.25 * within_sd / moves.sqrt();
    let (se, degrees_of_freedom) = if middles.len() < TELLING {
        (within.hypot(usual_sd / n.sqrt()), (moves - 1.0).max(1.0))
    } else {
        let between = 1.25 * robust_sd(&middles)? / n.sqrt();
        (within.max(between), n - 1.0)
    };
    Some(Estimate {
        value,
        se,
        degrees_of_freedom,
    })
}
