//! Captures of NMEA 0183 sentences.

use super::head::Head;
use super::lines::{TextLine, TextLines};
use super::{ITEMS_PER_FILL, Input, recorded_at, stamped, summed};
use crate::counts::{Count, Counts};
use crate::exit::{Exit, Failure};
use crate::source::{Item, Payload};
use seep_common::codec::decode::NmeaDecoder;
use seep_common::codec::nmea::{self, Lexer, Sentence};
use seep_common::rig::Rig;
use seep_common::time::WallMs;
use std::io::{self, BufRead};

/// A capture; times come from TAG blocks, or from the ZDA sentences in it.
struct Sentences<R> {
    reader: R,
    lexer: Lexer,
    decoder: SentenceDecoder,
}

struct SentenceDecoder {
    source: usize,
    decoder: NmeaDecoder,
    /// Time of the last ZDA sentence.
    zda_ms: Option<WallMs>,
    /// Time written in front of the line that is being read.
    front_ms: Option<WallMs>,
}

/// A capture whose lines have a time in front of them.
struct StampedSentences<R> {
    lines: TextLines<R>,
    lexer: Lexer,
    decoder: SentenceDecoder,
}

/// The capture as an input: with a time in front of each line, or without.
pub(super) fn input(head: Head, rig: &Rig, source: usize) -> Result<Box<dyn Input>, Failure> {
    let is_stamped = (head.bytes.split(|b| *b == b'\n')).any(|line| stamped::split(line).is_some());
    let decoder = SentenceDecoder::new(rig, source)?;
    let (reader, lexer) = (head.into_input(), Lexer::new());
    Ok(if is_stamped {
        let lines = TextLines::new(reader);
        Box::new(StampedSentences {
            lines,
            lexer,
            decoder,
        })
    } else {
        Box::new(Sentences {
            reader,
            lexer,
            decoder,
        })
    })
}

impl SentenceDecoder {
    fn new(rig: &Rig, source: usize) -> Result<Self, Failure> {
        let decoder =
            NmeaDecoder::new(rig, source).map_err(|e| Failure::say(Exit::Config, e.to_string()))?;
        Ok(SentenceDecoder {
            source,
            decoder,
            zda_ms: None,
            front_ms: None,
        })
    }

    fn count(&self, lexer: &Lexer, counts: &mut Counts) {
        counts.tell(self.source, lexer.counts().named());
        counts.tell(self.source, self.decoder.counts().named());
        counts.tell(self.source, summed(self.decoder.outcomes()));
    }
}

impl<R: BufRead> Input for StampedSentences<R> {
    fn fill(&mut self, items: &mut Vec<Item>, counts: &mut Counts) -> io::Result<bool> {
        let StampedSentences {
            lines,
            lexer,
            decoder,
        } = self;
        let mut more = true;
        while more && items.len() < ITEMS_PER_FILL {
            let line = match lines.next()? {
                TextLine::End => {
                    more = false;
                    continue;
                }
                TextLine::TooLong => {
                    counts.one(decoder.source, Count::LongLines);
                    continue;
                }
                // A sentence is whole with its checksum, wherever the file ends.
                TextLine::Whole(line) | TextLine::Cut(line) => line,
            };
            let (front_ms, sentence) = match stamped::split(line) {
                Some((ms, sentence)) => (Some(ms), sentence),
                None => (None, line),
            };
            decoder.front_ms = front_ms.map(WallMs);
            for part in [sentence, b"\n"] {
                lexer.push(part, &mut |item| {
                    if let nmea::Item::Sentence(sentence) = item {
                        take(&sentence, decoder, items, counts);
                    }
                });
            }
        }
        decoder.count(lexer, counts);
        Ok(more)
    }
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

impl<R: BufRead> Input for Sentences<R> {
    fn fill(&mut self, items: &mut Vec<Item>, counts: &mut Counts) -> io::Result<bool> {
        let Sentences {
            reader,
            lexer,
            decoder,
        } = self;
        let bytes = reader.fill_buf()?;
        let n = bytes.len();
        let mut sink = |item: nmea::Item<'_>| {
            if let nmea::Item::Sentence(sentence) = item {
                take(&sentence, decoder, items, counts);
            }
        };
        if n == 0 {
            lexer.finish(&mut sink);
        } else {
            lexer.push(bytes, &mut sink);
        }
        reader.consume(n);
        decoder.count(lexer, counts);
        Ok(n > 0)
    }
}

fn take(
    sentence: &Sentence<'_>,
    decoder: &mut SentenceDecoder,
    items: &mut Vec<Item>,
    counts: &mut Counts,
) {
    if let Some(zda_ms) = nmea::unix_ms(sentence) {
        decoder.zda_ms = Some(zda_ms);
    }
    let Some(wall_ms) = sentence.tag_ms.or(decoder.front_ms).or(decoder.zda_ms) else {
        counts.one(decoder.source, Count::BeforeFirstTime);
        return;
    };
    let Some(t_ms) = recorded_at(wall_ms) else {
        counts.one(decoder.source, Count::BadTimes);
        return;
    };
    let before = items.len();
    decoder.decoder.decode(sentence, t_ms, &mut |sample| {
        items.push(Item {
            t_ms: sample.t_ms,
            payload: Payload::Reading(sample.channel, sample.value),
        });
    });
    if items.len() == before {
        items.push(Item {
            t_ms,
            payload: Payload::Heard(decoder.source as u16),
        });
    }
}
