//! One session at a time.

use super::asleep;
use super::channels::{finest_step, height_sensor, pressure_sensor};
use super::silences::LongSilences;
use super::traces::GrowingTrace;
use super::{
    ASSUMED_CRITICAL_RATIO, CompressorDigest, Digest, PlaceChannels, ambient_by_rig, collectors,
    sides, switching, traces,
};
use crate::analysis::air::Vessel;
use crate::analysis::count::Count;
use crate::analysis::delivery::{OutsideSeries, Run, RunView, SwitchedOff, measure_run};
use crate::analysis::duty::{Switching, Timeline};
use crate::analysis::moves::{
    Move, MoveSensors, MoveView, Series, allow_for_dead_time, cluster, measure,
};
use crate::analysis::rest_model::{HandObservation, Reduction, SessionMoves};
use crate::analysis::segment::{Busy, LastMove, OnSpan, PlaceView, RestCollector, on_spans};
use crate::analysis::side_to_side::SideCollector;
use crate::recording::{Recording, Session};
use seep_common::channel::Quantity;
use seep_common::rig::Rig;
use seep_common::store::{ClockMap, Columns, EventKind};
use seep_common::units::ICE_POINT_K;
use serde::{Deserialize, Serialize};

/// A switch that was silent longer than this is unknown in between, ms, unless
/// its channel is slower by its rig.
const SWITCH_SILENCE_MS: i64 = 60_000;

/// Steps that mark a move where no valve channel exists, kPa.
const STEP_KPA: f32 = 4.0;

/// What has been gathered so far.
#[derive(Serialize, Deserialize)]
pub(super) struct SessionState {
    collectors: Vec<RestCollector>,
    reduction: Reduction,
    places: Vec<PlaceChannels>,
    moves: Vec<Move>,
    unmeasured_moves: usize,
    compressors: Vec<Gathered>,
    ambient: (f64, f64),
    ambient_default_kpa_abs: f64,
    session_ticks: Vec<u64>,
    recorded_ms: i64,
    long_silences: LongSilences,
    sides: Vec<SideCollector>,
    traces: Vec<GrowingTrace>,
}

#[derive(Default, Serialize, Deserialize)]
struct Gathered {
    place: String,
    spans: Vec<(i64, i64)>,
    known: Vec<(i64, i64)>,
    runs: Vec<Run>,
    switching: Switching,
}

/// Valve and compressor spans of one session, and its drives.
struct Spans {
    fills: Vec<Vec<OnSpan>>,
    dumps: Vec<Vec<OnSpan>>,
    runs: Vec<Vec<OnSpan>>,
    driving: Busy,
}

impl SessionState {
    pub(super) fn new(recording: &Recording, vessels: &[Vessel]) -> Self {
        let rig = &recording.rig;
        SessionState {
            collectors: collectors(vessels),
            reduction: Reduction::new(
                rig,
                |name| stored_step(recording, name),
                ambient_by_rig(rig),
            ),
            places: vessels
                .iter()
                .map(|v| PlaceChannels::of(rig, &v.place))
                .collect(),
            moves: Vec::new(),
            unmeasured_moves: 0,
            compressors: rig
                .compressors
                .iter()
                .map(|c| Gathered {
                    place: c.name.clone(),
                    ..Gathered::default()
                })
                .collect(),
            ambient: (0.0, 0.0),
            ambient_default_kpa_abs: ambient_by_rig(rig),
            session_ticks: Vec::new(),
            recorded_ms: 0,
            long_silences: LongSilences::default(),
            sides: rig
                .circuits
                .iter()
                .map(|c| SideCollector::new(&c.name))
                .collect(),
            traces: rig
                .channels
                .iter()
                .map(|c| GrowingTrace::new(&c.name))
                .collect(),
        }
    }

    pub(super) fn push(
        &mut self,
        vessels: &[Vessel],
        recording: &Recording,
        session: &Session,
        frame: &Columns,
    ) {
        let rig = &recording.rig;
        let (start_ms, end_ms) = (session.start.t_ms, session.end_t_ms);
        self.session_ticks.push(frame.len() as u64);
        self.recorded_ms += recorded_ms(&frame.t_ms);
        self.long_silences.push(&frame.t_ms);
        if let Some(baro) = frame.column("ambient_kpa_abs") {
            for v in baro.iter().filter(|v| !v.is_nan()) {
                self.ambient.0 += f64::from(*v);
                self.ambient.1 += 1.0;
            }
        }
        let spans = Spans {
            fills: valve_spans(recording, EventKind::Fill, start_ms, end_ms),
            dumps: valve_spans(recording, EventKind::Dump, start_ms, end_ms),
            runs: rig
                .compressors
                .iter()
                .map(|c| on_spans(&recording.events, EventKind::Run, &c.name, start_ms, end_ms))
                .collect(),
            driving: frame
                .column("vehicle_kmh")
                .map(|kmh| Busy::from_driving(&frame.t_ms, kmh))
                .unwrap_or_default(),
        };
        self.push_rests(vessels, recording, session, frame, &spans);
        let moves = SessionMoves {
            fills: &spans.fills,
            dumps: &spans.dumps,
            runs: &spans.runs,
        };
        self.reduction
            .push(frame, recording.pause_is_known(session), &moves);
        self.push_moves(vessels, frame, &spans, rig, (start_ms, end_ms));
        self.push_sides(frame, &spans, rig);
        self.push_runs(frame, &spans, rig, end_ms);
        traces::add(&mut self.traces, &rig.channels, frame, &recording.clock);
    }

    fn ambient_kpa_abs(&self) -> f64 {
        if self.ambient.1 > 0.0 {
            self.ambient.0 / self.ambient.1
        } else {
            self.ambient_default_kpa_abs
        }
    }

    fn push_rests(
        &mut self,
        vessels: &[Vessel],
        recording: &Recording,
        session: &Session,
        frame: &Columns,
        spans: &Spans,
    ) {
        let rig = &recording.rig;
        let ambient_default_kpa_abs = self.ambient_kpa_abs();
        let all_fills = || spans.fills.iter().flatten();
        for (i, vessel) in vessels.iter().enumerate() {
            let place = &self.places[i];
            let Some((pressure, is_gauge)) = &place.pressure else {
                continue;
            };
            let Some(kpa) = frame.column(pressure) else {
                continue;
            };
            let busy = if vessel.place == "tank" {
                tank_busy(rig, spans, frame, kpa)
            } else {
                corner_busy(rig, &vessel.place, i, spans, frame, kpa)
            };
            let view = PlaceView {
                session: session.id.0,
                pause_known: recording.pause_is_known(session),
                t_ms: &frame.t_ms,
                kpa,
                is_gauge: *is_gauge,
                ambient_kpa_abs: frame.column("ambient_kpa_abs"),
                ambient_default_kpa_abs,
                mm: place.height.as_deref().and_then(|n| frame.column(n)),
                celsius: place.temperature.as_deref().and_then(|n| frame.column(n)),
                driving: &spans.driving,
                busy: &busy,
                resolution: place.resolution(recording),
            };
            let last_move = |t: i64| match (
                last_end(spans.fills.get(i).into_iter().flatten(), t),
                last_end(spans.dumps.get(i).into_iter().flatten(), t),
            ) {
                _ if vessel.place == "tank" => match last_end(all_fills(), t) {
                    Some(_) => LastMove::Dump,
                    None => LastMove::Unknown,
                },
                (Some(fill), Some(dump)) if fill > dump => LastMove::Fill,
                (_, Some(_)) => LastMove::Dump,
                (Some(_), None) => LastMove::Fill,
                (None, None) => LastMove::Unknown,
            };
            self.collectors[i].push_session(&view, last_move);
        }
    }

    fn push_moves(
        &mut self,
        vessels: &[Vessel],
        frame: &Columns,
        spans: &Spans,
        rig: &Rig,
        bounds: (i64, i64),
    ) {
        let ambient = self.ambient_kpa_abs();
        let tank = pressure_series(frame, rig, "tank", ambient);
        let kmh = series(frame, Some("vehicle_kmh"), 0.0);
        for (i, circuit) in rig.circuits.iter().enumerate() {
            let openings = cluster(&spans.fills[i], &spans.dumps[i], bounds.0, bounds.1);
            if openings.is_empty() {
                continue;
            }
            let place = &self.places[i];
            let corner = pressure_series(frame, rig, &circuit.name, ambient);
            let mm = series(frame, place.height.as_deref(), 0.0);
            let kelvin = series(frame, place.temperature.as_deref(), ICE_POINT_K);
            let view = MoveView {
                vessel: &vessels[i],
                corner_kpa_abs: corner,
                tank_kpa_abs: tank,
                mm,
                kelvin,
                coils: [Quantity::FillValve, Quantity::DumpValve].map(|valve| {
                    let coil = rig.channel_at(&circuit.name, valve);
                    series(frame, coil.map(|c| c.name.as_str()), 0.0)
                }),
                kmh,
                sensors: MoveSensors {
                    corner: pressure_sensor(rig, &circuit.name),
                    tank: pressure_sensor(rig, "tank"),
                    mm: height_sensor(rig, &circuit.name),
                },
                ambient_kpa_abs: ambient,
                critical_ratio: ASSUMED_CRITICAL_RATIO,
                height_tolerance_mm: rig.limits.height_tolerance_mm,
                pressure_tolerance_kpa: rig.limits.pressure_tolerance_kpa,
            };
            for opening in &openings {
                match measure(&view, opening) {
                    Some(m) => self.moves.push(m),
                    None => self.unmeasured_moves += 1,
                }
            }
        }
    }

    fn push_sides(&mut self, frame: &Columns, spans: &Spans, rig: &Rig) {
        let ambient_kpa_abs = self.ambient_kpa_abs();
        let speed = frame.column("vehicle_kmh").is_some();
        for (i, collector) in self.sides.iter_mut().enumerate() {
            let valves = Busy::from_on_spans(spans.fills[i].iter().chain(&spans.dumps[i]));
            let driving = speed.then_some(&spans.driving);
            sides::push(
                collector,
                frame,
                rig,
                &rig.circuits[i],
                &valves,
                driving,
                ambient_kpa_abs,
            );
        }
    }

    fn push_runs(&mut self, frame: &Columns, spans: &Spans, rig: &Rig, end_ms: i64) {
        let (tank_kpa, tank_is_gauge) = match PlaceChannels::of(rig, "tank").pressure {
            Some((name, is_gauge)) => (series(frame, Some(&name), 0.0), is_gauge),
            None => (Series::default(), true),
        };
        let outside = surroundings(frame, ambient_by_rig(rig));
        let tank_channels = PlaceChannels::of(rig, "tank");
        let kelvin = series(frame, tank_channels.temperature.as_deref(), ICE_POINT_K);
        let supply = series(frame, Some("supply_v"), 0.0);
        let fills = Busy::from_on_spans(spans.fills.iter().flatten());
        let alone = Busy::default();
        let asleep_ms = asleep::last_words(frame, rig);
        let switched_off = SwitchedOff {
            session_end_ms: Some(end_ms),
            asleep_ms: &asleep_ms,
        };
        let one = RunView {
            tank_kpa,
            tank_is_gauge,
            outside,
            kelvin,
            supply_v: supply,
            tank_l: rig.tank.as_ref().and_then(|t| t.volume_l),
            fills: &fills,
            others: &alone,
            switched_off: &switched_off,
        };
        for (i, ((gathered, compressor), own)) in self
            .compressors
            .iter_mut()
            .zip(&rig.compressors)
            .zip(&spans.runs)
            .enumerate()
        {
            let of_others = spans.runs.iter().enumerate().filter(|(j, _)| *j != i);
            let others = Busy::from_on_spans(of_others.flat_map(|(_, runs)| runs));
            let view = RunView {
                others: &others,
                ..one
            };
            gathered
                .spans
                .extend(own.iter().map(|s| (s.from_ms, s.to_ms)));
            gathered
                .known
                .extend(known_time(frame, rig, &gathered.place));
            let starts = own.iter().filter(|s| s.start_seen).map(|s| s.from_ms);
            gathered.switching.starts_ms.extend(starts);
            gathered.switching.runs.extend(switching::switched_runs(
                frame,
                rig,
                &gathered.place,
                own,
                (tank_kpa, tank_is_gauge, outside),
            ));
            if compressor.delivers {
                let measured = own.iter().filter_map(|s| measure_run(&view, s));
                gathered.runs.extend(measured);
            }
        }
    }

    pub(super) fn finish(mut self, vessels: &[Vessel], by_hand: &[HandObservation]) -> Digest {
        self.moves.sort_by_key(|m| m.from_ms);
        allow_for_dead_time(&mut self.moves);
        let ambient_kpa_abs = self.ambient_kpa_abs();
        let sides = self.sides.iter().zip(vessels);
        let sides = sides.filter_map(|(s, vessel)| s.finish(vessel)).collect();
        Digest {
            sides,
            vessels: Vec::new(),
            rests: self
                .collectors
                .into_iter()
                .flat_map(RestCollector::finish)
                .collect(),
            reduced: self.reduction.finish(by_hand),
            moves: self.moves,
            unmeasured_moves: self.unmeasured_moves,
            compressors: self
                .compressors
                .into_iter()
                .map(|g| CompressorDigest {
                    timeline: Timeline::new(&g.spans, &g.known),
                    place: g.place,
                    runs: g.runs,
                    switching: g.switching,
                })
                .collect(),
            clock: ClockMap::default(),
            zone: jiff::tz::TimeZone::UTC,
            ambient_kpa_abs,
            barometer_recorded: self.ambient.1 > 0.0,
            ticks: self.session_ticks.iter().sum(),
            session_ticks: self.session_ticks,
            recorded_s: self.recorded_ms as f64 / 1000.0,
            long_silences_s: self.long_silences.found_s,
            traces: self
                .traces
                .into_iter()
                .filter_map(GrowingTrace::finish)
                .collect(),
        }
    }
}

/// Step in which a channel is stored; the coarsest where the log changed it.
fn stored_step(recording: &Recording, name: &str) -> f64 {
    finest_step(recording, name)
}

pub(crate) fn valve_spans(
    recording: &Recording,
    kind: EventKind,
    start_ms: i64,
    end_ms: i64,
) -> Vec<Vec<OnSpan>> {
    recording
        .rig
        .circuits
        .iter()
        .map(|c| on_spans(&recording.events, kind, &c.name, start_ms, end_ms))
        .collect()
}

fn last_end<'a>(spans: impl Iterator<Item = &'a OnSpan>, t_ms: i64) -> Option<i64> {
    spans.map(|s| s.to_ms).filter(|end| *end <= t_ms).max()
}

/// Valves tell when a corner is busy, and its pressure: where it has no valve
/// channels, and when the load changes. People who get out let the air expand
/// and cool, and it warms up again for a quarter of an hour like a gain of air;
/// so a rest begins anew there.
fn corner_busy(
    rig: &Rig,
    place: &str,
    circuit: usize,
    spans: &Spans,
    frame: &Columns,
    kpa: &[f32],
) -> Busy {
    let (fills, dumps) = (&spans.fills[circuit], &spans.dumps[circuit]);
    let steps = Busy::from_steps(&frame.t_ms, kpa, step_kpa(kpa), &spans.driving);
    let wired = rig.channel_at(place, Quantity::FillValve).is_some()
        && rig.channel_at(place, Quantity::DumpValve).is_some();
    if wired || !fills.is_empty() || !dumps.is_empty() {
        Busy::from_on_spans(fills.iter().chain(dumps)).or(&steps)
    } else {
        steps
    }
}

/// Steps that mark a move in the readings of a sensor.
fn step_kpa(kpa: &[f32]) -> f32 {
    let mut count = Count::new(0.0);
    count.push(kpa);
    count.step(STEP_KPA)
}

/// The tank is busy while a compressor runs or any fill valve is open.
fn tank_busy(rig: &Rig, spans: &Spans, frame: &Columns, kpa: &[f32]) -> Busy {
    let known = rig
        .compressors
        .iter()
        .all(|c| rig.channel_at(&c.name, Quantity::Running).is_some());
    if known && !rig.compressors.is_empty() {
        Busy::from_on_spans(spans.fills.iter().chain(&spans.runs).flatten())
    } else {
        Busy::from_steps(&frame.t_ms, kpa, step_kpa(kpa), &spans.driving)
    }
}

pub(crate) fn series<'a>(frame: &'a Columns, name: Option<&str>, offset: f64) -> Series<'a> {
    name.and_then(|n| frame.column(n))
        .map(|values| Series::new(&frame.t_ms, values, offset))
        .unwrap_or_default()
}

pub(crate) fn pressure_series<'a>(
    frame: &'a Columns,
    rig: &Rig,
    place: &str,
    ambient_kpa_abs: f64,
) -> Series<'a> {
    match PlaceChannels::of(rig, place).pressure {
        Some((name, true)) => series(frame, Some(&name), ambient_kpa_abs),
        Some((name, false)) => series(frame, Some(&name), 0.0),
        None => Series::default(),
    }
}

/// Pressure and temperature outside.
fn surroundings(frame: &Columns, default_kpa_abs: f64) -> OutsideSeries<'_> {
    OutsideSeries {
        barometer_kpa_abs: series(frame, Some("ambient_kpa_abs"), 0.0),
        kelvin: series(frame, Some("ambient_c"), ICE_POINT_K),
        default_kpa_abs,
    }
}

/// When a compressor's state is known: from one word of its channel to the
/// next, as long as it is not silent for too long.
fn known_time(frame: &Columns, rig: &Rig, place: &str) -> Vec<(i64, i64)> {
    let Some(channel) = rig.channel_at(place, Quantity::Running) else {
        return Vec::new();
    };
    let Some(values) = frame.column(&channel.name) else {
        return Vec::new();
    };
    let longest_ms = SWITCH_SILENCE_MS.max((channel.period_s * 3_000.0) as i64);
    let mut out: Vec<(i64, i64)> = Vec::new();
    for (&t, _) in frame.t_ms.iter().zip(values).filter(|(_, v)| !v.is_nan()) {
        match out.last_mut() {
            Some(last) if t - last.1 <= longest_ms => last.1 = t,
            _ => out.push((t, t)),
        }
    }
    out
}

/// Time covered by ticks that follow each other without a long silence.
fn recorded_ms(t_ms: &[i64]) -> i64 {
    t_ms.windows(2)
        .map(|w| w[1] - w[0])
        .filter(|dt| *dt <= SWITCH_SILENCE_MS)
        .sum()
}
