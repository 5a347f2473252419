//! What a line says besides readings: texts of the sender, and the names of
//! transducers that feed no channel.

use seep_common::codec::nmea::Sentence;
use seep_common::time::BootMs;

/// The same text is noted again only after so long, ms: a board that restarts
/// every few seconds must not fill the log.
const SAME_TEXT_AFTER_MS: i64 = 60_000;

/// So many different texts are remembered.
const TEXTS_KEPT: usize = 16;

/// A remark about a line, each given once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Remark {
    /// A text sentence (TXT) of the sender, such as its name and version at start.
    Text(String),
    /// Names of transducers that feed no channel, all that are known so far.
    Unknown(Vec<String>),
}

/// Collects remarks until they are handed on.
#[derive(Debug, Clone, Default)]
pub(super) struct Remarks {
    noted: Vec<(String, BootMs)>,
    pending: Vec<Remark>,
    unknown: usize,
    /// Texts that were not noted: repeated, or too many different ones.
    pub texts_not_noted: u64,
}

impl Remarks {
    /// Look at a sentence; only TXT matters.
    ///
    /// **Source**: NMEA 0183, TXT: total number, number, identifier, text (from
    /// memory, text not seen).
    pub(super) fn look(&mut self, sentence: &Sentence<'_>, t_ms: BootMs) {
        if sentence.formatter() != "TXT" {
            return;
        }
        let words: Vec<&str> = sentence.fields().skip(3).collect();
        let text = words.join(",").trim().to_string();
        if text.is_empty() {
            return;
        }
        self.noted
            .retain(|(_, noted_ms)| t_ms.since(*noted_ms) < SAME_TEXT_AFTER_MS);
        let known = self.noted.iter().any(|(noted, _)| *noted == text);
        if known || self.noted.len() >= TEXTS_KEPT {
            self.texts_not_noted += 1;
            return;
        }
        self.noted.push((text.clone(), t_ms));
        self.pending.push(Remark::Text(text));
    }

    /// The names of transducers that feed no channel, as the decoder keeps them.
    pub(super) fn unknown(&mut self, names: &[String]) {
        if names.len() > self.unknown {
            self.unknown = names.len();
            self.pending.push(Remark::Unknown(names.to_vec()));
        }
    }

    /// What is to be handed on.
    pub(super) fn take(&mut self) -> Vec<Remark> {
        std::mem::take(&mut self.pending)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::codec::nmea::{Item, Lexer, checksum};

    fn look(remarks: &mut Remarks, body: &str, t_ms: i64) -> Vec<Remark> {
        let line = format!("${body}*{:02X}\r\n", checksum(body.as_bytes()));
        Lexer::new().push(line.as_bytes(), &mut |item| {
            if let Item::Sentence(sentence) = item {
                remarks.look(&sentence, BootMs(t_ms));
            }
        });
        remarks.take()
    }

    #[test]
    fn a_start_is_noted_once_and_a_start_a_minute_later_again() {
        let mut remarks = Remarks::default();
        let start = "YXTXT,01,01,00,seep-board 1.0.0";
        let noted = [Remark::Text("seep-board 1.0.0".into())];
        assert_eq!(look(&mut remarks, start, 0), noted);
        assert_eq!(look(&mut remarks, start, 30_000), []);
        assert_eq!(look(&mut remarks, start, 60_000), noted);
        assert_eq!(remarks.texts_not_noted, 1);
        assert_eq!(look(&mut remarks, "YXTXT,01,01,00,", 1), []);
        assert_eq!(look(&mut remarks, "YXXDR,C,20.0,C,AIR", 1), []);
    }

    #[test]
    fn a_sender_that_never_repeats_itself_is_bounded() {
        let mut remarks = Remarks::default();
        for i in 0..100 {
            look(&mut remarks, &format!("YXTXT,01,01,00,line {i}"), i);
        }
        assert_eq!(remarks.texts_not_noted, 100 - TEXTS_KEPT as u64);
    }

    #[test]
    fn unknown_names_are_told_when_there_are_more() {
        let mut remarks = Remarks::default();
        let names = |n: usize| (0..n).map(|i| format!("X{i}")).collect::<Vec<_>>();
        remarks.unknown(&names(0));
        remarks.unknown(&names(1));
        remarks.unknown(&names(1));
        remarks.unknown(&names(2));
        let told = [Remark::Unknown(names(1)), Remark::Unknown(names(2))];
        assert_eq!(remarks.take(), told);
    }
}
