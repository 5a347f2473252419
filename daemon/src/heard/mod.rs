//! What speaks on lines and buses: gathered live or from files, shown by
//! `seepd listen`, turned into a rig by `seepd draft`. Plain data, no I/O.

mod bus;
mod line;

pub(crate) use bus::{BusSurvey, HeardBus, HeardMessage, HeardSignal};
pub(crate) use line::{HeardLine, HeardTransducer, LineSurvey};

use serde::{Deserialize, Serialize};

/// Version of the layout.
pub(crate) const LAYOUT: &str = "seepd-heard/1";

/// A unit as people write it, for the label that a rig uses.
pub(crate) fn printed_unit(label: &str) -> &str {
    match label {
        "v" => "V",
        "a" => "A",
        "k" => "K",
        "pa" => "Pa",
        "kpa" => "kPa",
        "degc" => "°C",
        "degf" => "°F",
        other => other,
    }
}

/// Everything that was heard.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Heard {
    /// [`LAYOUT`].
    pub layout: String,
    /// How long it was listened, s; 0 for files.
    pub seconds: f64,
    /// Serial lines and captures of them.
    pub lines: Vec<HeardLine>,
    /// CAN interfaces and logs of them.
    pub buses: Vec<HeardBus>,
}

impl Heard {
    pub(crate) fn new(seconds: f64, lines: Vec<HeardLine>, buses: Vec<HeardBus>) -> Self {
        Heard {
            layout: LAYOUT.into(),
            seconds,
            lines,
            buses,
        }
    }

    /// True when nothing at all was understood.
    pub(crate) fn is_empty(&self) -> bool {
        self.lines.iter().all(|l| l.sentences == 0) && self.buses.iter().all(|b| b.frames == 0)
    }
}

/// Lowest, highest and last of some values.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub(crate) struct Values {
    /// The last one.
    pub last: Option<f64>,
    /// The lowest.
    pub lowest: Option<f64>,
    /// The highest.
    pub highest: Option<f64>,
}

impl Values {
    pub(crate) fn add(&mut self, value: f64) {
        self.last = Some(value);
        self.lowest = Some(self.lowest.map_or(value, |x| x.min(value)));
        self.highest = Some(self.highest.map_or(value, |x| x.max(value)));
    }
}

/// How often something came.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Pulse {
    count: u64,
    first_s: Option<f64>,
    last_s: f64,
}

impl Pulse {
    /// It came at this time, s; `None` when times are not known.
    pub(crate) fn add(&mut self, t_s: Option<f64>) {
        self.count += 1;
        if let Some(t_s) = t_s {
            self.first_s.get_or_insert(t_s);
            self.last_s = t_s;
        }
    }

    /// How many times.
    pub(crate) fn count(&self) -> u64 {
        self.count
    }

    /// Mean rate between the first and the last, Hz.
    pub(crate) fn rate_hz(&self) -> Option<f64> {
        let span_s = self.last_s - self.first_s?;
        (self.count > 1 && span_s > 0.0).then(|| (self.count - 1) as f64 / span_s)
    }
}
