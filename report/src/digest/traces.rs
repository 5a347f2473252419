//! Readings thinned for plots as sessions go by.

use crate::frame::Frame;
use crate::model::Trace;
use seep_common::rig::Channel;
use seep_common::store::ClockMap;

/// Thinned readings of one channel over the whole span, in wall time.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelTrace {
    /// Channel name.
    pub channel: String,
    /// Readings, with silence where nothing was recorded.
    pub trace: Trace,
}

/// Bins per session; each keeps its extremes.
const BINS_PER_SESSION: usize = 400;

/// Bins of the finished trace.
pub(super) const BINS: usize = 1_500;

/// Add a session to the traces.
pub(super) fn add(
    traces: &mut [ChannelTrace],
    channels: &[Channel],
    frame: &Frame,
    clock: &ClockMap,
) {
    let times = frame.t_ms().iter();
    let wall_ms: Vec<i64> = times.map(|&t| clock.wall_ms(t).unwrap_or(t)).collect();
    for (out, channel) in traces.iter_mut().zip(channels) {
        let Some(values) = frame.column(&channel.name) else {
            continue;
        };
        let mut t_unix_ms = Vec::new();
        let mut kept = Vec::new();
        for (&t, &v) in wall_ms.iter().zip(values) {
            if !v.is_nan() {
                t_unix_ms.push(t);
                kept.push(Some(f64::from(v)));
            }
        }
        let Some(&last) = t_unix_ms.last() else {
            continue;
        };
        let part = Trace::new(&channel.name, t_unix_ms, kept).thinned(BINS_PER_SESSION);
        out.trace.thinned_from += part.thinned_from;
        out.trace.t_unix_ms.extend(part.t_unix_ms);
        out.trace.values.extend(part.values);
        // A break, so that no line is drawn over the time between sessions.
        out.trace.t_unix_ms.push(last + 1);
        out.trace.values.push(None);
    }
}
