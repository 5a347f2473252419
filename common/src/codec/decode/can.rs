//! CAN frames to samples.

use super::error::{DecodeError, DecodeProblem};
use super::outcome::Outcomes;
use super::target::Target;
use crate::codec::can::{CanFrame, FrameKind, MAX_EXTENDED_ID, MAX_STANDARD_ID};
use crate::codec::dbc::{Database, Extracted, FindError, FoundSignal, Message, Signal};
use crate::codec::j1939::{pgn_mask, pgn_of};
use crate::rig::{Decode, InputUnit, Rig};
use crate::sample::{ChannelIndex, Sample};
use crate::time::BootMs;

/// What a decoder has met, frames only; see [`Outcomes`] for readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct CanCounts {
    /// Frames of any kind.
    pub frames: u64,
    /// Data frames that feed at least one channel.
    pub matched: u64,
    /// Remote frames.
    pub remote: u64,
    /// Error reports of the controller.
    pub error_reports: u64,
}

impl CanCounts {
    /// Every count with its name, as it is recorded.
    #[must_use]
    pub fn named(&self) -> [(&'static str, u64); 4] {
        [
            ("frames_seen", self.frames),
            ("frames_matched", self.matched),
            ("remote_frames", self.remote),
            ("error_reports", self.error_reports),
        ]
    }
}

/// Identifiers that feed a channel, as a receive filter:
/// a frame passes when `frame.id & mask == id & mask`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct IdFilter {
    /// Identifier.
    pub id: u32,
    /// Bits of it that count.
    pub mask: u32,
    /// True for 29 bit frames.
    pub extended: bool,
}

/// A signal and the channel it feeds.
#[derive(Debug, Clone)]
struct SignalUse {
    signal: Signal,
    unit: Option<InputUnit>,
    target: Target,
}

/// Everything that one identifier, or one parameter group, feeds.
#[derive(Debug, Clone)]
struct Group {
    filter: IdFilter,
    uses: Vec<SignalUse>,
}

/// Decodes the frames of one bus.
///
/// Frames are found by 11 bit identifier in a table, by 29 bit identifier and by
/// parameter group in short sorted lists.
#[derive(Debug, Clone)]
pub struct CanDecoder {
    groups: Vec<Group>,
    /// For each 11 bit identifier 1 + index into `groups`, 0 for none.
    standard: Vec<u16>,
    /// Sorted by identifier.
    exact: Vec<(u32, usize)>,
    /// Sorted by parameter group number.
    by_group: Vec<(u32, usize)>,
    counts: CanCounts,
}

impl CanDecoder {
    /// Build from the channels of a source of the rig and the databases that
    /// the source names, in their order; the first that has a signal is used.
    ///
    /// # Errors
    /// [`DecodeError`] with every channel whose signal is unknown, cannot be
    /// decoded, or comes in a unit that does not fit.
    pub fn new(rig: &Rig, source: usize, databases: &[Database]) -> Result<Self, DecodeError> {
        let mut decoder = CanDecoder {
            groups: Vec::new(),
            standard: vec![0; MAX_STANDARD_ID as usize + 1],
            exact: Vec::new(),
            by_group: Vec::new(),
            counts: CanCounts::default(),
        };
        let mut problems = Vec::new();
        for target in Target::of_source(rig, source) {
            let channel = target.channel.name.clone();
            if let Err((problem, remedy)) = decoder.add(target, databases) {
                problems.push(DecodeProblem {
                    channel,
                    problem,
                    remedy,
                });
            }
        }
        decoder.exact.sort_unstable();
        decoder.by_group.sort_unstable();
        DecodeError::unless(problems, decoder)
    }

    fn add(&mut self, target: Target, databases: &[Database]) -> Result<(), (String, String)> {
        let Decode::Signal { path } = &target.channel.decode else {
            return Err((
                "is not decoded from a bus".into(),
                "give it a `signal`".into(),
            ));
        };
        let found = find(path, databases)?;
        let unit = unit_of(&target, found.signal)?;
        let group = self.group_for(found.message);
        self.groups[group].uses.push(SignalUse {
            signal: found.signal.clone(),
            unit,
            target,
        });
        Ok(())
    }

    /// The group of a message, made when it is new.
    fn group_for(&mut self, message: &Message) -> usize {
        let mask = match (message.pgn(), message.extended) {
            (Some(_), _) => pgn_mask(message.id),
            (None, true) => MAX_EXTENDED_ID,
            (None, false) => MAX_STANDARD_ID,
        };
        let filter = IdFilter {
            id: message.id & mask,
            mask,
            extended: message.extended,
        };
        if let Some(known) = self.groups.iter().position(|group| group.filter == filter) {
            return known;
        }
        let index = self.groups.len();
        self.groups.push(Group {
            filter,
            uses: Vec::new(),
        });
        match (message.pgn(), message.extended) {
            (Some(pgn), _) => self.by_group.push((pgn, index)),
            (None, true) => self.exact.push((message.id, index)),
            // A rig has at most 500 channels, so an index fits 16 bits.
            (None, false) => self.standard[message.id as usize] = index as u16 + 1,
        }
        index
    }

    /// Decode one frame; `t_ms` is the log time its samples get.
    #[inline]
    pub fn decode(&mut self, frame: &CanFrame, t_ms: BootMs, sink: &mut impl FnMut(Sample)) {
        self.counts.frames += 1;
        match frame.kind {
            FrameKind::Data => {}
            FrameKind::Remote => {
                self.counts.remote += 1;
                return;
            }
            FrameKind::Error => {
                self.counts.error_reports += 1;
                return;
            }
        }
        let [first, second] = self.groups_of(frame);
        if first.or(second).is_none() {
            return; // as most frames of a bus
        }
        self.counts.matched += 1;
        for index in [first, second].into_iter().flatten() {
            if let Some(group) = self.groups.get_mut(index) {
                group.decode(frame.data(), t_ms, sink);
            }
        }
    }

    /// The groups a frame belongs to, by identifier and by parameter group.
    #[inline]
    fn groups_of(&self, frame: &CanFrame) -> [Option<usize>; 2] {
        if frame.extended {
            let pgn = pgn_of(frame.id);
            return [lookup(&self.exact, frame.id), lookup(&self.by_group, pgn)];
        }
        let index = self.standard.get(frame.id as usize).copied().unwrap_or(0);
        [usize::from(index).checked_sub(1), None]
    }

    /// Identifiers worth receiving.
    #[must_use]
    pub fn filters(&self) -> Vec<IdFilter> {
        let mut filters: Vec<_> = self.groups.iter().map(|group| group.filter).collect();
        filters.sort_unstable();
        filters
    }

    /// Frames met so far.
    #[must_use]
    pub fn counts(&self) -> CanCounts {
        self.counts
    }

    /// Readings of each channel so far.
    pub fn outcomes(&self) -> impl Iterator<Item = (ChannelIndex, Outcomes)> + '_ {
        self.groups
            .iter()
            .flat_map(|group| &group.uses)
            .map(|each| (each.target.index, each.target.outcomes))
    }
}

impl Group {
    fn decode(&mut self, data: &[u8], t_ms: BootMs, sink: &mut impl FnMut(Sample)) {
        for each in &mut self.uses {
            let outcomes = &mut each.target.outcomes;
            match each.signal.extract(data) {
                Extracted::Value(raw) => each.target.put(raw, each.unit, t_ms, sink),
                Extracted::TooShort => outcomes.too_short += 1,
                Extracted::OtherMultiplex => outcomes.other_multiplex += 1,
                Extracted::Special(special) => outcomes.count_special(special),
                Extracted::NotFinite => outcomes.not_finite += 1,
            }
        }
    }
}

#[inline]
fn lookup(sorted: &[(u32, usize)], key: u32) -> Option<usize> {
    let at = sorted
        .binary_search_by_key(&key, |&(known, _)| known)
        .ok()?;
    Some(sorted[at].1)
}

/// The first database that has the signal; else what the most telling one says.
fn find<'a>(path: &str, databases: &'a [Database]) -> Result<FoundSignal<'a>, (String, String)> {
    let mut errors = Vec::new();
    for database in databases {
        match database.find(path) {
            Ok(found) => return Ok(found),
            Err(error) => errors.push(error),
        }
    }
    errors.sort_by_key(|error| !matches!(error, FindError::Unusable { .. }));
    let mut said: Vec<String> = errors.iter().map(ToString::to_string).collect();
    if matches!(errors.first(), Some(FindError::Unusable { .. })) {
        said.truncate(1);
    }
    if said.is_empty() {
        return Err((
            format!("`{path}`: the source names no database"),
            "add `dbc` to the source".into(),
        ));
    }
    let remedy = "correct `signal`, or `dbc` of the source";
    Err((said.join("; "), remedy.into()))
}

/// The unit in which the signal comes, checked against the channel.
fn unit_of(target: &Target, signal: &Signal) -> Result<Option<InputUnit>, (String, String)> {
    let quantity = target.channel.quantity;
    let unit = InputUnit::parse(&signal.unit).filter(|unit| unit.fits(quantity));
    if unit.is_some() || target.needs_no_source_unit() {
        return Ok(unit);
    }
    let problem = if signal.unit.trim().is_empty() {
        format!("the database gives no unit for `{}`", signal.name)
    } else {
        format!(
            "the database gives `{}` in `{}`, which is no unit of this channel",
            signal.name, signal.unit
        )
    };
    let remedy = format!(
        "add `unit` to the channel, one of {}, or a calibration",
        InputUnit::labels_for(quantity)
    );
    Err((problem, remedy))
}
