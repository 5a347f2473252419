//! Readings thinned for plots as sessions go by.

use super::times::Times;
use crate::analysis::extremes::extremes;
use crate::model::{Trace, keep_of_bin, thin};
use seep_common::rig::Channel;
use seep_common::store::{ClockMap, Columns};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::ops::Range;

/// Thinned readings of one channel over the whole span, in wall time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChannelTrace {
    /// Channel name.
    pub channel: String,
    /// Readings, with silence where nothing was recorded.
    pub trace: Trace,
}

/// Bins per session; each keeps its extremes.
const BINS_PER_SESSION: usize = 400;

/// Bins of the finished trace.
const BINS: usize = 1_500;

/// Thinned readings of one channel while sessions go by. A point takes a third of the room
/// of one of a [`Trace`]: over a year they are most of what a report holds.
#[derive(Serialize, Deserialize)]
pub(super) struct GrowingTrace {
    channel: String,
    t_unix_ms: Times,
    /// Not a number where the channel was silent.
    values: Vec<f32>,
    thinned_from: u64,
}

impl GrowingTrace {
    pub(super) fn new(channel: &str) -> Self {
        Self {
            channel: channel.to_string(),
            t_unix_ms: Times::default(),
            values: Vec::new(),
            thinned_from: 0,
        }
    }

    /// Returns the trace over all sessions, thinned; `None` where the channel never spoke.
    pub(super) fn finish(self) -> Option<ChannelTrace> {
        if self.t_unix_ms.is_empty() {
            return None;
        }
        let value = |i: usize| finite(self.values[i]);
        let of_bin = |bin, keep: &mut Vec<usize>| keep_of_bin(bin, value, keep);
        let t_unix_ms: Vec<i64> = self.t_unix_ms.iter().collect();
        let kept = thin(&t_unix_ms, BINS, of_bin).unwrap_or_else(|| (0..t_unix_ms.len()).collect());
        Some(ChannelTrace {
            trace: Trace {
                name: self.channel.clone(),
                t_unix_ms: kept.iter().map(|i| t_unix_ms[*i]).collect(),
                values: kept.iter().map(|i| value(*i)).collect(),
                thinned_from: self.thinned_from,
            },
            channel: self.channel,
        })
    }
}

fn finite(value: f32) -> Option<f64> {
    Some(f64::from(value)).filter(|v| v.is_finite())
}

/// Add a session to the traces.
pub(super) fn add(
    traces: &mut [GrowingTrace],
    channels: &[Channel],
    frame: &Columns,
    clock: &ClockMap,
) {
    let wall_ms = clock.wall_times_ms(&frame.t_ms);
    let wall_ms = wall_ms.unwrap_or_else(|| frame.t_ms.clone());
    let in_order = wall_ms.is_sorted();
    for (out, channel) in traces.iter_mut().zip(channels) {
        let Some(values) = frame.column(&channel.name) else {
            continue;
        };
        let (t_ms, values) = spoken(&wall_ms, values);
        let Some(&last) = t_ms.last() else {
            continue;
        };
        out.thinned_from += t_ms.len() as u64;
        if in_order {
            extend(out, &t_ms, &values);
        } else {
            let values = values.iter().map(|v| Some(f64::from(*v))).collect();
            let part = Trace::new(&channel.name, t_ms.to_vec(), values).thinned(BINS_PER_SESSION);
            out.t_unix_ms.extend(part.t_unix_ms);
            // Exact: each was single before.
            let single = part.values.iter().map(|v| v.map_or(f32::NAN, |v| v as f32));
            out.values.extend(single);
        }
        // A break, so that no line is drawn over the time between sessions.
        out.t_unix_ms.push(last + 1);
        out.values.push(f32::NAN);
    }
}

/// Times and values without silence.
fn spoken<'a>(t_ms: &'a [i64], values: &'a [f32]) -> (Cow<'a, [i64]>, Cow<'a, [f32]>) {
    // Without a way out on the first, which is quicker where there is none.
    let any_silent = values.iter().fold(false, |any, v| any | v.is_nan());
    if !any_silent {
        return (t_ms.into(), values.into());
    }
    let both = t_ms.iter().zip(values).filter(|(_, v)| !v.is_nan());
    let (t_ms, values): (Vec<i64>, Vec<f32>) = both.unzip();
    (t_ms.into(), values.into())
}

/// Add readings in order of time, thinned: most of a session is not copied.
fn extend(trace: &mut GrowingTrace, t_ms: &[i64], values: &[f32]) {
    let value = |i: usize| finite(values[i]);
    let mut add = |i: usize| {
        trace.t_unix_ms.push(t_ms[i]);
        trace.values.push(values[i]);
    };
    let of_bin = |bin: Range<usize>, keep: &mut Vec<usize>| {
        let part = &values[bin.clone()];
        let (lowest, highest) = extremes(part);
        if !lowest.is_finite() || !highest.is_finite() {
            return keep_of_bin(bin, value, keep);
        }
        let lowest = part.iter().position(|v| *v == lowest);
        let highest = part.iter().rposition(|v| *v == highest);
        let mut picked = [Some(0), lowest, highest, Some(part.len() - 1)];
        picked.sort_unstable();
        keep.extend(picked.iter().flatten().map(|i| bin.start + i));
    };
    match thin(t_ms, BINS_PER_SESSION, of_bin) {
        Some(kept) => kept.into_iter().for_each(add),
        None => (0..t_ms.len()).for_each(&mut add),
    }
}
