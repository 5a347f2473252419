//! Captures of NMEA 0183 sentences.

use super::head::Head;
use super::lines::{Line, Lines};
use super::{ITEMS_PER_FILL, Input, is_plausible_time, stamped, summed};
use crate::counts::{Count, Counts};
use crate::exit::{Exit, Failure};
use crate::source::{Item, Said};
use seep_common::codec::decode::NmeaDecoder;
use seep_common::codec::nmea::{self, Lexer, Sentence};
use seep_common::rig::Rig;
use std::io::{self, BufRead};

/// A capture; times come from TAG blocks, or from the ZDA sentences in it.
struct Sentences<R> {
    reader: R,
    lexer: Lexer,
    lane: Lane,
}

struct Lane {
    source: usize,
    decoder: NmeaDecoder,
    /// Time of the last ZDA sentence.
    zda_ms: Option<i64>,
    /// Time written in front of the line that is being read.
    front_ms: Option<i64>,
}

/// A capture whose lines have a time in front of them.
struct StampedSentences<R> {
    lines: Lines<R>,
    lexer: Lexer,
    lane: Lane,
}

/// The capture as an input: with a time in front of each line, or without.
pub(super) fn input(head: Head, rig: &Rig, source: usize) -> Result<Box<dyn Input>, Failure> {
    let is_stamped = (head.bytes.split(|b| *b == b'\n')).any(|line| stamped::split(line).is_some());
    let lane = Lane::new(rig, source)?;
    let (reader, lexer) = (head.into_input(), Lexer::new());
    Ok(if is_stamped {
        let lines = Lines::new(reader);
        Box::new(StampedSentences { lines, lexer, lane })
    } else {
        Box::new(Sentences {
            reader,
            lexer,
            lane,
        })
    })
}

impl Lane {
    fn new(rig: &Rig, source: usize) -> Result<Self, Failure> {
        let decoder =
            NmeaDecoder::new(rig, source).map_err(|e| Failure::say(Exit::Config, e.to_string()))?;
        Ok(Lane {
            source,
            decoder,
            zda_ms: None,
            front_ms: None,
        })
    }

    fn tell(&self, lexer: &Lexer, counts: &mut Counts) {
        counts.tell(self.source, lexer.counts().named());
        counts.tell(self.source, self.decoder.counts().named());
        counts.tell(self.source, summed(self.decoder.outcomes()));
    }
}

impl<R: BufRead> Input for StampedSentences<R> {
    fn fill(&mut self, items: &mut Vec<Item>, counts: &mut Counts) -> io::Result<bool> {
        let StampedSentences { lines, lexer, lane } = self;
        let mut more = true;
        while more && items.len() < ITEMS_PER_FILL {
            let line = match lines.next()? {
                Line::End => {
                    more = false;
                    continue;
                }
                Line::TooLong => {
                    counts.one(lane.source, Count::LongLines);
                    continue;
                }
                // A sentence is whole with its checksum, wherever the file ends.
                Line::Whole(line) | Line::Cut(line) => line,
            };
            let (front_ms, sentence) = match stamped::split(line) {
                Some((ms, sentence)) => (Some(ms), sentence),
                None => (None, line),
            };
            lane.front_ms = front_ms;
            for part in [sentence, b"\n"] {
                lexer.push(part, &mut |item| {
                    if let nmea::Item::Sentence(sentence) = item {
                        take(&sentence, lane, items, counts);
                    }
                });
            }
        }
        lane.tell(lexer, counts);
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
        lane.tell(lexer, counts);
        Ok(n > 0)
    }
}

fn take(sentence: &Sentence<'_>, lane: &mut Lane, items: &mut Vec<Item>, counts: &mut Counts) {
    if let Some(zda_ms) = nmea::unix_ms(sentence) {
        lane.zda_ms = Some(zda_ms);
    }
    let Some(t_ms) = sentence.tag_ms.or(lane.front_ms).or(lane.zda_ms) else {
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
