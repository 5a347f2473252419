//! Channels: name, source, decode rule, scaling.

use super::super::raw::{RawCalibrate, RawChannel, RawOnWhen};
use super::super::{
    Calibration, Channel, Decode, InputUnit, OnWhen, RegisterNumber, RegisterTable, Source,
    SourceKind, WordOrder,
};
use super::sensor::sensor_error;
use super::{Problems, suggest, used_keys};
use crate::channel::{ChannelName, Quantity};
use toml::Spanned;

/// More would not fit one row of the log (SQLite's column limit is far above).
const MOST_CHANNELS: usize = 500;

/// Largest count of a stored reading; doubles are exact far beyond it.
const MOST_COUNT: f64 = 1e12;

pub(super) fn channels(
    raw: &[Spanned<RawChannel>],
    sources: &[Source],
    places: &[String],
    problems: &mut Problems,
) -> Vec<Channel> {
    let mut out: Vec<Channel> = Vec::new();
    for item in raw {
        let at = item.span().start;
        let c = item.get_ref();
        if out.iter().any(|o| o.name == c.name) {
            problems.add(
                at,
                "channel.name",
                format!("`{}` is declared twice", c.name),
                "remove one, or give the second sensor its own place",
            );
        }
        if let Some(channel) = channel(at, c, sources, places, problems) {
            out.push(channel);
        }
    }
    if out.len() > MOST_CHANNELS {
        problems.add(
            0,
            "channel",
            format!("{} channels are declared", out.len()),
            format!("keep at most {MOST_CHANNELS}"),
        );
    }
    out
}

fn channel(
    at: usize,
    c: &RawChannel,
    sources: &[Source],
    places: &[String],
    problems: &mut Problems,
) -> Option<Channel> {
    let name = match ChannelName::parse(&c.name) {
        Ok(name) => name,
        Err(error) => {
            problems.add(at, "channel.name", error.to_string(), "rename the channel");
            return None;
        }
    };
    if !places.contains(&name.place) && !name.place.starts_with("other_") {
        problems.add(
            at,
            "channel.name",
            format!(
                "`{}` is measured at `{}`, which the rig does not have",
                c.name, name.place
            ),
            format!(
                "{} (a place `other_…` is recorded but not analysed)",
                suggest(&name.place, places)
            ),
        );
    }
    let Some(source) = sources.iter().position(|s| s.name == c.source) else {
        let known: Vec<String> = sources.iter().map(|s| s.name.clone()).collect();
        problems.add(
            at,
            "channel.source",
            format!("`{}` is not a source of this rig", c.source),
            suggest(&c.source, &known),
        );
        return None;
    };
    let decode = decode_of(at, c, &sources[source].kind, problems)?;
    let range = range_of(at, c, name.quantity, problems);
    let resolution = resolution_of(at, c, name.quantity, range, problems);
    let calibration = calibration_of(c.calibrate.as_ref(), problems);
    Some(Channel {
        name: c.name.clone(),
        place: name.place,
        quantity: name.quantity,
        source,
        decode,
        sensor: sensor_error(at, c, name.quantity, &calibration, problems),
        calibration,
        unit: unit_of(at, c, name.quantity, problems),
        on_when: on_when_of(c.on_when.as_ref(), name.quantity, problems),
        resolution,
        range,
        noise: problems.positive(at, "channel.noise", c.noise),
        period_s: problems
            .positive(at, "channel.period_s", c.period_s)
            .unwrap_or(10.0),
    })
}

fn decode_of(
    at: usize,
    c: &RawChannel,
    kind: &SourceKind,
    problems: &mut Problems,
) -> Option<Decode> {
    let (needed, allowed): (&str, &[&str]) = match kind {
        SourceKind::SocketCan { .. } => ("signal", &["signal"]),
        SourceKind::Nmea { .. } => ("transducer", &["transducer"]),
        SourceKind::Modbus { .. } => ("register", &["register", "table", "number", "word_order"]),
        SourceKind::Csv { .. } => ("column", &["column"]),
    };
    for key in used_keys(c) {
        if !allowed.contains(&key) {
            problems.add(
                at,
                &format!("channel.{key}"),
                format!("has no meaning for a `{}` source", kind.word()),
                format!("use `{needed}`"),
            );
        }
    }
    let decode = match kind {
        SourceKind::SocketCan { .. } => c.signal.clone().map(|path| Decode::Signal { path }),
        SourceKind::Nmea { .. } => c.transducer.clone().map(|name| Decode::Transducer { name }),
        SourceKind::Csv { .. } => c.column.clone().map(|name| Decode::Column { name }),
        SourceKind::Modbus { .. } => register_of(at, c, problems),
    };
    if decode.is_none() {
        problems.add(
            at,
            &format!("channel.{needed}"),
            format!("a channel of a `{}` source needs it", kind.word()),
            format!("add `{needed} = …`"),
        );
    }
    decode
}

fn register_of(at: usize, c: &RawChannel, problems: &mut Problems) -> Option<Decode> {
    let table = match c.table.as_deref() {
        None | Some("input") => RegisterTable::Input,
        Some("holding") => RegisterTable::Holding,
        Some(other) => {
            problems.add(
                at,
                "channel.table",
                format!("`{other}` is not a register table"),
                "use `input` or `holding`",
            );
            RegisterTable::Input
        }
    };
    let number = match c.number.as_deref() {
        None | Some("i16") => RegisterNumber::I16,
        Some("u16") => RegisterNumber::U16,
        Some("i32") => RegisterNumber::I32,
        Some("u32") => RegisterNumber::U32,
        Some("f32") => RegisterNumber::F32,
        Some(other) => {
            problems.add(
                at,
                "channel.number",
                format!("`{other}` is not a number format"),
                "use i16, u16, i32, u32 or f32",
            );
            RegisterNumber::I16
        }
    };
    let word_order = match c.word_order.as_deref() {
        None | Some("high_first") => WordOrder::HighFirst,
        Some("low_first") => WordOrder::LowFirst,
        Some(other) => {
            problems.add(
                at,
                "channel.word_order",
                format!("`{other}` is not a word order"),
                "use `high_first` or `low_first`",
            );
            WordOrder::HighFirst
        }
    };
    Some(Decode::Register {
        register: c.register?,
        table,
        number,
        word_order,
    })
}

fn unit_of(
    at: usize,
    c: &RawChannel,
    quantity: Quantity,
    problems: &mut Problems,
) -> Option<InputUnit> {
    let label = c.unit.as_deref()?;
    let unit = InputUnit::parse(label).filter(|u| u.fits(quantity));
    if unit.is_none() {
        problems.add(
            at,
            "channel.unit",
            format!("`{label}` is not a unit for `{}`", c.name),
            format!("use one of: {}", InputUnit::labels_for(quantity)),
        );
    }
    unit
}

fn range_of(at: usize, c: &RawChannel, quantity: Quantity, problems: &mut Problems) -> (f64, f64) {
    let Some([low, high]) = c.range else {
        return quantity.default_range();
    };
    if !(low.is_finite() && high.is_finite() && low < high) {
        problems.add(
            at,
            "channel.range",
            format!("[{low}, {high}] is not a range"),
            "give [lowest, highest] in the channel's unit",
        );
    }
    (low, high)
}

/// The step a reading is stored in; every reading of the range must be a count
/// that a double holds exactly.
fn resolution_of(
    at: usize,
    c: &RawChannel,
    quantity: Quantity,
    range: (f64, f64),
    problems: &mut Problems,
) -> f64 {
    let given = problems.positive(at, "channel.resolution", c.resolution);
    let resolution = given.unwrap_or(quantity.default_resolution());
    let most = range.0.abs().max(range.1.abs()) / resolution;
    if most > MOST_COUNT {
        problems.add(
            at,
            "channel.resolution",
            format!("{resolution} is too fine for a range up to {most:e} steps"),
            "give the step of the sensor, or the range it has",
        );
    }
    resolution
}

fn calibration_of(raw: Option<&Spanned<RawCalibrate>>, problems: &mut Problems) -> Calibration {
    let Some(raw) = raw else {
        return Calibration::default();
    };
    let at = raw.span().start;
    let r = raw.get_ref();
    let line = match (&r.two_point, &r.ratiometric) {
        (Some([a, b]), None) => Calibration::two_point(*a, *b),
        (None, Some(v)) => Calibration::two_point(
            [v.low_fraction * v.supply_v, v.low],
            [v.high_fraction * v.supply_v, v.high],
        ),
        _ => {
            problems.add(
                at,
                "channel.calibrate",
                "needs exactly one of two_point and ratiometric",
                "keep the one you measured",
            );
            return Calibration::default();
        }
    };
    line.unwrap_or_else(|| {
        problems.add(
            at,
            "channel.calibrate",
            "the two points have the same raw value",
            "measure two different points",
        );
        Calibration::default()
    })
}

fn on_when_of(
    raw: Option<&Spanned<RawOnWhen>>,
    quantity: Quantity,
    problems: &mut Problems,
) -> Option<OnWhen> {
    let raw = raw?;
    let at = raw.span().start;
    if !quantity.is_switch() {
        problems.add(
            at,
            "channel.on_when",
            "only a fill, dump or on channel is a switch",
            "remove it",
        );
    }
    let r = raw.get_ref();
    match (r.above, r.below, r.equals) {
        (Some(limit), None, None) => Some(OnWhen::Above(limit)),
        (None, Some(limit), None) => Some(OnWhen::Below(limit)),
        (None, None, Some(value)) => Some(OnWhen::Equals(value)),
        _ => {
            problems.add(
                at,
                "channel.on_when",
                "needs exactly one of above, below, equals",
                "keep one",
            );
            None
        }
    }
}
