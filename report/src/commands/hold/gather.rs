//! Readings of a hold from the log.

use crate::analysis::air::Vessel;
use crate::analysis::fit::line;
use crate::analysis::hold::{AirSpring, Conditions, HoldThermometer, Readings};
use crate::analysis::stats::mean;
use crate::digest::{PlaceChannels, pressure_sensor, vessels};
use crate::recording::Event;
use crate::recording::{Recording, RecordingError};
use seep_common::store::{Columns, EventKind};
use seep_common::units::ICE_POINT_K;

/// Temperature of the air where none is recorded, K.
const ASSUMED_K: f64 = 288.15;
/// Most readings that are kept of a place; more are averaged in pairs, and so on.
const MOST: usize = 3000;

/// One volume during the hold.
pub(super) struct Held {
    pub vessel: Vessel,
    pub readings: Readings,
    pub conditions: Conditions,
    /// Mean volume, L; `None` where the rig gives none.
    pub volume_l: Option<f64>,
    /// Its own valves or compressor were on during the hold.
    pub disturbed: bool,
}

/// Columns of all sessions of the span, one after the other.
struct Rows {
    t_ms: Vec<i64>,
    columns: Vec<(String, Vec<f32>)>,
}

impl Rows {
    fn read(recording: &Recording) -> Result<Self, RecordingError> {
        let mut rows = Rows {
            t_ms: Vec::new(),
            columns: recording
                .rig
                .channels
                .iter()
                .map(|c| (c.name.clone(), Vec::new()))
                .collect(),
        };
        recording.each_frame(|_, frame| rows.add(frame))?;
        Ok(rows)
    }

    fn add(&mut self, frame: &Columns) {
        self.t_ms.extend_from_slice(&frame.t_ms);
        for (name, values) in &mut self.columns {
            match frame.column(name) {
                Some(own) => values.extend_from_slice(own),
                None => values.resize(self.t_ms.len(), f32::NAN),
            }
        }
    }

    fn column(&self, name: Option<&str>) -> Option<&[f32]> {
        let (_, values) = self
            .columns
            .iter()
            .find(|(n, _)| Some(n.as_str()) == name)?;
        values.iter().any(|v| !v.is_nan()).then_some(values)
    }

    fn mean(&self, name: &str) -> Option<f64> {
        let known: Vec<f64> = self
            .column(Some(name))?
            .iter()
            .filter(|v| !v.is_nan())
            .map(|v| f64::from(*v))
            .collect();
        mean(&known)
    }
}

/// Reads all volumes that have a pressure.
///
/// `before` is the same log from its beginning, for the last move of each volume;
/// `since_move_s` replaces what the log knows of it.
pub(super) fn gather(
    recording: &Recording,
    before: &Recording,
    since_move_s: Option<f64>,
) -> Result<Vec<Held>, RecordingError> {
    let rows = Rows::read(recording)?;
    let outside = rows.mean("ambient_kpa_abs");
    let held = vessels(&recording.rig).into_iter().filter_map(|vessel| {
        let channels = PlaceChannels::of(&recording.rig, &vessel.place);
        let (pressure, is_gauge) = channels.pressure.clone()?;
        let kpa = rows.column(Some(&pressure))?;
        let outside_kpa_abs =
            outside.unwrap_or_else(|| crate::digest::ambient_by_rig(&recording.rig));
        let add = if is_gauge { outside_kpa_abs } else { 0.0 };
        let mm = rows.column(channels.height.as_deref());
        let by_height = mm.filter(|_| !vessel.is_relative() && vessel.is_spring());
        let readings = readings(&rows.t_ms, kpa, add, by_height, &vessel);
        let from_ms = rows.t_ms.first().copied()?;
        let spring = match (vessel.is_spring(), by_height) {
            (false, _) => AirSpring::No,
            (true, Some(_)) => AirSpring::HeightRecorded,
            (true, None) => AirSpring::NoHeight,
        };
        let celsius = rows.column(channels.temperature.as_deref());
        let kelvin = channels.temperature.as_deref().and_then(|n| rows.mean(n));
        let sensor = pressure_sensor(&recording.rig, &vessel.place);
        let conditions = Conditions {
            spring,
            since_move_s: since_move_s.or_else(|| since_move(before, &vessel.place, from_ms)),
            thermometer: thermometer(&rows.t_ms, celsius, &channels, &vessel.place),
            kelvin: kelvin.map_or(ASSUMED_K, |c| c + ICE_POINT_K),
            outside_kpa_abs,
            outside_recorded: outside.is_some() || !is_gauge,
            hysteresis_kpa: sensor.hysteresis(),
            zero_kpa_per_k: sensor.zero_per_k(),
            step_kpa: channels.resolution(recording).kpa,
        };
        let volume_l = if readings.volume_l.is_empty() {
            (!vessel.is_relative()).then(|| vessel.volume_l(f64::NAN))
        } else {
            mean(&readings.volume_l)
        };
        let disturbed = recording
            .events
            .iter()
            .any(|e| moves_air_of(e, &vessel.place) && e.on);
        Some(Held {
            vessel,
            readings,
            conditions,
            volume_l,
            disturbed,
        })
    });
    Ok(held.collect())
}

/// Readings with a pressure, thinned by averaging; the height holds until the next one.
fn readings(t_ms: &[i64], kpa: &[f32], add: f64, mm: Option<&[f32]>, vessel: &Vessel) -> Readings {
    let mut out = Readings::default();
    let mut height = mm.and_then(|m| m.iter().find(|v| !v.is_nan()).copied());
    for (i, p) in kpa.iter().enumerate() {
        if let Some(now) = mm.map(|m| m[i]).filter(|v| !v.is_nan()) {
            height = Some(now);
        }
        if p.is_nan() {
            continue;
        }
        out.t_s.push((t_ms[i] - t_ms[0]) as f64 / 1000.0);
        out.kpa_abs.push(f64::from(*p) + add);
        if let Some(mm) = height {
            out.volume_l.push(vessel.volume_l(f64::from(mm)));
        }
    }
    while out.t_s.len() > MOST {
        for values in [&mut out.t_s, &mut out.kpa_abs, &mut out.volume_l] {
            *values = values
                .chunks(2)
                .map(|pair| pair.iter().sum::<f64>() / pair.len() as f64)
                .collect();
        }
    }
    out
}

fn thermometer(
    t_ms: &[i64],
    celsius: Option<&[f32]>,
    channels: &PlaceChannels,
    place: &str,
) -> HoldThermometer {
    let (Some(celsius), Some(name)) = (celsius, channels.temperature.as_deref()) else {
        return HoldThermometer::None;
    };
    let (t, c): (Vec<f64>, Vec<f64>) = celsius
        .iter()
        .enumerate()
        .filter(|(_, v)| !v.is_nan())
        .map(|(i, v)| ((t_ms[i] - t_ms[0]) as f64 / 1000.0, f64::from(*v)))
        .unzip();
    let Ok(fit) = line(&t, &c, None) else {
        return HoldThermometer::None;
    };
    let fit = fit.fit.allowing_for_autocorrelation();
    let (slope, se) = (fit.values[1], fit.standard_errors[1]);
    if name.starts_with(place) {
        HoldThermometer::Own(slope, se)
    } else {
        HoldThermometer::Elsewhere(slope, se)
    }
}

/// Whether an event moves air into or out of a place.
fn moves_air_of(event: &Event, place: &str) -> bool {
    match event.kind {
        EventKind::Run => place == "tank",
        // A fill takes its air from the tank.
        EventKind::Fill => event.place == place || place == "tank",
        EventKind::Dump => event.place == place,
    }
}

/// Time from the last event that moved air of a place, or from the start of the session
/// where there was none, to the start of the hold, s.
///
/// `None` where the log begins with the hold.
fn since_move(before: &Recording, place: &str, from_ms: i64) -> Option<f64> {
    let earlier = before.events.iter().filter(|e| e.t_ms <= from_ms);
    let last = earlier
        .filter(|e| moves_air_of(e, place))
        .map(|e| e.t_ms)
        .max();
    let session = before
        .sessions
        .iter()
        .map(|s| s.start.t_ms)
        .filter(|t| *t <= from_ms)
        .max()?;
    let since = (from_ms - last.map_or(session, |l| l.max(session))) as f64 / 1000.0;
    (since > 0.0).then_some(since)
}
