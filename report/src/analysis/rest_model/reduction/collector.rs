//! Session by session: readings become reduced rests and means of minutes.

use super::super::super::segment::Busy;
use super::super::OwnMove;
use super::ReducedLog;
use super::by_hand::HandObservation;
use super::car::assemble;
use super::drives::{Roughness, by_roughness, by_speed};
use super::minutes::{MINUTE_S, Minutes};
use super::open::{Before, Counts, OpenRest, ReducedRest};
use super::plan::{ReductionPlan, VolumePlan};
use super::quiet::Quiet;
use super::session_moves::{SessionMoves, VolumeMoves};
use super::surroundings::Reduced;
use super::unseen_moves::{STEP_KPA, unseen_moves};
use crate::analysis::count::Count;
use seep_common::rig::Rig;
use seep_common::store::Columns;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// Roughness of a driven car, kPa and mm between neighbouring readings. Common
/// practice, no source.
const ROUGH_KPA: f32 = 2.5;
const ROUGH_MM: f32 = 2.0;

/// A drive that ended up to this long after the first reading of a rest still was
/// before it, s.
const DRIVE_END_S: f64 = 30.0;

/// Reduces a log, one session after the other.
///
/// Memory grows with the rests and the recorded minutes, not with the ticks.
#[derive(Debug, Serialize, Deserialize)]
pub struct Reduction {
    plan: ReductionPlan,
    counts: Vec<Count>,
    minutes: Vec<Minutes>,
    readings: Vec<u64>,
    volumes: Vec<VolumeState>,
    drives: Vec<(f64, f64)>,
    /// Added to the number of drives where a pause of unknown length parts two parks.
    breaks: usize,
    origin_ms: Option<i64>,
    outside_kpa_abs: f64,
    spikes: u64,
    stuck: u64,
}

#[derive(Debug, Default, Serialize, Deserialize)]
struct VolumeState {
    open: Option<OpenRest>,
    last_move: Option<OwnMove>,
    done: Vec<ReducedRest>,
    /// Rests that were too short, or had too few readings.
    left_out: u64,
}

impl Reduction {
    /// For a rig. `stored_count` is the step in which a channel is stored;
    /// `outside_kpa_abs` stands where no barometer is recorded.
    #[must_use]
    pub fn new(rig: &Rig, stored_count: impl Fn(&str) -> f64, outside_kpa_abs: f64) -> Self {
        let plan = ReductionPlan::of(rig);
        let n = plan.channels.len();
        Reduction {
            counts: plan
                .channels
                .iter()
                .map(|name| Count::new(stored_count(name)))
                .collect(),
            minutes: vec![Minutes::default(); n],
            readings: vec![0; n],
            volumes: plan
                .volumes
                .iter()
                .map(|_| VolumeState::default())
                .collect(),
            plan,
            drives: Vec::new(),
            breaks: 0,
            origin_ms: None,
            outside_kpa_abs,
            spikes: 0,
            stuck: 0,
        }
    }

    /// Takes the next session. Rests go on over a pause of known length.
    pub fn push(&mut self, frame: &Columns, pause_known: bool, moves: &SessionMoves) {
        let Some(&first_ms) = frame.t_ms.first() else {
            return;
        };
        let origin_ms = *self.origin_ms.get_or_insert(first_ms);
        if !pause_known {
            self.end_all();
            self.breaks += 1;
        }
        let drives = self.drives_of(frame);
        let mut quiet: Vec<Quiet> = (0..self.plan.channels.len())
            .map(|c| self.channel(c, frame, &drives, origin_ms))
            .collect();
        let parks_before = self.drives.len() + self.breaks;
        let earlier_drive_end_s = self.drives.last().map(|d| d.1);
        let drives_s: Vec<(f64, f64)> = drives
            .spans()
            .iter()
            .map(|d| (d.0 as f64 / 1e3, d.1 as f64 / 1e3))
            .collect();
        let known = |t_s: f64, moves: &[OwnMove], last: Option<OwnMove>| {
            let started = drives_s.iter().filter(|d| d.0 < t_s + 1.0).count();
            let ended = drives_s
                .iter()
                .map(|d| d.1)
                .filter(|e| *e <= t_s + DRIVE_END_S);
            let drive_end_s = earlier_drive_end_s
                .into_iter()
                .chain(ended)
                .max_by(f64::total_cmp);
            let own = moves
                .iter()
                .rfind(|m| m.end_s <= t_s + 1e-6)
                .copied()
                .or(last);
            Before {
                park: parks_before + started,
                last_move: own,
                levelled_s: drive_end_s
                    .into_iter()
                    .chain(own.map(|m| m.end_s))
                    .max_by(f64::total_cmp),
            }
        };
        for (v, plan) in self.plan.volumes.iter().enumerate() {
            let mut own = VolumeMoves::of(moves, plan.circuit);
            for channel in [Some(plan.pressure), plan.height].into_iter().flatten() {
                let readings = std::mem::take(&mut quiet[channel]);
                let (kept, stuck) = readings.without_stuck(own.moves());
                quiet[channel] = kept;
                self.stuck += stuck;
            }
            if !plan.wired {
                let outside = if plan.is_gauge {
                    self.outside_kpa_abs as f32
                } else {
                    0.0
                };
                let step_kpa = self.counts[plan.pressure].step(STEP_KPA);
                own.add_unseen(&unseen_moves(&quiet[plan.pressure], outside, step_kpa));
            }
            let busy = own.busy().or(&drives);
            let own = own.in_order();
            let counts = counts_of(&self.counts, plan);
            let state = &mut self.volumes[v];
            let before = |t_s: f64, last| known(t_s, &own, last);
            state.push(plan, &quiet, &busy, counts, before);
            state.last_move = own.last().copied().or(state.last_move);
        }
        self.drives.extend(drives_s);
    }

    /// Cleans one channel, and adds it to its minutes.
    fn channel(&mut self, c: usize, frame: &Columns, drives: &Busy, origin_ms: i64) -> Quiet {
        let Some(column) = frame.column(&self.plan.channels[c]) else {
            return Quiet::default();
        };
        let quiet = Quiet::of(&frame.t_ms, column, drives);
        self.counts[c].push(&quiet.values);
        let (quiet, spike_times_ms) = quiet.without_spikes(self.counts[c].value());
        self.spikes += spike_times_ms.len() as u64;
        let mut kept = Cow::Borrowed(column);
        for t_ms in &spike_times_ms {
            if let Ok(at) = frame.t_ms.binary_search(t_ms) {
                kept.to_mut()[at] = f32::NAN;
            }
        }
        self.readings[c] += self.minutes[c].add(origin_ms, &frame.t_ms, &kept);
        quiet
    }

    fn drives_of(&self, frame: &Columns) -> Busy {
        let kmh = frame.column("vehicle_kmh");
        if let Some(kmh) = kmh.filter(|k| k.iter().any(|v| !v.is_nan())) {
            return by_speed(&frame.t_ms, kmh);
        }
        let rough = |channel: Option<usize>, limit| {
            let values = frame.column(&self.plan.channels[channel?])?;
            Some(Roughness { values, limit })
        };
        let corners = self.plan.volumes.iter().filter(|v| !v.volume.is_tank);
        let channels: Vec<Roughness> = corners
            .flat_map(|v| {
                [
                    rough(Some(v.pressure), ROUGH_KPA),
                    rough(v.any_height, ROUGH_MM),
                ]
            })
            .flatten()
            .collect();
        by_roughness(&frame.t_ms, &channels)
    }

    fn end_all(&mut self) {
        for (plan, state) in self.plan.volumes.iter().zip(&mut self.volumes) {
            state.end(counts_of(&self.counts, plan));
        }
    }

    /// Ends every rest and puts the car together, with what was read by hand.
    #[must_use]
    pub fn finish(mut self, by_hand: &[HandObservation]) -> ReducedLog {
        self.end_all();
        for minutes in &mut self.minutes {
            minutes.close();
        }
        let done = self.volumes.iter().flat_map(|v| &v.done);
        let spikes: u64 = done.map(|r| r.spikes).sum();
        let to_minutes = |s: f64| (s - self.origin_ms.unwrap_or(0) as f64 / 1e3) / MINUTE_S;
        let reduced = Reduced {
            counts: self
                .plan
                .volumes
                .iter()
                .map(|p| counts_of(&self.counts, p))
                .collect(),
            drives_min: self
                .drives
                .iter()
                .map(|d| (to_minutes(d.0), to_minutes(d.1)))
                .collect(),
            left_out: self.volumes.iter().map(|v| v.left_out).sum(),
            rests: self.volumes.into_iter().map(|v| v.done).collect(),
            plan: self.plan,
            minutes: self.minutes,
            readings: self.readings,
            origin_s: self.origin_ms.unwrap_or(0) as f64 / 1e3,
            outside_kpa_abs: self.outside_kpa_abs,
            spikes: self.spikes + spikes,
            stuck: self.stuck,
        };
        assemble(reduced, by_hand)
    }
}

fn counts_of(counts: &[Count], plan: &VolumePlan) -> Counts {
    Counts {
        kpa: counts[plan.pressure].value(),
        mm: plan.height.map_or(0.0, |h| counts[h].value()),
    }
}

impl VolumeState {
    fn push(
        &mut self,
        plan: &VolumePlan,
        quiet: &[Quiet],
        busy: &Busy,
        counts: Counts,
        before: impl Fn(f64, Option<OwnMove>) -> Before,
    ) {
        let last_move = self.last_move;
        let mut from = i64::MIN;
        for (busy_from, busy_to) in busy.spans().iter().copied().chain([(i64::MAX, i64::MAX)]) {
            for (t, kpa) in quiet[plan.pressure].between(from, busy_from) {
                let t_s = t as f64 / 1e3;
                let open = || OpenRest::new(before(t_s, last_move));
                let rest = self.open.get_or_insert_with(open);
                rest.push_pressure(t_s, f64::from(kpa));
            }
            let heights = plan.height.map(|h| quiet[h].between(from, busy_from));
            if let Some(rest) = &mut self.open {
                for (t, mm) in heights.into_iter().flatten() {
                    rest.push_height(t as f64 / 1e3, f64::from(mm));
                }
            }
            if busy_from < i64::MAX {
                self.end(counts);
            }
            from = busy_to;
        }
    }

    fn end(&mut self, counts: Counts) {
        let Some(rest) = self.open.take() else {
            return;
        };
        match rest.reduce(counts) {
            Some(rest) => self.done.push(rest),
            None => self.left_out += 1,
        }
    }
}
