//! Sources: which keys belong to which kind.

use super::super::raw::RawSource;
use super::super::{Source, SourceKind};
use super::{Problems, check_name, nearest_remedy};
use toml::Spanned;

const KINDS: [&str; 4] = ["socketcan", "nmea", "modbus", "csv"];

pub(super) fn sources(raw: &[Spanned<RawSource>], problems: &mut Problems) -> Vec<Source> {
    let mut out: Vec<Source> = Vec::new();
    for item in raw {
        let at = item.span().start;
        let s = item.get_ref();
        check_name(at, "source.name", &s.name, problems);
        let taken = out.iter().map(|o| &o.name);
        problems.once(
            at,
            "source.name",
            &s.name,
            taken,
            "give each source its own name",
        );
        foreign_keys(at, s, problems);
        line_numbers(at, s, problems);
        let kind = kind_of(at, s, problems);
        let silence_s = problems.positive(at, "source.silence_s", s.silence_s);
        out.push(Source {
            name: s.name.clone(),
            kind,
            silence_s: silence_s.unwrap_or(30.0),
            sleeps_with_ignition: s.sleeps_with_ignition.unwrap_or(false),
        });
    }
    out
}

/// Numbers of a serial line within what lines and the Modbus protocol know.
///
/// **Source**: MODBUS over Serial Line V1.02, section 2.2: stations are 1 to 247; 0
/// speaks to all of them and none answers, 248 to 255 are reserved.
fn line_numbers(at: usize, s: &RawSource, problems: &mut Problems) {
    let hour_ms = (1.0, 3_600_000.0);
    for (key, value, limits) in [
        ("baud", s.baud.map(f64::from), (50.0, 12_000_000.0)),
        ("unit_id", s.unit_id.map(f64::from), (1.0, 247.0)),
        ("poll_ms", s.poll_ms.map(|ms| ms as f64), hour_ms),
        ("timeout_ms", s.timeout_ms.map(|ms| ms as f64), hour_ms),
    ] {
        problems.within(at, &format!("source.{key}"), value, limits);
    }
}

fn kind_of(at: usize, s: &RawSource, problems: &mut Problems) -> SourceKind {
    match s.kind.as_str() {
        "socketcan" => SourceKind::SocketCan {
            interface: s.interface.clone().unwrap_or_else(|| "can0".into()),
            dbc: s
                .dbc
                .clone()
                .unwrap_or_else(|| vec!["builtin:j1939-air".into()]),
        },
        "nmea" => SourceKind::Nmea {
            device: s.device.clone(),
            baud: s.baud.unwrap_or(38_400),
        },
        "modbus" => SourceKind::Modbus {
            device: s.device.clone(),
            baud: s.baud.unwrap_or(9_600),
            unit_id: s.unit_id.unwrap_or(1),
            poll_ms: s.poll_ms.unwrap_or(200).max(1),
            timeout_ms: s.timeout_ms.unwrap_or(500).max(1),
        },
        "csv" => csv_of(at, s, problems),
        other => {
            let known: Vec<String> = KINDS.iter().map(ToString::to_string).collect();
            problems.add(
                at,
                "source.kind",
                format!("`{other}` is not a kind of source"),
                nearest_remedy(other, &known),
            );
            SourceKind::Nmea {
                device: None,
                baud: 38_400,
            }
        }
    }
}

fn csv_of(at: usize, s: &RawSource, problems: &mut Problems) -> SourceKind {
    if s.time_column.is_none() {
        problems.add(
            at,
            "source.time_column",
            "a csv source needs the heading of its time column",
            "add time_column = \"…\"",
        );
    }
    let delimiter = s.delimiter.unwrap_or(',');
    let parts_cells = delimiter == '\t' || delimiter == ' ' || delimiter.is_ascii_punctuation();
    if !parts_cells || ['"', '.', '-', '+'].contains(&delimiter) {
        problems.add(
            at,
            "source.delimiter",
            format!("{delimiter:?} cannot part the cells of a table"),
            "use one of \",\", \";\", \"\\t\", \"|\" or a space",
        );
    }
    SourceKind::Csv {
        time_column: s.time_column.clone().unwrap_or_default(),
        time_format: s.time_format.clone().unwrap_or_else(|| "unix_s".into()),
        zone: s.zone.clone().unwrap_or_else(|| "UTC".into()),
        delimiter,
    }
}

/// Keys that say something only for another kind are a mistake worth telling.
fn foreign_keys(at: usize, s: &RawSource, problems: &mut Problems) {
    let given = [
        ("interface", s.interface.is_some(), "socketcan"),
        ("dbc", s.dbc.is_some(), "socketcan"),
        ("device", s.device.is_some(), "nmea modbus"),
        ("baud", s.baud.is_some(), "nmea modbus"),
        ("unit_id", s.unit_id.is_some(), "modbus"),
        ("poll_ms", s.poll_ms.is_some(), "modbus"),
        ("timeout_ms", s.timeout_ms.is_some(), "modbus"),
        ("time_column", s.time_column.is_some(), "csv"),
        ("time_format", s.time_format.is_some(), "csv"),
        ("zone", s.zone.is_some(), "csv"),
        ("delimiter", s.delimiter.is_some(), "csv"),
    ];
    for (key, is_given, kinds) in given {
        if is_given
            && KINDS.contains(&s.kind.as_str())
            && !kinds.split(' ').any(|kind| kind == s.kind)
        {
            problems.add(
                at,
                &format!("source.{key}"),
                format!("has no meaning for kind `{}`", s.kind),
                "remove it, or correct the kind",
            );
        }
    }
}
