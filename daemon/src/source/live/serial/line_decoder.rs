//! From bytes of the line to items: no I/O, no clock.

use super::remarks::{Remark, Remarks};
use crate::source::live::NOT_DATED;
use crate::source::{ALIVE_EVERY_MS, Item, Payload, summed};
use seep_common::codec::decode::NmeaDecoder;
use seep_common::codec::nmea::{self, Lexer, LexerCounts};
use seep_common::time::BootMs;

/// Decodes what one line brings.
///
/// Readings get the time at which the end of their sentence was read. Times
/// inside the sentences (TAG blocks, ZDA) are those of the sender's clock and
/// date nothing in a live recording.
#[derive(Debug, Clone)]
pub(super) struct LineDecoder {
    source: usize,
    lexer: Lexer,
    decoder: NmeaDecoder,
    remarks: Remarks,
    /// When it was last said that the line is alive, ms.
    said_ms: BootMs,
    /// Readings that nothing dates; dropped.
    undated: u64,
}

impl LineDecoder {
    pub(super) fn new(source: usize, decoder: NmeaDecoder) -> Self {
        LineDecoder {
            source,
            lexer: Lexer::new(),
            decoder,
            remarks: Remarks::default(),
            said_ms: BootMs::MIN,
            undated: 0,
        }
    }

    /// Take bytes that were read at `t_ms`; true when a good sentence ended in them.
    pub(super) fn take(&mut self, bytes: &[u8], t_ms: BootMs, items: &mut Vec<Item>) -> bool {
        let before = items.len();
        let mut good = false;
        let decoder = &mut self.decoder;
        let remarks = &mut self.remarks;
        self.lexer.push(bytes, &mut |found| {
            if let nmea::Item::Sentence(sentence) = found {
                good = true;
                remarks.look(&sentence, t_ms);
                decoder.decode(&sentence, t_ms, &mut |sample| {
                    items.push(Item {
                        t_ms,
                        payload: Payload::Reading(sample.channel, sample.value),
                    });
                });
            }
        });
        self.remarks.unknown(self.decoder.unknown_names());
        if items.len() > before {
            self.said_ms = t_ms;
        } else if t_ms.since(self.said_ms) >= ALIVE_EVERY_MS {
            self.said_ms = t_ms;
            let payload = if good {
                Payload::Heard(self.source as u16)
            } else {
                Payload::Alive
            };
            items.push(Item { t_ms, payload });
        }
        good
    }

    /// Texts of the sender and names that feed no channel, each once.
    pub(super) fn remarks(&mut self) -> Vec<Remark> {
        self.remarks.take()
    }

    /// Takes bytes that arrived at an unknown time: their readings are counted and
    /// dropped. Returns how many.
    pub(super) fn take_undated(&mut self, bytes: &[u8], t_ms: BootMs) -> u64 {
        let (mut items, said_ms) = (Vec::new(), self.said_ms);
        self.take(bytes, t_ms, &mut items);
        // Nothing of it was said.
        self.said_ms = said_ms;
        let reading = |i: &&Item| matches!(i.payload, Payload::Reading(..));
        let dropped = items.iter().filter(reading).count() as u64;
        self.undated += dropped;
        dropped
    }

    /// The line was lost: half a sentence stays half.
    pub(super) fn cut(&mut self) {
        self.lexer.finish(&mut |_| ());
    }

    /// What the lexer has found so far.
    pub(super) fn found(&self) -> LexerCounts {
        self.lexer.counts()
    }

    /// Every count with its name, as it is recorded.
    pub(super) fn named(&self) -> impl Iterator<Item = (&'static str, u64)> {
        let found = self.lexer.counts().named();
        let decoded = self.decoder.counts().named();
        let outcomes = summed(self.decoder.outcomes());
        let texts = [("texts_not_noted", self.remarks.texts_not_noted)];
        let undated = [(NOT_DATED, self.undated)];
        (found.into_iter().chain(decoded).chain(outcomes))
            .chain(texts)
            .chain(undated)
    }
}
