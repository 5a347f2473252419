//! Columns to rests and moves, of one corner of the trip.

use crate::inputs::trip;
use divan::Bencher;
use divan::counter::ItemsCount;
use seep_common::channel::Quantity;
use seep_common::rig::SensorError;
use seep_common::store::{Columns, EventKind};
use seep_report::analysis::air::Vessel;
use seep_report::analysis::moves::{
    Move, MoveSensors, MoveView, Opening, Series, cluster, measure,
};
use seep_report::analysis::segment::{
    Busy, LastMove, OnSpan, PlaceView, Rest, RestCollector, on_spans,
};
use seep_report::digest::{ASSUMED_CRITICAL_RATIO, Digest, PlaceChannels};
use seep_report::recording::Recording;

const CORNER: &str = "front_left";

/// Steps that mark a move where no valve channel exists, kPa.
const STEP_KPA: f32 = 4.0;

/// One session of the trip, loaded.
struct Loaded {
    recording: Recording,
    session: seep_report::recording::Session,
    frame: Columns,
    vessel: Vessel,
    channels: PlaceChannels,
}

impl Loaded {
    /// The session with the most rows.
    fn new() -> Self {
        let recording = trip().open();
        let digest = Digest::build(&recording, |_| {}).expect("read");
        let sessions = recording.sessions.iter();
        let session = sessions.max_by_key(|s| recording.tick_count(s));
        let session = session.expect("a session").clone();
        Loaded {
            frame: recording.frame(&session).expect("read"),
            vessel: digest.vessel(CORNER).expect("in the rig").clone(),
            channels: PlaceChannels::of(&recording.rig, CORNER),
            recording,
            session,
        }
    }

    fn column(&self, name: Option<&str>) -> &[f32] {
        name.and_then(|n| self.frame.column(n)).expect("recorded")
    }

    fn kpa(&self) -> &[f32] {
        self.column(self.channels.pressure.as_ref().map(|p| p.0.as_str()))
    }

    fn mm(&self) -> &[f32] {
        self.column(self.channels.height.as_deref())
    }

    fn celsius(&self) -> &[f32] {
        self.column(self.channels.temperature.as_deref())
    }

    fn kmh(&self) -> &[f32] {
        self.column(Some("vehicle_kmh"))
    }

    fn spans(&self, kind: EventKind) -> Vec<OnSpan> {
        let (start_ms, end_ms) = (self.session.start.t_ms, self.session.end_t_ms);
        on_spans(&self.recording.events, kind, CORNER, start_ms, end_ms)
    }

    fn openings(&self) -> Vec<Opening> {
        let (fills, dumps) = (self.spans(EventKind::Fill), self.spans(EventKind::Dump));
        cluster(
            &fills,
            &dumps,
            self.session.start.t_ms,
            self.session.end_t_ms,
        )
    }

    fn busy(&self) -> Busy {
        let (fills, dumps) = (self.spans(EventKind::Fill), self.spans(EventKind::Dump));
        Busy::from_on_spans(fills.iter().chain(&dumps))
    }

    fn driving(&self) -> Busy {
        Busy::from_driving(&self.frame.t_ms, self.kmh())
    }

    fn rests(&self, busy: &Busy) -> Vec<Rest> {
        let mut collector = RestCollector::new(CORNER);
        let view = PlaceView {
            session: self.session.id.0,
            pause_known: true,
            t_ms: &self.frame.t_ms,
            kpa: self.kpa(),
            is_gauge: true,
            ambient_kpa_abs: self.frame.column("ambient_kpa_abs"),
            ambient_default_kpa_abs: 98.0,
            mm: Some(self.mm()),
            celsius: Some(self.celsius()),
            driving: &self.driving(),
            busy,
            resolution: self.channels.resolution(&self.recording),
        };
        collector.push_session(&view, |_| LastMove::Unknown);
        collector.finish()
    }

    fn moves(&self, openings: &[Opening]) -> Vec<Move> {
        let t_ms = &self.frame.t_ms;
        let corner_kpa_abs = Series::new(t_ms, self.kpa(), 98.0);
        let tank_kpa_abs = Series::new(t_ms, self.column(Some("tank_kpa_gauge")), 98.0);
        let mm = Series::new(t_ms, self.mm(), 0.0);
        let kelvin = Series::new(t_ms, self.celsius(), 273.15);
        let kmh = Series::new(t_ms, self.kmh(), 0.0);
        let view = MoveView {
            vessel: &self.vessel,
            corner_kpa_abs,
            tank_kpa_abs,
            mm,
            kelvin,
            coils: [Series::default(); 2],
            kmh,
            sensors: MoveSensors {
                corner: SensorError::usual(Quantity::GaugePressure),
                tank: SensorError::usual(Quantity::GaugePressure),
                mm: SensorError::usual(Quantity::Height),
            },
            ambient_kpa_abs: 98.0,
            critical_ratio: ASSUMED_CRITICAL_RATIO,
            height_tolerance_mm: 3.0,
            pressure_tolerance_kpa: 10.0,
        };
        openings.iter().filter_map(|o| measure(&view, o)).collect()
    }
}

/// Where the pressure steps, as for a corner without valve channels; items are rows.
#[divan::bench]
fn steps(bencher: Bencher) {
    let loaded = Loaded::new();
    let (t_ms, kpa) = (&loaded.frame.t_ms, loaded.kpa());
    bencher
        .counter(ItemsCount::new(t_ms.len()))
        .bench_local(|| Busy::from_steps(t_ms, kpa, STEP_KPA, Busy::never()));
}

/// Rests of the corner; items are rows.
#[divan::bench]
fn rests(bencher: Bencher) {
    let loaded = Loaded::new();
    let busy = loaded.busy();
    assert!(!loaded.rests(&busy).is_empty(), "the trip has rests");
    bencher
        .counter(ItemsCount::new(loaded.frame.len()))
        .bench_local(|| loaded.rests(&busy));
}

/// Valve openings of the corner to moves, measured; items are moves.
#[divan::bench]
fn moves(bencher: Bencher) {
    let loaded = Loaded::new();
    let count = loaded.moves(&loaded.openings()).len();
    assert!(count > 0, "the trip has moves");
    bencher
        .counter(count)
        .bench_local(|| loaded.moves(&loaded.openings()));
}

/// The whole trip, loaded and cut up; items are rows.
#[divan::bench]
fn digest(bencher: Bencher) {
    let recording = trip().open();
    let build = || Digest::build(&recording, |_| {}).expect("read");
    bencher
        .counter(ItemsCount::new(build().ticks))
        .bench_local(build);
}
