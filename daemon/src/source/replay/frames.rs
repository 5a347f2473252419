//! Logs of CAN frames, in every form that is known.

use super::{Input, is_plausible_time, summed};
use crate::counts::{Count, Counts};
use crate::databases::Databases;
use crate::exit::{Exit, Failure};
use crate::source::{ALIVE_EVERY_MS, Item, Said};
use seep_common::codec::can::CanFrame;
use seep_common::codec::candump::LineReader;
use seep_common::codec::canlog::{LogForm, LogTimes};
use seep_common::codec::decode::CanDecoder;
use seep_common::rig::{Rig, SourceKind};
use std::io::{self, BufRead};

/// A log of frames, decoded for the sources whose interface it recorded.
pub(super) struct Frames<R> {
    reader: R,
    lines: LineReader,
    lanes: Vec<Lane>,
}

struct Lane {
    source: usize,
    /// Interface whose frames belong to it; `None`: all.
    interface: Option<String>,
    decoder: CanDecoder,
    /// Time of the last item made for it, ms; `None` before the first.
    last_item_ms: Option<i64>,
}

/// Which sources a log feeds, and from which interface. A log of another
/// interface than the rig's only source names still feeds that source: it was
/// recorded elsewhere.
pub(super) fn choose(
    rig: &Rig,
    sources: Vec<usize>,
    form: LogForm,
    head: &[u8],
) -> Vec<(usize, Option<String>)> {
    let mut seen: Vec<String> = Vec::new();
    // Any start will do to see which interfaces there are.
    let times = LogTimes::new(Some(0), |civil_us, _| civil_us);
    LineReader::of(form, times).push(head, &mut |frame| {
        if seen.last().is_none_or(|s| s != frame.interface.as_str()) {
            seen.push(frame.interface.as_str().to_string());
        }
    });
    let interface = |source: usize| match &rig.sources[source].kind {
        SourceKind::SocketCan { interface, .. } => interface.clone(),
        _ => String::new(),
    };
    match sources[..] {
        [only] if !seen.contains(&interface(only)) => vec![(only, None)],
        _ => sources
            .into_iter()
            .map(|s| (s, Some(interface(s))))
            .collect(),
    }
}

impl<R: BufRead> Frames<R> {
    pub(super) fn new(
        reader: R,
        rig: &Rig,
        databases: &Databases,
        sources: &[(usize, Option<String>)],
        (form, times): (LogForm, LogTimes),
    ) -> Result<Self, Failure> {
        let lanes = sources
            .iter()
            .map(|(source, interface)| {
                let decoder = CanDecoder::new(rig, *source, databases.of(*source))
                    .map_err(|e| Failure::say(Exit::Config, e.to_string()))?;
                Ok(Lane {
                    source: *source,
                    interface: interface.clone(),
                    decoder,
                    last_item_ms: None,
                })
            })
            .collect::<Result<_, Failure>>()?;
        Ok(Frames {
            reader,
            lines: LineReader::of(form, times),
            lanes,
        })
    }
}

impl<R: BufRead> Input for Frames<R> {
    fn fill(&mut self, items: &mut Vec<Item>, counts: &mut Counts) -> io::Result<bool> {
        let Frames {
            reader,
            lines,
            lanes,
        } = self;
        let bytes = reader.fill_buf()?;
        let n = bytes.len();
        if n == 0 {
            lines.finish();
        } else {
            lines.push(bytes, &mut |frame| take(frame, lanes, items, counts));
        }
        reader.consume(n);
        if let Some(first) = lanes.first() {
            counts.tell(first.source, lines.counts().named());
        }
        for lane in lanes.iter() {
            counts.tell(lane.source, lane.decoder.counts().named());
            counts.tell(lane.source, summed(lane.decoder.outcomes()));
        }
        Ok(n > 0)
    }
}

fn take(frame: &CanFrame, lanes: &mut [Lane], items: &mut Vec<Item>, counts: &mut Counts) {
    let t_ms = frame.t_us.div_euclid(1000);
    if !is_plausible_time(t_ms) {
        if let Some(first) = lanes.first() {
            counts.one(first.source, Count::BadTimes);
        }
        return;
    }
    let mut belongs = false;
    for lane in lanes.iter_mut() {
        let own = (lane.interface.as_deref())
            .is_none_or(|name| name.as_bytes() == frame.interface.as_bytes());
        if !own {
            continue;
        }
        belongs = true;
        let before = items.len();
        lane.decoder.decode(frame, t_ms, &mut |sample| {
            items.push(Item {
                t_ms: sample.t_ms,
                said: Said::Reading(sample.channel, sample.value),
            });
        });
        let due = (lane.last_item_ms).is_none_or(|last_ms| t_ms - last_ms >= ALIVE_EVERY_MS);
        if items.len() == before && due {
            items.push(Item {
                t_ms,
                said: Said::Heard(lane.source as u16),
            });
        }
        if items.len() > before {
            lane.last_item_ms = Some(t_ms);
        }
    }
    if !belongs && let Some(first) = lanes.first() {
        counts.one(first.source, Count::OtherInterfaces);
    }
}
