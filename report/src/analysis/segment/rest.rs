//! Rests: stretches in which a volume was left alone.

use super::Busy;
use seep_common::units::ICE_POINT_K;

/// Readings of one volume over one session, as slices of equal length.
#[derive(Debug, Clone, Copy)]
pub struct PlaceView<'a> {
    /// Number of the session.
    pub session: i64,
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
    /// Speed, km/h.
    pub kmh: Option<&'a [f32]>,
    /// When air was moved on purpose in or out of this volume.
    pub busy: &'a Busy,
}

/// Mean readings of a few seconds at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
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
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LastMove {
    /// Air went in.
    Fill,
    /// Air went out.
    Dump,
    /// Not seen.
    Unknown,
}

/// A stretch in which a volume was left alone.
#[derive(Debug, Clone, PartialEq)]
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

/// A speed above this is driving, km/h; common practice, no source.
const DRIVING_KMH: f32 = 2.0;

/// Length of one mean, ms.
const MEAN_MS: i64 = 10_000;

/// A rest shorter than this tells nothing, s.
const SHORTEST_S: f64 = 300.0;

/// Collects the rests of one volume, session after session.
#[derive(Debug, Clone)]
pub struct RestCollector {
    place: String,
    open: Option<Rest>,
    mean: Mean,
    done: Vec<Rest>,
    last_t_ms: Option<i64>,
}

#[derive(Debug, Clone, Default)]
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
        }
    }

    /// Take the next session. A rest that was open when the last one ended
    /// goes on over the gap when the volume is still at rest.
    pub fn push_session(&mut self, view: &PlaceView, last_move: impl Fn(i64) -> LastMove) {
        let (mut kelvin, mut ambient) = (f64::NAN, view.ambient_default_kpa_abs);
        let mut driving_until = i64::MIN;
        if let (Some(last), Some(&first)) = (self.last_t_ms, view.t_ms.first())
            && let Some(rest) = &mut self.open
        {
            close_mean(&mut self.mean, rest);
            rest.bridges.push((last as f64 / 1e3, first as f64 / 1e3));
        }
        for (i, &t) in view.t_ms.iter().enumerate() {
            if let Some(c) = view.celsius.map(|c| c[i]).filter(|c| !c.is_nan()) {
                kelvin = f64::from(c) + ICE_POINT_K;
            }
            if let Some(a) = view.ambient_kpa_abs.map(|a| a[i]).filter(|a| !a.is_nan()) {
                ambient = f64::from(a);
            }
            if view.kmh.is_some_and(|v| v[i] > DRIVING_KMH) {
                driving_until = t + 5_000;
            }
            self.last_t_ms = Some(t);
            if t < driving_until || view.busy.contains(t) {
                self.end_rest();
                continue;
            }
            let kpa = view.kpa[i];
            if kpa.is_nan() {
                continue;
            }
            let kpa_abs = f64::from(kpa) + if view.is_gauge { ambient } else { 0.0 };
            let mm = view.mm.map_or(f64::NAN, |m| f64::from(m[i]));
            self.add(view, t, kpa_abs, kelvin, mm, &last_move);
        }
    }

    fn add(
        &mut self,
        view: &PlaceView,
        t: i64,
        kpa_abs: f64,
        kelvin: f64,
        mm: f64,
        last_move: &impl Fn(i64) -> LastMove,
    ) {
        let rest = self.open.get_or_insert_with(|| Rest {
            place: self.place.clone(),
            points: Vec::new(),
            bridges: Vec::new(),
            after: last_move(t),
            quiet_since_s: view.busy.last_end_before(t).map(|ms| ms as f64 / 1e3),
            sessions: Vec::new(),
        });
        if rest.sessions.last() != Some(&view.session) {
            rest.sessions.push(view.session);
        }
        let key = t.div_euclid(MEAN_MS);
        if self.mean.ticks > 0.0 && self.mean.key != key {
            close_mean(&mut self.mean, rest);
        }
        self.mean.key = key;
        self.mean.ticks += 1.0;
        self.mean.t_ms += t as f64;
        self.mean.kpa += kpa_abs;
        self.mean.kelvin = kelvin;
        if !mm.is_nan() {
            self.mean.mm.0 += mm;
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

fn close_mean(mean: &mut Mean, rest: &mut Rest) {
    if mean.ticks > 0.0 {
        rest.points.push(RestPoint {
            t_s: mean.t_ms / mean.ticks / 1e3,
            kpa_abs: mean.kpa / mean.ticks,
            kelvin: mean.kelvin,
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
            t_ms,
            kpa,
            is_gauge: true,
            ambient_kpa_abs: None,
            ambient_default_kpa_abs: 100.0,
            mm: None,
            celsius: None,
            kmh: None,
            busy,
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
        v.kmh = Some(&kmh);
        let mut collector = RestCollector::new("tank");
        collector.push_session(&v, |_| LastMove::Unknown);
        let rests = collector.finish();
        assert_eq!(rests.len(), 2);
        assert!(rests[0].points.iter().all(|p| p.t_s < 600.0));
        assert!(rests[1].points.iter().all(|p| p.t_s > 1_200.0));
    }
}
