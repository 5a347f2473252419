//! Bytes in any portions to sentences, and back in step after noise.

use super::sentence::{Sentence, checksum};
use super::tag::{self, Tag};
use crate::time::WallMs;

/// Longest sentence that is accepted, without its start and end marks. The
/// standard allows 82 characters in all; some devices send more.
pub const MOST_SENTENCE_BYTES: usize = 256;

/// Discarded bytes are reported at the latest when this many have gathered.
const MOST_DISCARDED_AT_ONCE: u32 = 4096;

/// What the lexer found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Item<'a> {
    /// A sentence whose checksum is right.
    Sentence(Sentence<'a>),
    /// A sentence whose checksum is wrong or is not two hexadecimal digits.
    BadChecksum {
        /// Checksum of what arrived.
        computed: u8,
    },
    /// A sentence that ended without a checksum.
    MissingChecksum,
    /// A TAG block whose checksum is wrong or missing; the sentence after it,
    /// if good, is delivered without time.
    BadTagBlock,
    /// A sentence or TAG block longer than [`MOST_SENTENCE_BYTES`].
    Overlong,
    /// Bytes that belong to no item: noise, half sentences.
    Discarded {
        /// How many.
        bytes: u32,
    },
}

/// How many of each the lexer has found since it was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LexerCounts {
    /// Bytes taken.
    pub bytes: u64,
    /// Good sentences.
    pub sentences: u64,
    /// Sentences with a wrong checksum.
    pub bad_checksums: u64,
    /// Sentences without a checksum.
    pub missing_checksums: u64,
    /// Bad TAG blocks.
    pub bad_tag_blocks: u64,
    /// Overlong sentences or blocks.
    pub overlong: u64,
    /// Bytes that belong to no item.
    pub discarded_bytes: u64,
}

impl LexerCounts {
    /// Every count with its name, as it is recorded.
    #[must_use]
    pub fn named(&self) -> [(&'static str, u64); 7] {
        [
            ("bytes", self.bytes),
            ("good_sentences", self.sentences),
            ("bad_checksums", self.bad_checksums),
            ("missing_checksums", self.missing_checksums),
            ("bad_tag_blocks", self.bad_tag_blocks),
            ("overlong_sentences", self.overlong),
            ("discarded_bytes", self.discarded_bytes),
        ]
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    /// Waiting for a start mark.
    Idle,
    /// After the first backslash; how many bytes to add when it is abandoned
    /// (0 when that backslash closed a bad block and is already accounted for).
    Tag(u32),
    /// After `$` or `!`.
    Sentence,
    /// After `*`; the position of the star.
    Checksum(usize),
}

/// Finds sentences in a stream of bytes.
///
/// A new start mark always begins anew, so that one lost line end costs one
/// sentence. Splitting the bytes elsewhere gives the same items. Memory is bounded.
///
/// ```
/// use seep_common::codec::nmea::{Item, Lexer};
/// let mut lexer = Lexer::new();
/// let mut seen = Vec::new();
/// for part in [&b"\x00noise$YXXDR,P,8.0"[..], b"13250,B,TANK,C,20.0,C,AMB*0C\r\n"] {
///     lexer.push(part, &mut |item| match item {
///         Item::Sentence(s) => seen.push(format!("{} {}", s.formatter(), s.fields().count())),
///         other => seen.push(format!("{other:?}")),
///     });
/// }
/// assert_eq!(seen, ["Discarded { bytes: 6 }", "XDR 8"]);
/// ```
#[derive(Debug, Clone)]
pub struct Lexer {
    line: [u8; MOST_SENTENCE_BYTES],
    len: usize,
    state: State,
    /// A good TAG block was just read: its length with marks, and its time.
    tag: Option<(u32, Option<WallMs>)>,
    discarded: u32,
    counts: LexerCounts,
}

impl Default for Lexer {
    fn default() -> Self {
        Self::new()
    }
}

impl Lexer {
    /// A lexer that has seen nothing.
    #[must_use]
    pub fn new() -> Self {
        Lexer {
            line: [0; MOST_SENTENCE_BYTES],
            len: 0,
            state: State::Idle,
            tag: None,
            discarded: 0,
            counts: LexerCounts::default(),
        }
    }

    /// Take the next bytes and hand on every item completed by them.
    pub fn push(&mut self, bytes: &[u8], sink: &mut impl FnMut(Item<'_>)) {
        for &byte in bytes {
            self.counts.bytes += 1;
            match (self.state, byte) {
                (State::Tag(mark), b'\\') => self.end_tag(mark, sink),
                (_, b'$' | b'!' | b'\\') => self.start(byte, sink),
                (_, b'\r' | b'\n') => self.end_line(sink),
                (State::Idle, _) => self.discard(1, sink),
                (_, b' '..=b'~') => self.gather(byte, sink),
                _ => {
                    self.abandon(sink);
                    self.discard(1, sink);
                }
            }
        }
    }

    /// Say that no more bytes come (or that the line was lost): what has been
    /// gathered of a sentence is discarded and counted.
    pub fn finish(&mut self, sink: &mut impl FnMut(Item<'_>)) {
        self.abandon(sink);
        self.report_discarded(sink);
    }

    /// How much of what has been found so far.
    #[must_use]
    pub fn counts(&self) -> LexerCounts {
        self.counts
    }

    /// A start mark: whatever was going on before it is over.
    fn start(&mut self, byte: u8, sink: &mut impl FnMut(Item<'_>)) {
        if self.state != State::Idle {
            self.abandon(sink);
        }
        self.len = 0;
        self.state = match byte {
            b'\\' => State::Tag(1),
            _ => State::Sentence,
        };
    }

    fn gather(&mut self, byte: u8, sink: &mut impl FnMut(Item<'_>)) {
        if self.len == MOST_SENTENCE_BYTES {
            self.counts.overlong += 1;
            self.report_discarded(sink);
            sink(Item::Overlong);
            self.reset();
            return self.discard(1, sink);
        }
        self.line[self.len] = byte;
        self.len += 1;
        match self.state {
            State::Sentence if byte == b'*' => self.state = State::Checksum(self.len - 1),
            State::Checksum(star) if self.len - star == 3 => self.end_sentence(star, sink),
            _ => {}
        }
    }

    /// Both checksum digits are there: no need to wait for the line end.
    fn end_sentence(&mut self, star: usize, sink: &mut impl FnMut(Item<'_>)) {
        let computed = checksum(&self.line[..star]);
        let given = hex_pair(self.line[star + 1], self.line[star + 2]);
        if given != Some(computed) {
            return self.bad_checksum(computed, sink);
        }
        let tag_ms = self.tag.and_then(|(_, time)| time);
        let body = std::str::from_utf8(&self.line[..star]).unwrap_or_default();
        match Sentence::new(body, tag_ms) {
            Some(sentence) => {
                self.counts.sentences += 1;
                Self::flush(&mut self.discarded, sink);
                sink(Item::Sentence(sentence));
                self.reset();
            }
            None => self.abandon(sink),
        }
    }

    fn bad_checksum(&mut self, computed: u8, sink: &mut impl FnMut(Item<'_>)) {
        self.counts.bad_checksums += 1;
        self.report_discarded(sink);
        sink(Item::BadChecksum { computed });
        self.reset();
    }

    /// A closing backslash. When the block is bad, this backslash may as well be
    /// the opening one of the next block.
    fn end_tag(&mut self, mark: u32, sink: &mut impl FnMut(Item<'_>)) {
        let block = std::str::from_utf8(&self.line[..self.len]).unwrap_or_default();
        match tag::read(block) {
            Tag::Good(time) => {
                let (bytes, earlier) = self.tag.unwrap_or_default();
                let bytes = bytes.saturating_add(self.len as u32 + mark + 1);
                self.tag = Some((bytes, time.or(earlier)));
                self.state = State::Idle;
            }
            Tag::Bad if self.len == 0 => {
                self.abandon(sink);
                self.state = State::Tag(1);
            }
            Tag::Bad => {
                self.counts.bad_tag_blocks += 1;
                self.report_discarded(sink);
                sink(Item::BadTagBlock);
                self.state = State::Tag(0);
            }
        }
        self.len = 0;
    }

    fn end_line(&mut self, sink: &mut impl FnMut(Item<'_>)) {
        match self.state {
            State::Sentence => {
                self.counts.missing_checksums += 1;
                self.report_discarded(sink);
                sink(Item::MissingChecksum);
                self.reset();
            }
            State::Checksum(star) => self.bad_checksum(checksum(&self.line[..star]), sink),
            State::Idle | State::Tag(_) => self.abandon(sink),
        }
    }

    /// Give up what has been gathered and count its bytes.
    fn abandon(&mut self, sink: &mut impl FnMut(Item<'_>)) {
        let gathered = match self.state {
            State::Idle => 0,
            State::Tag(mark) => self.len as u32 + mark,
            State::Sentence | State::Checksum(_) => self.len as u32 + 1,
        };
        self.drop_tag(sink);
        self.reset();
        self.discard(gathered, sink);
    }

    /// A TAG block with no sentence after it tells nothing.
    fn drop_tag(&mut self, sink: &mut impl FnMut(Item<'_>)) {
        if let Some((bytes, _)) = self.tag.take() {
            self.discard(bytes, sink);
        }
    }

    fn reset(&mut self) {
        self.state = State::Idle;
        self.len = 0;
        self.tag = None;
    }

    fn discard(&mut self, bytes: u32, sink: &mut impl FnMut(Item<'_>)) {
        if self.state == State::Idle {
            self.drop_tag(sink);
        }
        self.counts.discarded_bytes += u64::from(bytes);
        self.discarded += bytes;
        if self.discarded >= MOST_DISCARDED_AT_ONCE {
            self.report_discarded(sink);
        }
    }

    fn report_discarded(&mut self, sink: &mut impl FnMut(Item<'_>)) {
        Self::flush(&mut self.discarded, sink);
    }

    fn flush(discarded: &mut u32, sink: &mut impl FnMut(Item<'_>)) {
        let bytes = std::mem::take(discarded);
        if bytes > 0 {
            sink(Item::Discarded { bytes });
        }
    }
}

/// Two hexadecimal digits, upper or lower case.
fn hex_pair(high: u8, low: u8) -> Option<u8> {
    let high = char::from(high).to_digit(16)?;
    let low = char::from(low).to_digit(16)?;
    Some((high << 4 | low) as u8)
}
