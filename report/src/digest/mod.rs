//! From a recording to what the analyses take: sessions are read one after the
//! other, cut up, and let go, so memory does not grow with the log's ticks.

mod asleep;
mod by_hand;
mod channels;
mod past;
mod session;
mod sides;
mod silences;
mod switching;
mod times;
mod traces;

pub use channels::PlaceChannels;
pub(crate) use channels::pressure_sensor;
pub(crate) use session::{pressure_series, series, valve_spans};
pub use traces::ChannelTrace;

use crate::analysis::air::Vessel;
use crate::analysis::delivery::Run;
use crate::analysis::duty::{Switching, Timeline};
use crate::analysis::moves::Move;
use crate::analysis::rest_model::ReducedLog;
use crate::analysis::segment::{Rest, RestCollector};
use crate::analysis::side_to_side::SideToSide;
use crate::cache::EntryKind;
use crate::model::WallTime;
use crate::recording::{Recording, RecordingError};
use jiff::tz::TimeZone;
use past::PastSessions;
use seep_common::rig::{Rig, VolumeModel};
use seep_common::store::ClockMap;
use seep_common::units::STANDARD_ATMOSPHERE_KPA_ABS;
use serde::{Deserialize, Serialize};
use session::SessionState;

/// Everything the analyses need of a recording.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Digest {
    /// Circuits in the rig's order, then `tank`.
    #[serde(skip)]
    pub vessels: Vec<Vessel>,
    /// Rests of every vessel.
    pub rests: Vec<Rest>,
    /// The same log as the model of a car at rest takes it.
    pub reduced: ReducedLog,
    /// Moves of every circuit, in time order.
    pub moves: Vec<Move>,
    /// Openings that could not be measured: readings around them are missing.
    pub unmeasured_moves: usize,
    /// Per compressor: when it ran, and what each complete run did.
    pub compressors: Vec<CompressorDigest>,
    /// Outside pressure used where no barometer reading is at hand, kPa absolute.
    pub ambient_kpa_abs: f64,
    /// True when a barometer is recorded.
    pub barometer_recorded: bool,
    /// Ticks read.
    pub ticks: u64,
    /// Ticks per session, in the order of the recording's sessions.
    pub session_ticks: Vec<u64>,
    /// Recorded time, s: sessions without their inner gaps.
    pub recorded_s: f64,
    /// Spans of at least four hours without any reading, s of log time.
    pub long_silences_s: Vec<(f64, f64)>,
    /// Pairs whose two sides are read.
    pub sides: Vec<SideToSide>,
    /// Log time to wall time.
    #[serde(skip)]
    pub clock: ClockMap,
    /// Zone of printed times.
    #[serde(skip, default = "no_zone")]
    pub zone: TimeZone,
    /// Thinned readings for plots, one per channel that spoke.
    pub traces: Vec<ChannelTrace>,
}

/// One compressor over the recording.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct CompressorDigest {
    /// Its name.
    pub place: String,
    /// Runs and known time.
    pub timeline: Timeline,
    /// Complete runs and what they delivered; empty for one that delivers nothing.
    pub runs: Vec<Run>,
    /// Where and how often it was switched.
    pub switching: Switching,
}

/// Critical pressure ratio assumed for valve and line together. Between a
/// sharp nozzle's 0.53 and a long line's 0.2; common practice, no source.
pub const ASSUMED_CRITICAL_RATIO: f64 = 0.3;

impl Digest {
    /// Digests a recording, or takes what an earlier run kept of the same recording.
    ///
    /// # Errors
    /// The log's errors.
    pub fn build(
        recording: &Recording,
        progress: impl FnMut(usize),
    ) -> Result<Self, RecordingError> {
        let keeper = recording.keeper();
        if let Some(kept) = keeper.kept(EntryKind::Digest) {
            return Ok(Self::completed(kept, recording));
        }
        let digest = Self::read(recording, progress)?;
        keeper.keep(EntryKind::Digest, &digest);
        Ok(digest.completed(recording))
    }

    fn read(
        recording: &Recording,
        mut progress: impl FnMut(usize),
    ) -> Result<Self, RecordingError> {
        let rig = &recording.rig;
        let vessels = vessels(rig);
        let past = PastSessions::of(recording);
        let resumed = past.as_ref().and_then(PastSessions::resumed);
        let (mut state, mut done) =
            resumed.unwrap_or_else(|| (SessionState::new(recording, &vessels), 0));
        let mut written = None;
        recording.each_frame_from(done, |session, frame| {
            state.push(&vessels, recording, session, frame);
            done += 1;
            if let Some(past) = past.as_ref().filter(|past| past.closed() == done) {
                written = past.write(&state);
            }
            progress(done);
        })?;
        if let (Some(past), Some(entry)) = (past, written) {
            past.keep(entry);
        }
        let mut digest = state.finish(&vessels, &by_hand::observations(recording)?);
        digest.reduced.car.notes_s = by_hand::note_times_s(recording)?;
        Ok(digest)
    }

    /// The same with what comes of the rig, the clock rows and the zone asked for.
    fn completed(self, recording: &Recording) -> Self {
        Digest {
            vessels: vessels(&recording.rig),
            clock: recording.clock.clone(),
            zone: recording.span.zone.clone(),
            ..self
        }
    }

    /// Wall time of a log time; `None` for a log without a clock.
    #[must_use]
    pub fn wall(&self, t_s: f64) -> Option<WallTime> {
        let unix_ms = self.clock.wall_ms((1000.0 * t_s) as i64)?;
        WallTime::from_unix_ms(unix_ms, &self.zone)
    }

    /// A vessel by name.
    #[must_use]
    pub fn vessel(&self, place: &str) -> Option<&Vessel> {
        self.vessels.iter().find(|v| v.place == place)
    }
}

fn no_zone() -> TimeZone {
    TimeZone::UTC
}

/// Circuits and tank as vessels.
pub(crate) fn vessels(rig: &Rig) -> Vec<Vessel> {
    let mut out: Vec<Vessel> = rig
        .circuits
        .iter()
        .map(|c| Vessel {
            place: c.name.clone(),
            volume: c.volume.clone(),
            line_l: c.line_volume_cm3 / 1000.0,
            volume_uncertainty: c.volume_uncertainty_percent / 100.0,
            lower_stop_mm: c.lower_stop_mm,
            lowest_ok_mm: c.lowest_ok_mm,
            lowest_ok_kpa_gauge: c.lowest_ok_kpa_gauge,
        })
        .collect();
    if rig.tank.is_some() {
        out.push(Vessel {
            place: "tank".into(),
            volume: rig
                .tank
                .as_ref()
                .and_then(|t| t.volume_l)
                .map_or(VolumeModel::Unknown, |volume_l| VolumeModel::Fixed {
                    volume_l,
                }),
            line_l: 0.0,
            volume_uncertainty: 0.02,
            lower_stop_mm: None,
            lowest_ok_mm: None,
            lowest_ok_kpa_gauge: rig.limits.cut_in_kpa_gauge,
        });
    }
    out
}

/// Outside pressure by the rig: from its altitude, else at sea level.
pub(crate) fn ambient_by_rig(rig: &Rig) -> f64 {
    rig.altitude_m.map_or(
        STANDARD_ATMOSPHERE_KPA_ABS,
        seep_common::physics::atmosphere::pressure_at_altitude_kpa_abs,
    )
}

fn collectors(vessels: &[Vessel]) -> Vec<RestCollector> {
    vessels
        .iter()
        .map(|v| RestCollector::new(&v.place))
        .collect()
}
