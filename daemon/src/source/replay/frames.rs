//! Logs of CAN frames, in every form that is known.

use super::{Input, recorded_at, summed};
use crate::counts::{Count, Counts};
use crate::databases::Databases;
use crate::exit::{Exit, Failure};
use crate::source::{ALIVE_EVERY_MS, Item, Payload};
use seep_common::codec::can::{CanFrame, InterfaceName};
use seep_common::codec::candump::LineReader;
use seep_common::codec::canlog::{LogForm, LogTimes};
use seep_common::codec::decode::CanDecoder;
use seep_common::rig::{Rig, SourceKind};
use seep_common::time::{BootMs, WallMs};
use std::io::{self, BufRead};

/// A log of frames, decoded for the sources whose interface it recorded.
pub(super) struct Frames<R> {
    reader: R,
    lines: LineReader,
    decoders: Vec<FrameDecoder>,
}

struct FrameDecoder {
    source: usize,
    /// Interface whose frames belong to it; `None`: all. A name that no interface
    /// can have is `Some(None)`, and no frame belongs to it.
    interface: Option<Option<InterfaceName>>,
    decoder: CanDecoder,
    /// Time of the last item made for it, ms; `None` before the first.
    last_item_ms: Option<BootMs>,
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
        let decoders = sources
            .iter()
            .map(|(source, interface)| {
                let decoder = CanDecoder::new(rig, *source, databases.of(*source))
                    .map_err(|e| Failure::say(Exit::Config, e.to_string()))?;
                Ok(FrameDecoder {
                    source: *source,
                    interface: (interface.as_deref())
                        .map(|name| InterfaceName::new(name.as_bytes())),
                    decoder,
                    last_item_ms: None,
                })
            })
            .collect::<Result<_, Failure>>()?;
        Ok(Frames {
            reader,
            lines: LineReader::of(form, times),
            decoders,
        })
    }
}

impl<R: BufRead> Input for Frames<R> {
    fn fill(&mut self, items: &mut Vec<Item>, counts: &mut Counts) -> io::Result<bool> {
        let Frames {
            reader,
            lines,
            decoders,
        } = self;
        let bytes = reader.fill_buf()?;
        let n = bytes.len();
        if n == 0 {
            lines.finish();
        } else {
            lines.push(bytes, &mut |frame| take(frame, decoders, items, counts));
        }
        reader.consume(n);
        if let Some(first) = decoders.first() {
            counts.tell(first.source, lines.counts().named());
        }
        for decoder in decoders.iter() {
            counts.tell(decoder.source, decoder.decoder.counts().named());
            counts.tell(decoder.source, summed(decoder.decoder.outcomes()));
        }
        Ok(n > 0)
    }
}

fn take(
    frame: &CanFrame,
    decoders: &mut [FrameDecoder],
    items: &mut Vec<Item>,
    counts: &mut Counts,
) {
    let Some(t_ms) = recorded_at(WallMs(frame.t_us.div_euclid(1000))) else {
        if let Some(first) = decoders.first() {
            counts.one(first.source, Count::BadTimes);
        }
        return;
    };
    let mut belongs = false;
    for decoder in decoders.iter_mut() {
        let own = decoder.interface;
        if own.is_some_and(|name| name != Some(frame.interface)) {
            continue;
        }
        belongs = true;
        let before = items.len();
        decoder.decoder.decode(frame, t_ms, &mut |sample| {
            items.push(Item {
                t_ms: sample.t_ms,
                payload: Payload::Reading(sample.channel, sample.value),
            });
        });
        let due =
            (decoder.last_item_ms).is_none_or(|last_ms| t_ms.since(last_ms) >= ALIVE_EVERY_MS);
        if items.len() == before && due {
            items.push(Item {
                t_ms,
                payload: Payload::Heard(decoder.source as u16),
            });
        }
        if items.len() > before {
            decoder.last_item_ms = Some(t_ms);
        }
    }
    if !belongs && let Some(first) = decoders.first() {
        counts.one(first.source, Count::OtherInterfaces);
    }
}
