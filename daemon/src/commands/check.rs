//! `seepd check`: what a rig means, or what is wrong with it.

use crate::cli::CheckArgs;
use crate::databases::Databases;
use crate::exit::{Exit, Failure};
use crate::pipeline::is_sign_of_life;
use crate::rig_file;
use crate::storage::{check_log, failure};
use seep_common::rig::{Channel, Decode, Rig, SourceKind, VolumeModel};
use seep_common::store::Reader;
use seep_common::time::LogMs;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::Write;
use std::path::Path;

/// So many notes of one database are told; a whole bus has thousands of signals.
const MOST_NOTES: usize = 10;

pub(super) fn run(args: &CheckArgs, out: &mut dyn Write) -> Result<Exit, Failure> {
    let (rig, databases) = rig_file::load(&args.rig.rig)?;
    if let Some(log) = &args.log {
        check_log(log)?;
    }
    // A reader that hangs up has read enough.
    let seen = args.log.as_deref().map(seen_in).transpose()?.flatten();
    let text = summary(&rig) + &oddities(&databases) + &weaknesses(&rig, seen.as_ref());
    let _ = out.write_all(text.as_bytes());
    Ok(Exit::Fine)
}

/// Lowest and highest value of each channel.
type Ranges = BTreeMap<String, (f64, f64)>;

/// Values in a log, if it is there.
fn seen_in(log: &Path) -> Result<Option<Ranges>, Failure> {
    if !log.exists() {
        return Ok(None);
    }
    let reader = Reader::open(log).map_err(failure)?;
    let channels = reader.channels().map_err(failure)?;
    let mut ranges = Ranges::new();
    for channel in &channels {
        let columns = reader
            .columns(&[&channel.name], LogMs::MIN, LogMs::MAX)
            .map_err(failure)?;
        for value in columns.values.iter().flatten().filter(|v| v.is_finite()) {
            let value = f64::from(*value);
            let known = ranges.entry(channel.name.clone()).or_insert((value, value));
            *known = (known.0.min(value), known.1.max(value));
        }
    }
    Ok(Some(ranges))
}

/// What weakens the answers, with lines.
fn weaknesses(rig: &Rig, seen: Option<&Ranges>) -> String {
    let found = rig.weaknesses(&|name| seen?.get(name).copied());
    let mut text = String::new();
    if !found.is_empty() {
        let _ = writeln!(text, "\nwhat weakens the answers:");
    }
    for weakness in &found {
        let _ = writeln!(text, "warning: line {}: {}", weakness.line, weakness.text);
    }
    text
}

fn summary(rig: &Rig) -> String {
    let mut text = format!("{}\n", rig.vehicle);
    let tank = rig.tank.as_ref().map(|t| match t.volume_l {
        Some(l) => format!("{l} L"),
        None => "volume not given".into(),
    });
    let _ = writeln!(text, "\ntank: {}", tank.unwrap_or_else(|| "none".into()));
    for c in &rig.circuits {
        let volume = match &c.volume {
            VolumeModel::Unknown => "volume not given: amounts of air will be relative".into(),
            VolumeModel::Fixed { volume_l } => format!("{volume_l} L at every height"),
            VolumeModel::Table { height_mm, .. } => {
                format!("volume by height, {} points", height_mm.len())
            }
            VolumeModel::Area {
                volume_at_zero_height_l,
                effective_area_cm2,
            } => format!("{volume_at_zero_height_l} L at 0 mm and {effective_area_cm2} cm²"),
        };
        let _ = writeln!(text, "circuit {}: {volume}", c.name);
    }
    for c in &rig.compressors {
        let duty = c.rated_duty_percent.map_or_else(
            || "rated duty not given".into(),
            |d| format!("rated for {d} % of {} min", c.rated_window_min),
        );
        let delivers = if c.delivers {
            ""
        } else {
            "; delivers no air itself"
        };
        let _ = writeln!(text, "compressor {}: {duty}{delivers}", c.name);
    }
    for (i, s) in rig.sources.iter().enumerate() {
        let _ = writeln!(text, "\nsource {} ({}):", s.name, reached(&s.kind));
        if s.sleeps_with_ignition {
            let _ = writeln!(text, "  {}", sleeper(rig, i));
        }
        for channel in rig.channels.iter().filter(|c| c.source == i) {
            let _ = writeln!(text, "  {}", channel_line(channel));
        }
    }
    let r = &rig.recorder;
    let _ = writeln!(
        text,
        "\nrecorded at {} Hz around moves, {} Hz driving, one row in {} s at rest; committed every {} s, every {} s when nothing has moved for {} s",
        r.full_rate_hz,
        r.driving_rate_hz,
        r.rest_period_s,
        r.commit_s,
        r.rest_commit_s,
        r.rest_after_s
    );
    text
}

/// What the silence of a source that sleeps with the ignition means.
fn sleeper(rig: &Rig, source: usize) -> String {
    let others = rig.sources.iter().enumerate();
    let mut others = others.filter(|(i, s)| *i != source && s.sleeps_with_ignition);
    let mut channels = rig.channels.iter().filter(|c| c.source != source);
    if others.next().is_some() || channels.any(|c| is_sign_of_life(c.quantity)) {
        "sleeps with the ignition: its silence counts only while another source tells of driving, an open valve, a running compressor, or is awake with the same ignition".into()
    } else {
        "sleeps with the ignition, and no other source could tell when the vehicle is awake: if it dies, that looks like sleep".into()
    }
}

/// What is odd in the bus databases without stopping their use, file and line.
fn oddities(databases: &Databases) -> String {
    let mut text = String::new();
    for database in databases.all() {
        for note in database.notes().iter().take(MOST_NOTES) {
            let _ = writeln!(text, "note: {}: {note}", database.name());
        }
        let more = database.notes().len().saturating_sub(MOST_NOTES);
        if more > 0 {
            let _ = writeln!(text, "note: {}: {more} more such notes", database.name());
        }
    }
    text
}

fn reached(kind: &SourceKind) -> String {
    match kind {
        SourceKind::SocketCan { interface, dbc } => {
            format!("CAN on {interface}, decoded by {}", dbc.join(", "))
        }
        SourceKind::Nmea { device, baud } => format!(
            "NMEA 0183 on {} at {baud} baud",
            device.as_deref().unwrap_or("no device, replay only")
        ),
        SourceKind::Modbus {
            device,
            baud,
            unit_id,
            poll_ms,
            ..
        } => format!(
            "Modbus RTU station {unit_id} on {} at {baud} baud, every {poll_ms} ms",
            device.as_deref().unwrap_or("no device")
        ),
        SourceKind::Csv {
            time_column,
            time_format,
            zone,
            ..
        } => format!("CSV, time in `{time_column}` as {time_format}, {zone}"),
    }
}

fn channel_line(c: &Channel) -> String {
    let from = match &c.decode {
        Decode::Signal { path } => format!("signal {path}"),
        Decode::Transducer { name } => format!("transducer {name}"),
        Decode::Register { register, .. } => format!("register {register}"),
        Decode::Column { name } => format!("column `{name}`"),
    };
    let calibrated = c
        .calibrated_range()
        .map_or_else(String::new, |(raw, value)| {
            format!(
                "; {} to {} read as {} to {} {}",
                raw.0,
                raw.1,
                rounded(value.0),
                rounded(value.1),
                c.quantity.unit()
            )
        });
    let unit = c
        .unit
        .map_or_else(String::new, |u| format!(" in {}", u.label));
    format!(
        "{:<28} {from}{unit}{calibrated}; step {} {}, plausible {} to {}",
        c.name,
        c.resolution,
        c.quantity.unit(),
        c.range.0,
        c.range.1
    )
}

/// To a hundredth, without the dust of a unit's factor.
fn rounded(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
