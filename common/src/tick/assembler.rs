//! The tick assembler: full rate around activity, less elsewhere, nothing held over.

use super::bin::Bin;
use super::{Activity, SwitchChange, Tick};
use crate::rig::{Channel, Recorder};
use crate::sample::Sample;
use crate::time::BootMs;
use std::collections::VecDeque;
use std::ops::Range;

/// Turns samples into ticks at an adaptive rate.
///
/// Samples land in fine bins (full rate). A fine bin stays in memory for the
/// time that full rate must reach back before activity; then it is written as
/// it is when activity is near, or merged into a coarser tick. Each tick is the
/// mean of the samples in it, so merging loses rate, never readings. Samples
/// may arrive out of order by as much as the memory reaches back; later ones
/// are counted in [`TickAssembler::late`].
///
/// ```
/// use seep_common::rig::Rig;
/// use seep_common::sample::{ChannelIndex, Sample};
/// use seep_common::tick::TickAssembler;
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
/// let mut ticks = Vec::new();
/// let mut assembler = TickAssembler::new(&rig.channels, &rig.recorder);
/// for t_ms in (0..3000).step_by(100) {
///     let sample = Sample { channel: ChannelIndex(0), t_ms: BootMs(t_ms), value: 800.0 };
///     assembler.push(sample, &mut |tick| ticks.push(tick));
/// }
/// assembler.finish(&mut |tick| ticks.push(tick));
/// assert_eq!(ticks.len(), 3); // one a second at rest
/// assert_eq!(ticks[0].counts[0], Some(16_000)); // 800 kPa in steps of 0.05
/// ```
#[derive(Debug)]
pub struct TickAssembler {
    activity: Activity,
    resolutions: Vec<f64>,
    fine_ms: i64,
    driving_ms: i64,
    rest_ms: i64,
    before_ms: i64,
    after_ms: i64,
    bins: VecDeque<Bin>,
    /// Times whose samples belong to the last of the bins.
    last_bin_ms: Range<BootMs>,
    spare: Vec<Bin>,
    coarse: Option<Coarse>,
    active: VecDeque<(BootMs, BootMs)>,
    newest_ms: BootMs,
    last_emitted_ms: BootMs,
    late: u64,
}

#[derive(Debug)]
struct Coarse {
    key_ms: BootMs,
    period_ms: i64,
    bin: Bin,
}

impl TickAssembler {
    /// Assemble for these channels.
    #[must_use]
    pub fn new(channels: &[Channel], recorder: &Recorder) -> Self {
        let fine_ms = ms(1.0 / recorder.full_rate_hz);
        TickAssembler {
            activity: Activity::new(channels),
            resolutions: channels.iter().map(|c| c.resolution).collect(),
            fine_ms,
            driving_ms: ms(1.0 / recorder.driving_rate_hz).max(fine_ms),
            rest_ms: ms(recorder.rest_period_s).max(fine_ms),
            before_ms: ms(recorder.before_activity_s),
            after_ms: ms(recorder.after_activity_s),
            bins: VecDeque::new(),
            last_bin_ms: BootMs::MAX..BootMs::MAX,
            spare: Vec::new(),
            coarse: None,
            active: VecDeque::new(),
            newest_ms: BootMs::MIN,
            last_emitted_ms: BootMs::MIN,
            late: 0,
        }
    }

    /// No tick will start before `t_ms`, as at the start of a session.
    pub fn begin(&mut self, t_ms: BootMs) {
        self.last_emitted_ms = self.last_emitted_ms.max(t_ms.plus(-1));
    }

    /// Take a sample; finished ticks go to `sink`, a switch change is returned.
    pub fn push(
        &mut self,
        sample: Sample,
        sink: &mut impl FnMut(Tick<BootMs>),
    ) -> Option<SwitchChange> {
        if sample.t_ms < self.horizon_ms() {
            self.late += 1;
            return None;
        }
        let active_before = self.activity.last_active_ms();
        let change = self.activity.watch(sample);
        if self.activity.last_active_ms() != active_before {
            self.note_activity();
        }
        self.place(sample);
        if sample.t_ms > self.newest_ms {
            self.newest_ms = sample.t_ms;
            self.release(self.newest_ms.plus(-self.before_ms), sink);
        }
        change
    }

    /// Time passed without samples; finished ticks go to `sink`.
    pub fn advance(&mut self, t_ms: BootMs, sink: &mut impl FnMut(Tick<BootMs>)) {
        if t_ms > self.newest_ms {
            self.newest_ms = t_ms;
            self.release(t_ms.plus(-self.before_ms), sink);
        }
    }

    /// Hand out everything held, as at the end of a session.
    pub fn finish(&mut self, sink: &mut impl FnMut(Tick<BootMs>)) {
        self.release(BootMs::MAX, sink);
        self.flush_coarse(sink);
        self.activity.forget();
        self.active.clear();
    }

    /// Samples that came too late for any tick, and were not stored.
    #[must_use]
    pub fn late(&self) -> u64 {
        self.late
    }

    /// Since when nothing has moved: no valve, no compressor, no
    /// pressure, no drive. `None` when nothing has since the session began.
    #[must_use]
    pub fn quiet_since_ms(&self) -> Option<BootMs> {
        let active = self.activity.last_active_ms();
        active.max(self.activity.last_moving_ms())
    }

    /// Earliest time a sample may still have.
    #[inline]
    fn horizon_ms(&self) -> BootMs {
        let released = self.newest_ms.plus(-self.before_ms);
        released.max(self.last_emitted_ms.plus(1))
    }

    /// Full rate is due from `before` ahead of activity until `after` it.
    fn note_activity(&mut self) {
        let Some(at) = self.activity.last_active_ms() else {
            return;
        };
        let (from, to) = (at.plus(-self.before_ms), at.plus(self.after_ms));
        match self.active.back_mut() {
            Some(last) if from <= last.1 => last.1 = last.1.max(to),
            _ => self.active.push_back((from, to)),
        }
    }

    #[inline]
    fn place(&mut self, sample: Sample) {
        let channel = usize::from(sample.channel.0);
        if self.last_bin_ms.contains(&sample.t_ms)
            && let Some(last) = self.bins.back_mut()
        {
            return last.add(channel, sample.value);
        }
        let position = self.bin_for(sample.t_ms);
        self.bins[position].add(channel, sample.value);
    }

    /// Where the bin of a time is, made when it is new.
    fn bin_for(&mut self, t_ms: BootMs) -> usize {
        let grid = BootMs(t_ms.0.div_euclid(self.fine_ms) * self.fine_ms);
        let key = grid.max(self.last_emitted_ms.plus(1));
        let after = self.bins.partition_point(|b| b.t_ms <= key);
        if after > 0 && self.bins[after - 1].t_ms == key {
            return after - 1;
        }
        if after == self.bins.len() {
            self.last_bin_ms = key..grid.plus(self.fine_ms);
        }
        let bin = self.fresh_bin(key);
        self.bins.insert(after, bin);
        after
    }

    fn fresh_bin(&mut self, t_ms: BootMs) -> Bin {
        match self.spare.pop() {
            Some(mut bin) => {
                bin.reset(t_ms);
                bin
            }
            None => Bin::new(t_ms, self.resolutions.len()),
        }
    }

    /// Write out bins that lie wholly before `until_ms`.
    fn release(&mut self, until_ms: BootMs, sink: &mut impl FnMut(Tick<BootMs>)) {
        while let Some(first) = self.bins.front() {
            if first.t_ms.plus(self.fine_ms) > until_ms {
                break;
            }
            let Some(bin) = self.bins.pop_front() else {
                break;
            };
            while self.active.front().is_some_and(|a| a.1 < bin.t_ms) {
                self.active.pop_front();
            }
            if self.active.front().is_some_and(|a| a.0 <= bin.t_ms) {
                self.flush_coarse(sink);
                self.emit(&bin, sink);
            } else {
                self.coarsen(&bin, sink);
            }
            self.spare.push(bin);
        }
        // A coarse tick is finished by time, not by the next sample: before a
        // silence the last one must not wait in memory for the silence to end.
        if let Some(coarse) = &self.coarse
            && coarse.key_ms.plus(coarse.period_ms) <= until_ms
        {
            self.flush_coarse(sink);
        }
    }

    fn coarsen(&mut self, bin: &Bin, sink: &mut impl FnMut(Tick<BootMs>)) {
        let period_ms = if self.activity.driving(bin.t_ms) {
            self.driving_ms
        } else {
            self.rest_ms
        };
        let key_ms = BootMs(bin.t_ms.0.div_euclid(period_ms) * period_ms);
        if let Some(coarse) = &mut self.coarse
            && coarse.key_ms == key_ms
            && coarse.period_ms == period_ms
        {
            coarse.bin.merge(bin);
            return;
        }
        self.flush_coarse(sink);
        // Whole periods start on the grid; after full rate the first coarse
        // tick starts where the fine ones ended.
        let t_ms = if key_ms > self.last_emitted_ms {
            key_ms
        } else {
            bin.t_ms
        };
        let mut merged = self.fresh_bin(t_ms);
        merged.merge(bin);
        self.coarse = Some(Coarse {
            key_ms,
            period_ms,
            bin: merged,
        });
    }

    fn flush_coarse(&mut self, sink: &mut impl FnMut(Tick<BootMs>)) {
        if let Some(coarse) = self.coarse.take() {
            self.emit(&coarse.bin, sink);
            self.spare.push(coarse.bin);
        }
    }

    fn emit(&mut self, bin: &Bin, sink: &mut impl FnMut(Tick<BootMs>)) {
        debug_assert!(bin.t_ms > self.last_emitted_ms, "times must rise");
        self.last_emitted_ms = bin.t_ms;
        sink(bin.to_tick(&self.resolutions));
    }
}

/// Whole milliseconds, at least one.
fn ms(seconds: f64) -> i64 {
    ((seconds * 1000.0).round() as i64).max(1)
}

#[cfg(test)]
mod tests;
