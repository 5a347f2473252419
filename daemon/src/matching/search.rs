//! Every field tried, the best one judged.

use super::bus::{BusRecord, FrameGroup};
use super::chance::{explains_all, ln_bayes_factor, ln_odds_over_followers, ln_prior_odds, spread};
use super::copies::{Course, roughness};
use super::field::Field;
use super::fit::{FittedLine, Tried, fit, values};
use super::follower::ln_follower;
use super::window::windows;
use super::{GaugeReading, NoteError};

/// A field that may carry the gauge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// The frames it is in.
    pub group: FrameGroup,
    /// Its bits.
    pub field: Field,
    /// Gauge units per count.
    pub scale: f64,
    /// Gauge units at count 0.
    pub offset: f64,
    /// Share of the readings' variance that is explained.
    pub r_squared: f64,
    /// ln of its evidence over that of readings which follow nothing.
    pub ln_evidence: f64,
    line: FittedLine,
}

impl Candidate {
    /// What it says over the whole recording: Unix ms and gauge units.
    #[must_use]
    pub fn decoded(&self, bus: &BusRecord) -> Vec<(i64, f64)> {
        (bus.of(self.group).iter())
            .map(|p| {
                (
                    p.t_ms,
                    self.scale * self.field.value(&p.bytes) + self.offset,
                )
            })
            .collect()
    }
}

/// What can be said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MatchVerdict {
    /// The best candidate carries the gauge, with this probability.
    Found(f64),
    /// Another signal fits about as well; about so many more readings part them.
    RunnerUpTooNear(usize),
    /// The best candidate could be another signal that follows the gauge; about so
    /// many more readings would show it.
    MayOnlyFollow(usize),
    /// The best candidate could be chance; about so many more readings are needed.
    TooFewReadings(usize),
    /// No field explains all readings.
    NothingFits,
}

/// The outcome of a search.
#[derive(Debug, Clone, PartialEq)]
pub struct MatchResult {
    /// What can be said.
    pub verdict: MatchVerdict,
    /// The best candidate.
    pub best: Option<Candidate>,
    /// The best candidate that is another signal.
    pub runner_up: Option<Candidate>,
    /// Other frames that carry the same signal.
    pub copies: Vec<Candidate>,
    /// Fields that change at the readings: the hypotheses.
    pub hypotheses: usize,
}

/// The least probability that is called found.
const SURE: f64 = 0.99;

/// Candidates this close in ln evidence (a factor of 20) are told apart by their
/// course, not by the readings.
const NEAR: f64 = 3.0;

/// So many of the best are compared with each other.
const MOST_COMPARED: usize = 400;

/// More readings than this are not asked for at once.
const MOST_ASKED: usize = 30;

/// Searches a recording for the field that carries a gauge.
///
/// `readings` should span what the gauge can show; with fewer than three there is
/// nothing to judge by.
#[must_use]
pub fn find_gauge(bus: &BusRecord, readings: &[GaugeReading], error: NoteError) -> MatchResult {
    let values: Vec<f64> = readings.iter().map(|r| r.value).collect();
    let mut hypotheses = 0;
    let mut found: Vec<Candidate> = Vec::new();
    for (group, payloads) in bus.groups() {
        let Some(windows) = windows(&payloads, readings, error) else {
            continue;
        };
        let length = payloads.iter().map(|p| p.length).min().unwrap_or(0);
        let from = u8::from(group.multiplexer.is_some());
        for field in Field::all(from, length) {
            match fit(field, &windows, readings, error.rounding) {
                Tried::Constant => {}
                Tried::Unlike => hypotheses += 1,
                Tried::Fits(line) => {
                    hypotheses += 1;
                    found.push(Candidate {
                        group,
                        field,
                        scale: line.scale,
                        offset: line.offset,
                        r_squared: line.r_squared,
                        ln_evidence: ln_bayes_factor(&line, &values),
                        line,
                    });
                }
            }
        }
    }
    found.sort_by(|a, b| b.ln_evidence.total_cmp(&a.ln_evidence));
    found.truncate(MOST_COMPARED);
    judge(bus, readings, error, &found, hypotheses)
}

fn judge(
    bus: &BusRecord,
    readings: &[GaugeReading],
    error: NoteError,
    found: &[Candidate],
    hypotheses: usize,
) -> MatchResult {
    let mut result = MatchResult {
        verdict: MatchVerdict::NothingFits,
        best: None,
        runner_up: None,
        copies: Vec::new(),
        hypotheses,
    };
    let Some(top) = found.first() else {
        return result;
    };
    let course = |c: &Candidate| Course::new(bus, c.group, c.field, &c.line);
    let top_course = course(top);
    let (same, others): (Vec<Candidate>, Vec<Candidate>) =
        (found.iter().copied()).partition(|c| course(c).same_as(&top_course, resolution(c, top)));
    let best = plainest(bus, &same, top);
    result.runner_up = others.first().copied();
    let mut seen = vec![(best.group.id, best.group.extended)];
    for candidate in &same {
        let key = (candidate.group.id, candidate.group.extended);
        if !seen.contains(&key) && candidate.ln_evidence > top.ln_evidence - NEAR {
            seen.push(key);
            result.copies.push(*candidate);
        }
    }
    let over_followers = over_followers(bus, readings, error, top);
    result.verdict = verdict(
        top,
        result.runner_up.as_ref(),
        over_followers,
        readings.len(),
        hypotheses,
    );
    result.best = Some(best);
    result
}

/// ln odds of a candidate against a signal that only follows the gauge.
fn over_followers(
    bus: &BusRecord,
    readings: &[GaugeReading],
    error: NoteError,
    top: &Candidate,
) -> f64 {
    let noted: Vec<f64> = readings.iter().map(|r| r.value).collect();
    windows(&bus.of(top.group), readings, error).map_or(0.0, |windows| {
        let x = values(top.field, &windows);
        let spread = spread(&noted);
        let ln = ln_follower(&x, readings, &top.line, spread, error.rounding);
        ln_odds_over_followers(ln)
    })
}

/// What one more reading that fits speaks against a follower, ln: the mean of
/// `-ln P(|e + N(0, σ²)| < r/2)` with `e` even over ± r/2 and σ = r/√12, the
/// closest follower that is tried, when the gauge stands still.
const EACH_AGAINST_FOLLOWERS: f64 = 0.27;

/// How finely two candidates can be compared: bits taken out of the same field
/// only as finely as the coarser of them steps, other signals as the best one does.
fn resolution(candidate: &Candidate, top: &Candidate) -> f64 {
    let key = |c: &Candidate| (c.group.id, c.group.extended);
    let shared = candidate.field.bit_mask() & top.field.bit_mask();
    if key(candidate) == key(top) && shared != 0 {
        candidate.line.sigma.max(top.line.sigma)
    } else {
        top.line.sigma
    }
}

/// Of the candidates that are the same signal and fit as well: the one whose
/// course is smoothest; then whole bytes, the fewest bits, unsigned.
fn plainest(bus: &BusRecord, same: &[Candidate], top: &Candidate) -> Candidate {
    let near: Vec<&Candidate> = (same.iter())
        .filter(|c| c.ln_evidence > top.ln_evidence - NEAR)
        .collect();
    let plain = |c: &&Candidate| c.group.multiplexer.is_none();
    let unmultiplexed = near.iter().any(plain);
    let rough: Vec<(f64, &Candidate)> = (near.into_iter())
        .filter(|c| !unmultiplexed || plain(c))
        .map(|c| (roughness(&bus.of(c.group), c.field, c.scale), c))
        .collect();
    let least = rough.iter().map(|r| r.0).fold(f64::INFINITY, f64::min);
    (rough.into_iter())
        .filter(|(r, _)| *r <= least * 1.02)
        .min_by_key(|(_, c)| {
            let f = c.field;
            (!f.is_whole_bytes(), f.bits, f.signed, c.group, f)
        })
        .map_or(*top, |(_, c)| *c)
}

fn verdict(
    top: &Candidate,
    runner_up: Option<&Candidate>,
    over_followers: f64,
    readings: usize,
    hypotheses: usize,
) -> MatchVerdict {
    if !explains_all(top.line.deviance, readings) {
        return MatchVerdict::NothingFits;
    }
    let wanted = (SURE / (1.0 - SURE)).ln();
    let more = |gap: f64, each: f64| {
        let needed = (wanted - gap) / each.max(wanted / MOST_ASKED as f64);
        (needed.ceil().max(1.0) as usize).min(MOST_ASKED)
    };
    let over_chance = top.ln_evidence + ln_prior_odds(hypotheses);
    let n = readings.max(1) as f64;
    if over_chance < wanted {
        // Two readings fix the line; each one after them adds its share.
        let each = top.ln_evidence.max(1.0) / (n - 2.0).max(1.0);
        return MatchVerdict::TooFewReadings(more(over_chance, each));
    }
    let over_next = runner_up.map_or(f64::INFINITY, |r| top.ln_evidence - r.ln_evidence);
    if over_next < wanted {
        return MatchVerdict::RunnerUpTooNear(more(over_next, over_next / n));
    }
    if over_followers < wanted {
        return MatchVerdict::MayOnlyFollow(more(over_followers, EACH_AGAINST_FOLLOWERS));
    }
    let against = (-over_chance).exp() + (-over_next).exp() + (-over_followers).exp();
    MatchVerdict::Found(1.0 / (1.0 + against))
}
