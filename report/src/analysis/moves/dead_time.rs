//! Time by which air flows shorter than the coil is driven.

use super::super::stats::{mad, median};
use super::Move;

/// Time that a pulse of a path loses, s: from the coil to the flow, less from the coil
/// let go to the end of the flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct DeadTime {
    /// Seconds per pulse.
    pub seconds: f64,
    /// Its standard error, s.
    pub se: f64,
}

/// What is known of it before a move is seen: solenoid valves of this size take 30 to
/// 130 ms to open and 10 to 60 ms to close. Common practice, no source.
const PRIOR: DeadTime = DeadTime {
    seconds: 0.03,
    se: 0.05,
};

/// Both bends are seen this well at best, s: a valve does not open at once.
const BENDS_SE_S: f64 = 0.006;

/// Moves with both bends that tell more than the prior.
const FEWEST_BENDS: usize = 3;

/// Dead time of a path from its moves: where the flow of each begins and ends, and
/// from how the air of short and long openings differs.
///
/// With the air over the mean driving term `aᵢ = Δnᵢ/ψ̄ᵢ`, the time open Tᵢ in kᵢ pulses:
/// `aᵢ = C·Tᵢ − D·kᵢ` with `D = C·d`, by weighted least squares; D has a prior of what
/// the bends say.
pub(super) fn dead_time(own: &[&Move]) -> DeadTime {
    let prior = by_bends(own);
    let Some(level) = median(&own.iter().map(|m| m.conductance).collect::<Vec<_>>()) else {
        return prior;
    };
    let (mut tt, mut tk, mut kk, mut at, mut ak) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for m in own {
        let (t, k) = (m.open_s, m.timing.pulses as f64);
        let a = m.conductance * t;
        let sd = (level * m.timing.edge_s() * k.sqrt()).hypot(m.error.own * a);
        let w = sd.max(1e-9).powi(-2);
        tt += w * t * t;
        tk -= w * t * k;
        kk += w * k * k;
        at += w * a * t;
        ak -= w * a * k;
    }
    let w = (level * prior.se).powi(-2);
    kk += w;
    ak += w * level * prior.seconds;
    let det = tt * kk - tk * tk;
    let (c, d) = ((kk * at - tk * ak) / det, (tt * ak - tk * at) / det);
    if det <= 0.0 || c <= 0.0 {
        return prior;
    }
    DeadTime {
        seconds: d / c,
        se: (tt / det).sqrt() / c,
    }
}

fn by_bends(own: &[&Move]) -> DeadTime {
    let lost = own
        .iter()
        .filter_map(|m| Some((m.timing.starts_ms? - m.timing.stops_ms?) / 1000.0));
    let lost: Vec<f64> = lost.collect();
    let (Some(middle), Some(spread)) = (median(&lost), mad(&lost)) else {
        return PRIOR;
    };
    if lost.len() < FEWEST_BENDS {
        return PRIOR;
    }
    DeadTime {
        seconds: middle,
        // Standard error of a median: 1.25 times that of a mean.
        se: (1.25 * 1.4826 * spread / (lost.len() as f64).sqrt()).hypot(BENDS_SE_S),
    }
}
