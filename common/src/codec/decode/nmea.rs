//! NMEA sentences to samples.

use super::error::{DecodeError, DecodeProblem};
use super::outcome::Outcomes;
use super::target::Target;
use crate::codec::nmea::{Sentence, Transducer, transducers, unit_label};
use crate::rig::{Decode, InputUnit, Rig};
use crate::sample::{ChannelIndex, Sample};
use crate::time::BootMs;
use std::collections::HashMap;

/// How many unknown transducer names are kept for the message to the user.
const UNKNOWN_KEPT: usize = 16;

/// Longest part of an unknown name that is kept.
const UNKNOWN_CHARS: usize = 32;

/// What a decoder has met besides the readings of its channels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct NmeaCounts {
    /// Good sentences.
    pub sentences: u64,
    /// XDR sentences among them.
    pub xdr: u64,
    /// Measurements of transducers that feed no channel.
    pub unknown_transducers: u64,
    /// XDR sentences whose last group of fields was not complete.
    pub incomplete_groups: u64,
}

impl NmeaCounts {
    /// Every count with its name, as it is recorded.
    #[must_use]
    pub fn named(&self) -> [(&'static str, u64); 4] {
        [
            ("sentences", self.sentences),
            ("xdr_sentences", self.xdr),
            ("unknown_transducers", self.unknown_transducers),
            ("incomplete_groups", self.incomplete_groups),
        ]
    }
}

/// Unit by the letters of a measurement, looked up once.
#[derive(Debug, Clone)]
struct Units(Vec<((char, Option<char>), InputUnit)>);

impl Units {
    fn new() -> Self {
        let letters = ['P', 'C', 'D', 'U', 'I', 'S'];
        let units = ['B', 'P', 'C', 'K', 'F', 'M', 'V', 'A'];
        let units = units.map(Some).into_iter().chain([None]);
        let mut known = Vec::new();
        for unit in units {
            for kind in letters {
                let parsed = unit_label(kind, unit).and_then(InputUnit::parse);
                known.extend(parsed.map(|parsed| ((kind, unit), parsed)));
            }
        }
        Units(known)
    }

    #[inline]
    fn get(&self, measurement: &Transducer<'_>) -> Option<InputUnit> {
        let letters = (measurement.kind?, measurement.unit);
        let found = self.0.iter().find(|(known, _)| *known == letters);
        found.map(|(_, unit)| *unit)
    }
}

/// Decodes the sentences of one line.
///
/// ```
/// use seep_common::codec::decode::NmeaDecoder;
/// use seep_common::codec::nmea::{Item, Lexer};
/// use seep_common::rig::Rig;
/// use seep_common::time::BootMs;
/// let rig = Rig::parse(r#"
/// [vehicle]
/// name = "invented"
/// [[source]]
/// name = "box"
/// kind = "nmea"
/// [[channel]]
/// name = "tank_kpa_gauge"
/// source = "box"
/// transducer = "TANK"
/// "#).unwrap();
/// let mut decoder = NmeaDecoder::new(&rig, 0).unwrap();
/// let mut lexer = Lexer::new();
/// let mut values = Vec::new();
/// lexer.push(b"$YXXDR,P,8.013250,B,TANK,C,20.0,C,AMB*0C\r\n", &mut |item| {
///     if let Item::Sentence(sentence) = item {
///         decoder.decode(&sentence, BootMs(0), &mut |sample| values.push(sample.value));
///     }
/// });
/// assert!((values[0] - 801.325f64).abs() < 1e-9);
/// assert_eq!(decoder.unknown_names(), ["AMB"]);
/// ```
#[derive(Debug, Clone)]
pub struct NmeaDecoder {
    /// Transducer name to the targets it feeds.
    names: HashMap<String, Vec<usize>>,
    targets: Vec<Target>,
    units: Units,
    counts: NmeaCounts,
    unknown: Vec<String>,
}

impl NmeaDecoder {
    /// Build from the channels of a source of the rig.
    ///
    /// # Errors
    /// [`DecodeError`] when a channel of the source is not decoded from sentences.
    pub fn new(rig: &Rig, source: usize) -> Result<Self, DecodeError> {
        let targets = Target::of_source(rig, source);
        let mut names: HashMap<String, Vec<usize>> = HashMap::new();
        let mut problems = Vec::new();
        for (index, target) in targets.iter().enumerate() {
            match &target.channel.decode {
                Decode::Transducer { name } => names.entry(name.clone()).or_default().push(index),
                _ => problems.push(DecodeProblem {
                    channel: target.channel.name.clone(),
                    problem: "is not decoded from sentences".into(),
                    remedy: "give it a `transducer`".into(),
                }),
            }
        }
        let decoder = NmeaDecoder {
            names,
            targets,
            units: Units::new(),
            counts: NmeaCounts::default(),
            unknown: Vec::new(),
        };
        DecodeError::unless(problems, decoder)
    }

    /// Decode one sentence; `t_ms` is the log time its samples get.
    pub fn decode(&mut self, sentence: &Sentence<'_>, t_ms: BootMs, sink: &mut impl FnMut(Sample)) {
        self.counts.sentences += 1;
        if sentence.formatter() != "XDR" {
            return;
        }
        self.counts.xdr += 1;
        let mut measurements = transducers(sentence);
        for measurement in measurements.by_ref() {
            self.measurement(&measurement, t_ms, sink);
        }
        if measurements.leftover() > 0 {
            self.counts.incomplete_groups += 1;
        }
    }

    fn measurement(
        &mut self,
        measurement: &Transducer<'_>,
        t_ms: BootMs,
        sink: &mut impl FnMut(Sample),
    ) {
        let Some(fed) = self.names.get(measurement.name) else {
            self.counts.unknown_transducers += 1;
            return keep_unknown(&mut self.unknown, measurement.name);
        };
        let unit = self.units.get(measurement);
        for &index in fed {
            let target = &mut self.targets[index];
            let unit = unit.filter(|unit| unit.fits(target.channel.quantity));
            match measurement.value {
                None if measurement.text.is_empty() => target.outcomes.no_reading += 1,
                None => target.outcomes.not_a_number += 1,
                Some(_) if unit.is_none() && !target.needs_no_source_unit() => {
                    target.outcomes.wrong_unit += 1;
                }
                Some(raw) => target.put(raw, unit, t_ms, sink),
            }
        }
    }

    /// What has been met besides the readings of channels.
    #[must_use]
    pub fn counts(&self) -> NmeaCounts {
        self.counts
    }

    /// The first names of transducers that feed no channel.
    #[must_use]
    pub fn unknown_names(&self) -> &[String] {
        &self.unknown
    }

    /// Readings of each channel so far.
    pub fn outcomes(&self) -> impl Iterator<Item = (ChannelIndex, Outcomes)> + '_ {
        self.targets
            .iter()
            .map(|target| (target.index, target.outcomes))
    }
}

/// Remember a name once, while there is room.
fn keep_unknown(unknown: &mut Vec<String>, name: &str) {
    if unknown.len() == UNKNOWN_KEPT {
        return;
    }
    let name: String = name.chars().take(UNKNOWN_CHARS).collect();
    if !unknown.contains(&name) {
        unknown.push(name);
    }
}
