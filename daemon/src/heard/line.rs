//! One serial line, or a capture of one.

use super::{Pulse, Values};
use seep_common::codec::nmea::{Item, Lexer, LexerCounts, Sentence, transducers, unit_label};
use serde::{Deserialize, Serialize};

/// More transducers, or texts, than this are not listed, but counted.
const MOST_KEPT: usize = 200;

/// What was heard on a line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct HeardLine {
    /// The device, or the file.
    pub from: String,
    /// True for a device.
    pub live: bool,
    /// The line speed at which sentences were good, baud.
    pub baud: Option<u32>,
    /// Why nothing, or not all, could be heard.
    pub problem: Option<String>,
    /// Bytes at this speed.
    pub bytes: u64,
    /// Sentences whose checksum is right.
    pub sentences: u64,
    /// Sentences whose checksum is wrong.
    pub bad_checksums: u64,
    /// Sentences without a checksum.
    pub missing_checksums: u64,
    /// Texts of the sender (TXT).
    pub texts: Vec<String>,
    /// Transducers in the order in which they were first heard.
    pub transducers: Vec<HeardTransducer>,
    /// Transducers beyond those listed.
    pub more_transducers: u64,
}

/// One transducer of a line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct HeardTransducer {
    /// Its name in the sentence.
    pub name: String,
    /// Type letter of XDR; empty when there is none.
    pub kind: String,
    /// Unit letter of XDR; empty when there is none.
    pub unit: String,
    /// The unit as a rig names it; absent when the letters name none.
    pub unit_label: Option<String>,
    /// Measurements.
    pub readings: u64,
    /// Measurements without a number.
    pub without_number: u64,
    /// Measurements per second.
    pub rate_hz: Option<f64>,
    /// Their values.
    pub values: Values,
}

/// Gathers what a line says.
#[derive(Debug, Clone)]
pub(crate) struct LineSurvey {
    from: String,
    live: bool,
    baud: Option<u32>,
    problem: Option<String>,
    lexer: Lexer,
    found: Found,
}

#[derive(Debug, Clone, Default)]
struct Found {
    texts: Vec<String>,
    transducers: Vec<(HeardTransducer, Pulse)>,
    more: u64,
}

impl LineSurvey {
    pub(crate) fn new(from: String, live: bool) -> Self {
        LineSurvey {
            from,
            live,
            baud: None,
            problem: None,
            lexer: Lexer::new(),
            found: Found::default(),
        }
    }

    /// Begin again at a line speed: what was heard at another one means nothing.
    pub(crate) fn at_speed(&mut self, baud: u32) {
        self.baud = Some(baud);
        self.lexer = Lexer::new();
        self.found = Found::default();
    }

    /// Note why nothing can be heard, or that it can.
    pub(crate) fn set_problem(&mut self, problem: Option<String>) {
        self.problem = problem;
    }

    /// Take bytes that came at this time, s; `None` when a sentence tells its
    /// own time, or none is known.
    pub(crate) fn take(&mut self, bytes: &[u8], t_s: Option<f64>) {
        let found = &mut self.found;
        self.lexer.push(bytes, &mut |item| {
            if let Item::Sentence(sentence) = item {
                found.sentence(&sentence, t_s);
            }
        });
    }

    /// What the lexer has found at this speed.
    pub(crate) fn counts(&self) -> LexerCounts {
        self.lexer.counts()
    }

    /// What was heard so far.
    pub(crate) fn heard(&self) -> HeardLine {
        let counts = self.lexer.counts();
        let transducers = self.found.transducers.iter().map(|(known, pulse)| {
            let mut transducer = known.clone();
            transducer.readings = pulse.count();
            transducer.rate_hz = pulse.rate_hz();
            transducer
        });
        HeardLine {
            from: self.from.clone(),
            live: self.live,
            baud: self.baud.filter(|_| counts.sentences > 0),
            problem: self.problem.clone(),
            bytes: counts.bytes,
            sentences: counts.sentences,
            bad_checksums: counts.bad_checksums,
            missing_checksums: counts.missing_checksums,
            texts: self.found.texts.clone(),
            transducers: transducers.collect(),
            more_transducers: self.found.more,
        }
    }
}

impl Found {
    fn sentence(&mut self, sentence: &Sentence<'_>, t_s: Option<f64>) {
        let t_s = t_s.or(sentence.tag_ms.map(|t| t.0 as f64 / 1000.0));
        if sentence.formatter() == "TXT" {
            let text = sentence.fields().skip(3).collect::<Vec<_>>().join(",");
            if !self.texts.contains(&text) && self.texts.len() < MOST_KEPT {
                self.texts.push(text);
            }
        }
        for one in transducers(sentence) {
            let kind = one.kind.map_or_else(String::new, |c| c.to_string());
            let known = |(t, _): &(HeardTransducer, Pulse)| t.name == one.name && t.kind == kind;
            let place = self.transducers.iter().position(known);
            if place.is_none() && self.transducers.len() >= MOST_KEPT {
                self.more += 1;
                continue;
            }
            let place = place.unwrap_or_else(|| {
                let label = one.kind.and_then(|k| unit_label(k, one.unit));
                let fresh = HeardTransducer {
                    name: one.name.into(),
                    kind,
                    unit: one.unit.map_or_else(String::new, |c| c.to_string()),
                    unit_label: label.map(Into::into),
                    readings: 0,
                    without_number: 0,
                    rate_hz: None,
                    values: Values::default(),
                };
                self.transducers.push((fresh, Pulse::default()));
                self.transducers.len() - 1
            });
            let (transducer, pulse) = &mut self.transducers[place];
            pulse.add(t_s);
            match one.value {
                Some(value) => transducer.values.add(value),
                None => transducer.without_number += 1,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::codec::nmea::checksum;

    fn line(body: &str) -> Vec<u8> {
        format!("${body}*{:02X}\r\n", checksum(body.as_bytes())).into_bytes()
    }

    #[test]
    fn values_rates_and_texts() {
        let mut survey = LineSurvey::new("box".into(), true);
        survey.at_speed(38_400);
        survey.take(&line("YXTXT,01,01,00,a board 1.0"), Some(0.0));
        for i in 0..11 {
            let body = format!("YXXDR,U,{}.5,V,TANK,C,,C,AIR", i % 3);
            survey.take(&line(&body), Some(f64::from(i) / 10.0));
        }
        survey.take(b"$YXXDR,U,9,V,TANK*00\r\n", Some(2.0));
        let heard = survey.heard();
        assert_eq!((heard.sentences, heard.bad_checksums), (12, 1));
        assert_eq!(heard.baud, Some(38_400));
        assert_eq!(heard.texts, ["a board 1.0"]);
        let tank = &heard.transducers[0];
        assert_eq!((tank.readings, tank.unit_label.as_deref()), (11, Some("v")));
        assert!((tank.rate_hz.expect("times") - 10.0).abs() < 1e-9);
        assert_eq!(tank.values.highest, Some(2.5));
        assert_eq!(heard.transducers[1].without_number, 11);
        survey.at_speed(4_800);
        assert_eq!(survey.heard().transducers, []);
    }
}
