//! Captures of NMEA 0183 sentences.

use super::{Input, is_plausible_time, summed};
use crate::counts::{Count, Counts};
use crate::exit::{Exit, Failure};
use crate::source::{Item, Said};
use seep_common::codec::decode::NmeaDecoder;
use seep_common::codec::nmea::{self, Lexer, Sentence};
use seep_common::rig::Rig;
use std::io::{self, BufRead};

/// A capture; times come from TAG blocks, or from the ZDA sentences in it.
pub(super) struct Sentences<R> {
    reader: R,
    lexer: Lexer,
    lane: Lane,
}

struct Lane {
    source: usize,
    decoder: NmeaDecoder,
    /// Time of the last ZDA sentence.
    zda_ms: Option<i64>,
}

/// True when the first bytes hold a sentence with a right checksum.
pub(super) fn looks_like(head: &[u8]) -> bool {
    let mut found = false;
    let mut lexer = Lexer::new();
    lexer.push(head, &mut |item| {
        found |= matches!(item, nmea::Item::Sentence(_));
    });
    found
}

impl<R: BufRead> Sentences<R> {
    pub(super) fn new(reader: R, rig: &Rig, source: usize) -> Result<Self, Failure> {
        let decoder =
            NmeaDecoder::new(rig, source).map_err(|e| Failure::say(Exit::Config, e.to_string()))?;
        Ok(Sentences {
            reader,
            lexer: Lexer::new(),
            lane: Lane {
                source,
                decoder,
                zda_ms: None,
            },
        })
    }
}

impl<R: BufRead> Input for Sentences<R> {
    fn fill(&mut self, items: &mut Vec<Item>, counts: &mut Counts) -> io::Result<bool> {
        let Sentences {
            reader,
            lexer,
            lane,
        } = self;
        let bytes = reader.fill_buf()?;
        let n = bytes.len();
        let mut sink = |item: nmea::Item<'_>| {
            if let nmea::Item::Sentence(sentence) = item {
                take(&sentence, lane, items, counts);
            }
        };
        if n == 0 {
            lexer.finish(&mut sink);
        } else {
            lexer.push(bytes, &mut sink);
        }
        reader.consume(n);
        counts.tell(lane.source, lexer.counts().named());
        counts.tell(lane.source, lane.decoder.counts().named());
        counts.tell(lane.source, summed(lane.decoder.outcomes()));
        Ok(n > 0)
    }
}

fn take(sentence: &Sentence<'_>, lane: &mut Lane, items: &mut Vec<Item>, counts: &mut Counts) {
    if let Some(zda_ms) = nmea::unix_ms(sentence) {
        lane.zda_ms = Some(zda_ms);
    }
    let Some(t_ms) = sentence.tag_ms.or(lane.zda_ms) else {
        counts.one(lane.source, Count::BeforeFirstTime);
        return;
    };
    if !is_plausible_time(t_ms) {
        counts.one(lane.source, Count::BadTimes);
        return;
    }
    let before = items.len();
    lane.decoder.decode(sentence, t_ms, &mut |sample| {
        items.push(Item {
            t_ms: sample.t_ms,
            said: Said::Reading(sample.channel, sample.value),
        });
    });
    if items.len() == before {
        items.push(Item {
            t_ms,
            said: Said::Heard(lane.source as u16),
        });
    }
}
