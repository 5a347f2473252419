//! Silence of sources, and whether it means anything: a source that sleeps with
//! the ignition may be silent while nothing else says that the vehicle is awake.

use seep_common::channel::Quantity;
use seep_common::rig::Source;
use seep_common::store::Gap;
use seep_common::store::cause::{ASLEEP, RECORDER_PAUSED, SOURCE_SILENT};
use seep_common::tick::DRIVING_KMH;
use seep_common::time::BootMs;

/// True for a reading that only a vehicle that is awake gives: it moves, a valve
/// is open, a compressor runs.
pub(super) fn tells_awake(quantity: Quantity, value: f64) -> bool {
    let awake_above = if quantity == Quantity::Speed {
        DRIVING_KMH
    } else {
        0.5
    };
    is_sign_of_life(quantity) && value > awake_above
}

/// True for a quantity whose readings can show that the vehicle is awake.
pub(crate) fn is_sign_of_life(quantity: Quantity) -> bool {
    matches!(
        quantity,
        Quantity::Speed | Quantity::FillValve | Quantity::DumpValve | Quantity::Running
    )
}

/// How long a source has been silent.
#[derive(Debug, Clone)]
struct Silence {
    name: String,
    limit_ms: i64,
    sleeps: bool,
    /// `None` for a source that takes no part.
    last_heard_ms: Option<BootMs>,
    /// Why it cannot be read, when that is known.
    lost: Option<String>,
    /// Stretches within this silence in which others showed that the vehicle
    /// was awake, log time ms; only the last may be shorter than the limit.
    awake: Vec<(BootMs, BootMs)>,
    /// Stretches in which the recorder stood still, log time ms, not yet over
    /// for this source.
    paused: Vec<Paused>,
}

/// A stretch in which the recorder stood still.
#[derive(Debug, Clone, Copy)]
struct Paused {
    from_ms: BootMs,
    to_ms: BootMs,
    /// Readings of it were dropped because nothing dates them.
    undated: bool,
}

/// The silences of all sources of a rig.
#[derive(Debug)]
pub(super) struct SilenceTracker(Vec<Silence>);

impl SilenceTracker {
    pub(super) fn new(sources: &[Source]) -> Self {
        let of = |s: &Source| Silence {
            name: s.name.clone(),
            limit_ms: (s.silence_s * 1000.0) as i64,
            sleeps: s.sleeps_with_ignition,
            last_heard_ms: None,
            lost: None,
            awake: Vec::new(),
            paused: Vec::new(),
        };
        SilenceTracker(sources.iter().map(of).collect())
    }

    /// A session starts; a source that is not expected leaves no gap.
    pub(super) fn begin(&mut self, t_ms: BootMs, expected: &[bool]) {
        for (silence, &expected) in self.0.iter_mut().zip(expected) {
            silence.last_heard_ms = expected.then_some(t_ms);
            silence.lost = None;
            silence.awake.clear();
            silence.paused.clear();
        }
    }

    /// A source spoke: the gaps of the silence that ends with it.
    #[inline]
    pub(super) fn heard(&mut self, source: usize, t_ms: BootMs, gaps: &mut Vec<Gap<BootMs>>) {
        let silence = &mut self.0[source];
        let Some(last_ms) = silence.last_heard_ms.filter(|last| t_ms > *last) else {
            return;
        };
        silence.last_heard_ms = Some(t_ms);
        silence.end(last_ms, t_ms, gaps);
        if silence.sleeps {
            // It sleeps with the same ignition as the others that do.
            self.awake(source, t_ms);
        }
    }

    /// A reading of this source shows that the vehicle is awake.
    pub(super) fn awake(&mut self, source: usize, t_ms: BootMs) {
        for (i, silence) in self.0.iter_mut().enumerate() {
            if i != source && silence.sleeps {
                silence.note_awake(t_ms);
            }
        }
    }

    /// The recorder stood still: a source that was not heard then was not silent.
    /// With `undated` its readings of that stretch were dropped, so that it leaves
    /// a gap however short it is.
    pub(super) fn paused(&mut self, source: usize, from_ms: BootMs, to_ms: BootMs, undated: bool) {
        let silence = &mut self.0[source];
        if silence.last_heard_ms.is_none_or(|last_ms| to_ms <= last_ms) {
            return;
        }
        let limit_ms = silence.limit_ms;
        match silence.paused.last_mut() {
            Some(last) if from_ms.since(last.to_ms) <= limit_ms => {
                last.to_ms = last.to_ms.max(to_ms);
                last.undated |= undated;
            }
            _ => silence.paused.push(Paused {
                from_ms,
                to_ms,
                undated,
            }),
        }
    }

    /// A source cannot be read. The first cause explains the outage; what
    /// follows is its consequence.
    pub(super) fn lost(&mut self, source: usize, cause: &str) {
        let silence = &mut self.0[source];
        if silence.last_heard_ms.is_some() && silence.lost.is_none() {
            silence.lost = Some(cause.into());
        }
    }

    /// True while a source is silent and may be.
    pub(super) fn asleep(&self, source: usize, t_ms: BootMs) -> bool {
        let silence = &self.0[source];
        let Some(last_ms) = silence.last_heard_ms.filter(|_| silence.sleeps) else {
            return false;
        };
        let silent = silence.lost.is_some() || t_ms.since(last_ms) > silence.limit_ms;
        let awake = silence.awake.last();
        let missed = awake.is_some_and(|a| {
            a.1.since(a.0) > silence.limit_ms && t_ms.since(a.1) <= silence.limit_ms
        });
        silent && !missed
    }

    /// The session ends: what is silent now leaves its gaps too.
    pub(super) fn finish(&mut self, t_ms: BootMs, gaps: &mut Vec<Gap<BootMs>>) {
        for silence in &mut self.0 {
            if let Some(last_ms) = silence.last_heard_ms.take() {
                silence.end(last_ms, t_ms, gaps);
            }
        }
    }
}

impl Silence {
    fn note_awake(&mut self, t_ms: BootMs) {
        if self.last_heard_ms.is_none_or(|last| t_ms <= last) {
            return;
        }
        let limit_ms = self.limit_ms;
        match self.awake.last_mut() {
            Some(last) if t_ms.since(last.1) <= limit_ms => last.1 = last.1.max(t_ms),
            // Too short to have been missed in: the source may take its time.
            Some(last) if last.1.since(last.0) <= limit_ms => *last = (t_ms, t_ms),
            _ => self.awake.push((t_ms, t_ms)),
        }
    }

    fn end(&mut self, from_t_ms: BootMs, to_t_ms: BootMs, gaps: &mut Vec<Gap<BootMs>>) {
        let lost = self.lost.take();
        let paused = self.paused_within(from_t_ms, to_t_ms);
        let undated = paused.iter().any(|p| p.undated);
        if lost.is_none() && !undated && to_t_ms.since(from_t_ms) <= self.limit_ms {
            self.awake.clear();
            return;
        }
        // What was lost before a pause is explained by its loss.
        let mut done_ms = from_t_ms;
        for pause in paused.iter().filter(|_| lost.is_none()) {
            let a = if pause.from_ms.since(done_ms) > self.limit_ms {
                self.explain(done_ms, pause.from_ms, SOURCE_SILENT, gaps);
                pause.from_ms
            } else {
                done_ms
            };
            done_ms = if to_t_ms.since(pause.to_ms) > self.limit_ms {
                pause.to_ms
            } else {
                to_t_ms
            };
            gaps.push(Gap {
                from_t_ms: a,
                to_t_ms: done_ms,
                cause: RECORDER_PAUSED.into(),
                what: Some(self.name.clone()),
            });
        }
        if done_ms < to_t_ms {
            let cause = lost.unwrap_or_else(|| SOURCE_SILENT.into());
            self.explain(done_ms, to_t_ms, &cause, gaps);
        }
        self.awake.clear();
    }

    /// Takes the pauses that overlap a silence, in order; those that go on after
    /// it are kept for the next.
    fn paused_within(&mut self, from_t_ms: BootMs, to_t_ms: BootMs) -> Vec<Paused> {
        let within = |p: &&Paused| p.from_ms < to_t_ms && p.to_ms > from_t_ms;
        let found = self.paused.iter().filter(within).copied().collect();
        self.paused.retain(|p| p.to_ms > to_t_ms);
        found
    }

    /// Gaps of a silence in which the recorder ran: asleep, or with a cause.
    fn explain(
        &self,
        from_t_ms: BootMs,
        to_t_ms: BootMs,
        cause: &str,
        gaps: &mut Vec<Gap<BootMs>>,
    ) {
        let mut awake = self.awake.clone();
        let mut say = |from_t_ms, to_t_ms, cause: &str| {
            gaps.push(Gap {
                from_t_ms,
                to_t_ms,
                cause: cause.into(),
                what: Some(self.name.clone()),
            });
        };
        if !self.sleeps {
            say(from_t_ms, to_t_ms, cause);
            return;
        }
        awake.retain(|a| a.1.since(a.0) > self.limit_ms && a.0 < to_t_ms && a.1 > from_t_ms);
        let mut done_ms = from_t_ms;
        for (a, b) in awake {
            // What is shorter than the source may be silent belongs to the rest.
            let a = if a.since(done_ms) > self.limit_ms {
                a
            } else {
                done_ms
            };
            let b = if to_t_ms.since(b) > self.limit_ms {
                b
            } else {
                to_t_ms
            };
            if a > done_ms {
                say(done_ms, a, ASLEEP);
            }
            say(a, b, cause);
            done_ms = b;
        }
        if to_t_ms > done_ms {
            say(done_ms, to_t_ms, ASLEEP);
        }
    }
}
