//! Rests: stretches in which a volume was left alone.

use super::Busy;
use super::held::Slow;
use seep_common::units::ICE_POINT_K;
use serde::{Deserialize, Serialize};

/// Readings of one volume over one session, as slices of equal length.
#[derive(Debug, Clone, Copy)]
pub struct PlaceView<'a> {
    /// Number of the session.
    pub session: i64,
    /// False when it is not known how long after the session before it began:
    /// nothing is at rest across such a pause.
    pub pause_known: bool,
    /// Log times, ms.
    pub t_ms: &'a [i64],
    /// Pressure, kPa, gauge or absolute as `is_gauge` says.
    pub kpa: &'a [f32],
    /// True when `kpa` is read against the outside.
    pub is_gauge: bool,
    /// Outside pressure, kPa absolute, where a barometer is recorded.
    pub ambient_kpa_abs: Option<&'a [f32]>,
    /// Outside pressure otherwise, kPa absolute.
    pub ambient_default_kpa_abs: f64,
    /// Height, mm.
    pub mm: Option<&'a [f32]>,
    /// Temperature nearest to the air, °C.
    pub celsius: Option<&'a [f32]>,
    /// When the car was driven.
    pub driving: &'a Busy,
    /// When air was moved on purpose in or out of this volume.
    pub busy: &'a Busy,
    /// Steps in which the channels are stored.
    pub resolution: Resolution,
}

/// Smallest steps of the channels of a volume.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Resolution {
    /// Pressure, kPa.
    pub kpa: f64,
    /// Height, mm.
    pub mm: f64,
    /// Temperature, K.
    pub kelvin: f64,
}

/// Mean readings of a few seconds at rest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RestPoint {
    /// Log time of the middle, s.
    pub t_s: f64,
    /// Pressure, kPa absolute.
    pub kpa_abs: f64,
    /// Temperature, K; `NaN` when none is recorded.
    pub kelvin: f64,
    /// Height, mm; `NaN` when none is recorded.
    pub mm: f64,
    /// Ticks averaged.
    pub ticks: f64,
}

/// What happened to the volume before a rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum LastMove {
    /// Air went in.
    Fill,
    /// Air went out.
    Dump,
    /// Not seen.
    Unknown,
}

/// A stretch in which a volume was left alone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Rest {
    /// Circuit, or `tank`.
    pub place: String,
    /// Readings in time order.
    pub points: Vec<RestPoint>,
    /// Power-off gaps inside, log time s: only the readings around them tell
    /// what happened in between.
    pub bridges: Vec<(f64, f64)>,
    /// What was done before.
    pub after: LastMove,
    /// Log time of the end of the last activity before, s, if seen.
    pub quiet_since_s: Option<f64>,
    /// Sessions it lies in.
    pub sessions: Vec<i64>,
    /// Part of it, s, in which no barometer reading follows the weather; a
    /// silence with a reading on either side counts for a fifth, since it can
    /// only wander between them. 0 for a sensor that reads absolute.
    pub weather_unread_s: f64,
    /// Steps in which its channels are stored.
    pub resolution: Resolution,
}

impl Rest {
    /// Length from first to last reading, s.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        match (self.points.first(), self.points.last()) {
            (Some(first), Some(last)) => last.t_s - first.t_s,
            _ => 0.0,
        }
    }
}

/// Length of one mean, ms.
const MEAN_MS: i64 = 10_000;

/// Readings of a slow channel further apart than this are not joined, ms.
const JOIN_MS: i64 = 1_800_000;

/// A rest shorter than this tells nothing, s.
const SHORTEST_S: f64 = 300.0;

/// Collects the rests of one volume, session after session.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct RestCollector {
    place: String,
    open: Option<Rest>,
    mean: Mean,
    done: Vec<Rest>,
    last_t_ms: Option<i64>,
    /// When driving last ended.
    drove_until_ms: Option<i64>,
    /// Last outside pressure read, log time ms and kPa absolute: it stands over
    /// a power-off gap.
    outside: Option<(i64, f64)>,
}

#[derive(Debug, Clone, Default, Serialize, Deserialize)]
struct Mean {
    key: i64,
    t_ms: f64,
    kpa: f64,
    ticks: f64,
    mm: (f64, f64),
    kelvin: f64,
}

impl RestCollector {
    /// Collect for a circuit, or `tank`.
    #[must_use]
    pub fn new(place: &str) -> Self {
        RestCollector {
            place: place.into(),
            open: None,
            mean: Mean::default(),
            done: Vec::new(),
            last_t_ms: None,
            drove_until_ms: None,
            outside: None,
        }
    }

    /// Take the next session. A rest that was open when the last one ended
    /// goes on over the gap when the volume is still at rest.
    pub fn push_session(&mut self, view: &PlaceView, last_move: impl Fn(i64) -> LastMove) {
        let mut celsius = Slow::new(view.t_ms, view.celsius, JOIN_MS, None);
        let mut outside = Slow::new(view.t_ms, view.ambient_kpa_abs, i64::MAX, self.outside);
        let mut is_busy = view.busy.in_order();
        let mut drives = view.driving.in_order();
        if !view.pause_known {
            self.end_rest();
        }
        if let (Some(last), Some(&first)) = (self.last_t_ms, view.t_ms.first())
            && let Some(rest) = &mut self.open
        {
            close_mean(&mut self.mean, rest);
            rest.bridges.push((last as f64 / 1e3, first as f64 / 1e3));
        }
        let mut next = 0;
        while let Some(&t) = view.t_ms.get(next) {
            let i = next;
            if let Some(end_ms) = drives(t).max(is_busy(t)) {
                self.end_rest();
                next += view.t_ms[i..].partition_point(|t| *t < end_ms);
                continue;
            }
            next += 1;
            let kpa = view.kpa[i];
            if kpa.is_nan() {
                continue;
            }
            let reading = Reading {
                t_ms: t,
                kpa_abs: f64::from(kpa)
                    + if view.is_gauge {
                        or(outside.at(t), view.ambient_default_kpa_abs)
                    } else {
                        0.0
                    },
                kelvin: celsius.at(t) + ICE_POINT_K,
                mm: view.mm.map_or(f64::NAN, |m| f64::from(m[i])),
                weather_unread: if view.is_gauge { unread(&outside) } else { 0.0 },
            };
            self.add(view, &reading, &last_move);
        }
        self.last_t_ms = view.t_ms.last().copied().or(self.last_t_ms);
        let last_drive = view.driving.spans().last();
        self.drove_until_ms = last_drive.map(|s| s.1).or(self.drove_until_ms);
        // Also what was read while the car drove.
        outside.at(i64::MAX);
        self.outside = outside.last_read();
    }

    fn add(&mut self, view: &PlaceView, reading: &Reading, last_move: &impl Fn(i64) -> LastMove) {
        let t = reading.t_ms;
        let rest = self.open.get_or_insert_with(|| Rest {
            place: self.place.clone(),
            points: Vec::new(),
            bridges: Vec::new(),
            after: last_move(t),
            quiet_since_s: view
                .busy
                .last_end_before(t)
                .max(view.driving.last_end_before(t))
                .max(self.drove_until_ms)
                .map(|ms| ms as f64 / 1e3),
            sessions: Vec::new(),
            weather_unread_s: 0.0,
            resolution: view.resolution,
        });
        if rest.sessions.last() != Some(&view.session) {
            rest.sessions.push(view.session);
        }
        let key = t.div_euclid(MEAN_MS);
        if self.mean.ticks > 0.0 && self.mean.key != key {
            close_mean(&mut self.mean, rest);
            let step_s = rest.points.last().map_or(0.0, |p| t as f64 / 1e3 - p.t_s);
            rest.weather_unread_s += step_s * reading.weather_unread;
        }
        self.mean.key = key;
        self.mean.ticks += 1.0;
        self.mean.t_ms += t as f64;
        self.mean.kpa += reading.kpa_abs;
        self.mean.kelvin += reading.kelvin;
        if !reading.mm.is_nan() {
            self.mean.mm.0 += reading.mm;
            self.mean.mm.1 += 1.0;
        }
    }

    fn end_rest(&mut self) {
        let Some(mut rest) = self.open.take() else {
            return;
        };
        close_mean(&mut self.mean, &mut rest);
        // A bridge with nothing behind it bridges nothing.
        let last_s = rest.points.last().map_or(f64::NEG_INFINITY, |p| p.t_s);
        rest.bridges.retain(|b| b.1 <= last_s + 1.0);
        if rest.seconds() >= SHORTEST_S {
            self.done.push(rest);
        }
    }

    /// Every rest found.
    #[must_use]
    pub fn finish(mut self) -> Vec<Rest> {
        self.end_rest();
        self.done
    }
}

/// One reading of a volume with what belongs to it.
struct Reading {
    t_ms: i64,
    kpa_abs: f64,
    kelvin: f64,
    mm: f64,
    /// How little of the weather is known now, 0 to 1.
    weather_unread: f64,
}

fn or(value: f64, default: f64) -> f64 {
    if value.is_nan() { default } else { value }
}

/// 0 while the barometer speaks; between two readings far apart the weather
/// can wander less than after the last: the slope of a Brownian bridge has a
/// fifth of the variance of that of a free walk.
fn unread(outside: &Slow) -> f64 {
    match outside.silence_ms() {
        Some(ms) if ms <= JOIN_MS => 0.0,
        Some(_) => 0.2,
        None => 1.0,
    }
}

fn close_mean(mean: &mut Mean, rest: &mut Rest) {
    if mean.ticks > 0.0 {
        rest.points.push(RestPoint {
            t_s: mean.t_ms / mean.ticks / 1e3,
            kpa_abs: mean.kpa / mean.ticks,
            kelvin: mean.kelvin / mean.ticks,
            mm: if mean.mm.1 > 0.0 {
                mean.mm.0 / mean.mm.1
            } else {
                f64::NAN
            },
            ticks: mean.ticks,
        });
    }
    *mean = Mean::default();
}

#[cfg(test)]
mod tests {
    use super::*;

    fn view<'a>(t_ms: &'a [i64], kpa: &'a [f32], busy: &'a Busy) -> PlaceView<'a> {
        PlaceView {
            session: 1,
            pause_known: true,
            t_ms,
            kpa,
            is_gauge: true,
            ambient_kpa_abs: None,
            ambient_default_kpa_abs: 100.0,
            mm: None,
            celsius: None,
            driving: Busy::never(),
            busy,
            resolution: Resolution::default(),
        }
    }

    #[test]
    fn a_valve_splits_two_rests() {
        let t: Vec<i64> = (0..1_800).map(|s| s * 1000).collect();
        let kpa = vec![500.0; t.len()];
        let busy = Busy::new([(900_000, 905_000)]);
        let mut collector = RestCollector::new("front_left");
        collector.push_session(&view(&t, &kpa, &busy), |at| {
            if at > 900_000 {
                LastMove::Dump
            } else {
                LastMove::Unknown
            }
        });
        let rests = collector.finish();
        assert_eq!(rests.len(), 2);
        assert_eq!(rests[0].after, LastMove::Unknown);
        assert_eq!(rests[1].after, LastMove::Dump);
        assert_eq!(rests[1].quiet_since_s, Some(905.0));
        assert!((rests[0].points[3].kpa_abs - 600.0).abs() < 1e-9);
        assert!((rests[0].seconds() - 890.0).abs() < 1.0);
    }

    #[test]
    fn a_rest_goes_on_over_a_power_off_gap_and_says_so() {
        let busy = Busy::default();
        let first: Vec<i64> = (0..120).map(|s| s * 1000).collect();
        let second: Vec<i64> = (0..120).map(|s| 36_000_000 + s * 1000).collect();
        let kpa = vec![500.0; 120];
        let mut collector = RestCollector::new("tank");
        collector.push_session(&view(&first, &kpa, &busy), |_| LastMove::Unknown);
        let mut next = view(&second, &kpa, &busy);
        next.session = 2;
        collector.push_session(&next, |_| LastMove::Unknown);
        let rests = collector.finish();
        assert_eq!(rests.len(), 1);
        assert_eq!(rests[0].bridges, [(119.0, 36_000.0)]);
        assert_eq!(rests[0].sessions, [1, 2]);
    }

    #[test]
    fn driving_is_no_rest() {
        let t: Vec<i64> = (0..1_800).map(|s| s * 1000).collect();
        let kpa = vec![500.0; t.len()];
        let kmh: Vec<f32> = (0..1_800u16)
            .map(|s| {
                if (600..1_200).contains(&s) {
                    60.0
                } else {
                    f32::NAN
                }
            })
            .collect();
        let busy = Busy::default();
        let mut v = view(&t, &kpa, &busy);
        let driving = Busy::from_driving(&t, &kmh);
        v.driving = &driving;
        let mut collector = RestCollector::new("tank");
        collector.push_session(&v, |_| LastMove::Unknown);
        let rests = collector.finish();
        assert_eq!(rests.len(), 2);
        assert!(rests[0].points.iter().all(|p| p.t_s < 600.0));
        assert!(rests[1].points.iter().all(|p| p.t_s > 1_200.0));
    }
}
