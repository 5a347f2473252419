//! From the rig as written to the rig as meant: one pass, every problem collected.

use super::error::{line_of, nearest_remedy};
use super::mistakes;
use super::raw::{
    RawChannel, RawCircuit, RawCompressor, RawLimits, RawPosition, RawRecorder, RawRig, RawTank,
};
use super::{
    Circuit, Compressor, Limits, NamedPosition, Recorder, Rig, RigProblem, SensorAt, Tank,
    VolumeModel,
};
use crate::channel::is_identifier;
use toml::Spanned;

mod channel;
mod numbers;
mod sensor;
mod source;

/// Rates that a tick of at least 1 ms can follow, Hz.
const RATES_HZ: (f64, f64) = (0.01, 1_000.0);

/// Full rate is held in memory for so long, s.
const AROUND_ACTIVITY_S: (f64, f64) = (0.001, 60.0);

/// The move by which times compare where the rig gives none: 50 mm of a corner at 400 to
/// 500 kPa from a tank at 900 kPa. Common practice, no source.
const REFERENCE_MM: (f64, f64) = (-25.0, 25.0);
const REFERENCE_KPA_GAUGE: (f64, f64) = (400.0, 500.0);
const REFERENCE_TANK_KPA_GAUGE: f64 = 900.0;

/// Volumes that a line can have, cm³: none to 100 m of 10 mm bore.
const LINE_VOLUME_CM3: (f64, f64) = (0.0, 8_000.0);

/// Places that are neither circuit nor compressor.
const FIXED_PLACES: [&str; 4] = ["tank", "ambient", "supply", "vehicle"];

/// Problems found so far, and the text they are in.
pub(super) struct Problems<'a> {
    text: &'a str,
    list: Vec<RigProblem>,
}

impl Problems<'_> {
    /// Note a problem at a byte position.
    pub(super) fn add(
        &mut self,
        byte: usize,
        key: &str,
        problem: impl Into<String>,
        remedy: impl Into<String>,
    ) {
        self.list.push(RigProblem {
            line: line_of(self.text, byte),
            key: key.into(),
            problem: problem.into(),
            remedy: remedy.into(),
        });
    }

    /// A name that must not be among those taken before it.
    fn once<'n>(
        &mut self,
        byte: usize,
        key: &str,
        name: &str,
        mut taken: impl Iterator<Item = &'n String>,
        remedy: &str,
    ) {
        if taken.any(|other| other == name) {
            self.add(byte, key, format!("`{name}` is used twice"), remedy);
        }
    }

    /// A number that must be above zero, if given.
    fn positive(&mut self, byte: usize, key: &str, value: Option<f64>) -> Option<f64> {
        match value {
            Some(v) if !(v.is_finite() && v > 0.0) => {
                self.add(
                    byte,
                    key,
                    format!("{v} is not a number above 0"),
                    "give the size in the unit of the key's name",
                );
                None
            }
            other => other,
        }
    }

    /// A number within limits, if given.
    fn within(
        &mut self,
        byte: usize,
        key: &str,
        value: Option<f64>,
        (least, most): (f64, f64),
    ) -> Option<f64> {
        match value {
            Some(v) if !(least..=most).contains(&v) => {
                self.add(
                    byte,
                    key,
                    format!("{v} is not from {least} to {most}"),
                    "give a value in this range, or leave the key out",
                );
                None
            }
            other => other,
        }
    }
}

/// What of the file can be used, and every problem.
pub(super) fn resolve(text: &str) -> (Option<Rig>, Vec<RigProblem>) {
    let mistakes::Read {
        content,
        problems: mut found,
        touched_lines,
        element_lost,
    } = mistakes::read::<RawRig>(text);
    let Some(raw) = content else {
        return (None, found);
    };
    let mut problems = Problems {
        text,
        list: Vec::new(),
    };
    numbers::sane(text, &mut problems);
    if raw.vehicle.name.chars().any(char::is_control) {
        problems.add(
            0,
            "vehicle.name",
            "holds characters that cannot be printed",
            "write the name in one line of plain text",
        );
    }
    let circuits = circuits(&raw.circuit, &mut problems);
    check_sides(&raw.circuit, &mut problems);
    let positions = positions(&raw.position, &circuits, &mut problems);
    let compressors = compressors(&raw.compressor, &mut problems);
    let sources = source::sources(&raw.source, &mut problems);
    let places = places(&circuits, &compressors);
    let channels = channel::channels(&raw.channel, &sources, &places, &mut problems);
    let rig = Rig {
        vehicle: raw.vehicle.name,
        altitude_m: raw.vehicle.altitude_m,
        invented: raw.vehicle.invented,
        tank: raw.tank.as_ref().map(|tank| tank_of(tank, &mut problems)),
        circuits,
        positions,
        compressors,
        limits: limits(raw.limits.as_ref(), &mut problems),
        sources,
        channels,
        recorder: recorder(raw.recorder.as_ref(), &mut problems),
        text: text.to_string(),
    };
    // What follows from an entry that could not be read is no mistake of its own.
    let follows = |p: &RigProblem| {
        touched_lines.contains(&p.line)
            || (element_lost && ["channel.name", "channel.source"].contains(&p.key.as_str()))
    };
    found.extend(problems.list.into_iter().filter(|p| !follows(p)));
    found.sort_by_key(|p| p.line);
    (Some(rig), found)
}

fn places(circuits: &[Circuit], compressors: &[Compressor]) -> Vec<String> {
    FIXED_PLACES
        .iter()
        .map(ToString::to_string)
        .chain(circuits.iter().map(|c| c.name.clone()))
        .chain(circuits.iter().filter_map(|c| c.sides.clone()).flatten())
        .chain(compressors.iter().map(|c| c.name.clone()))
        .collect()
}

fn tank_of(raw: &Spanned<RawTank>, problems: &mut Problems) -> Tank {
    let at = raw.span().start;
    Tank {
        volume_l: problems.positive(at, "tank.volume_l", raw.get_ref().volume_l),
    }
}

fn circuits(raw: &[Spanned<RawCircuit>], problems: &mut Problems) -> Vec<Circuit> {
    let mut out: Vec<Circuit> = Vec::new();
    for item in raw {
        let at = item.span().start;
        let c = item.get_ref();
        check_name(at, "circuit.name", &c.name, problems);
        let taken = out.iter().map(|o| &o.name);
        problems.once(
            at,
            "circuit.name",
            &c.name,
            taken,
            "give each circuit its own name",
        );
        let line_volume_cm3 = line_volume(at, c, problems);
        let volume = volume_of(at, c, problems).with_line_cm3(line_volume_cm3);
        stops_in_order(at, c, problems);
        out.push(Circuit {
            name: c.name.clone(),
            axle: c.axle.clone(),
            sides: c.sides.clone(),
            volume,
            line_volume_cm3,
            sensor_at: sensor_at(at, c.sensor_at.as_deref(), problems),
            volume_uncertainty_percent: problems
                .positive(
                    at,
                    "circuit.volume_uncertainty_percent",
                    c.volume_uncertainty_percent,
                )
                .unwrap_or(5.0),
            reference_mm: rising(at, "circuit.reference_mm", c.reference_mm, problems)
                .unwrap_or(REFERENCE_MM),
            reference_kpa_gauge: reference_kpa(at, c, problems).unwrap_or(REFERENCE_KPA_GAUGE),
            lower_stop_mm: c.lower_stop_mm,
            upper_stop_mm: c.upper_stop_mm,
            lowest_ok_mm: c.lowest_ok_mm,
            lowest_ok_kpa_gauge: c.lowest_ok_kpa_gauge,
        });
    }
    out
}

/// Each side has a name of its own.
fn check_sides(raw: &[Spanned<RawCircuit>], problems: &mut Problems) {
    let mut taken: Vec<&String> = raw.iter().map(|c| &c.get_ref().name).collect();
    for item in raw {
        for side in item.get_ref().sides.iter().flatten() {
            let at = item.span().start;
            check_name(at, "circuit.sides", side, problems);
            let remedy = "give each circuit and each side its own name";
            problems.once(at, "circuit.sides", side, taken.iter().copied(), remedy);
            taken.push(side);
        }
    }
}

fn positions(
    raw: &[Spanned<RawPosition>],
    circuits: &[Circuit],
    problems: &mut Problems,
) -> Vec<NamedPosition> {
    let known: Vec<String> = circuits.iter().map(|c| c.name.clone()).collect();
    let mut out: Vec<NamedPosition> = Vec::new();
    for item in raw {
        let (at, p) = (item.span().start, item.get_ref());
        if p.name.is_empty() || p.name.chars().any(char::is_control) {
            problems.add(
                at,
                "position.name",
                "is empty or holds characters that cannot be printed",
                "write the name in one line of plain text",
            );
        }
        let taken = out.iter().map(|o| &o.name);
        problems.once(
            at,
            "position.name",
            &p.name,
            taken,
            "give each position its own name",
        );
        if p.mm.is_empty() || p.mm.values().any(|mm| !mm.is_finite()) {
            problems.add(
                at,
                "position.mm",
                "names no height, or one that is no number",
                "write the height of at least one circuit, such as mm = { rear = -5 }",
            );
        }
        for circuit in p.mm.keys().filter(|c| !known.contains(c)) {
            problems.add(
                at,
                "position.mm",
                format!("`{circuit}` is not a circuit of this rig"),
                suggest(circuit, &known),
            );
        }
        out.push(NamedPosition {
            name: p.name.clone(),
            mm: p.mm.clone(),
        });
    }
    out
}

/// Volume of the line to be added, cm³.
fn line_volume(at: usize, c: &RawCircuit, problems: &mut Problems) -> f64 {
    let key = "circuit.line_volume_cm3";
    let line = problems.within(at, key, c.line_volume_cm3, LINE_VOLUME_CM3);
    let has_volume =
        c.volume_l.is_some() || c.volume_at_height.is_some() || c.effective_area_cm2.is_some();
    if line.is_some() && !has_volume {
        problems.add(
            at,
            key,
            "there is no volume of the spring that it belongs to",
            "add volume_at_height, volume_l or effective_area_cm2, or leave the key out",
        );
    }
    line.unwrap_or(0.0)
}

fn sensor_at(at: usize, written: Option<&str>, problems: &mut Problems) -> SensorAt {
    match written {
        None | Some("bag") => SensorAt::Bag,
        Some("manifold") => SensorAt::Manifold,
        Some(other) => {
            problems.add(
                at,
                "circuit.sensor_at",
                format!("`{other}` is not known"),
                "write \"bag\" or \"manifold\"",
            );
            SensorAt::Bag
        }
    }
}

/// Two ends, the lower one first; anything else is a problem.
fn rising(
    at: usize,
    key: &str,
    given: Option<[f64; 2]>,
    problems: &mut Problems,
) -> Option<(f64, f64)> {
    let [low, high] = given?;
    if low >= high {
        problems.add(
            at,
            key,
            format!("[{low}, {high}] does not rise"),
            "write the lower end first",
        );
        return None;
    }
    Some((low, high))
}

/// Pressures of the reference move, above the outside.
fn reference_kpa(at: usize, c: &RawCircuit, problems: &mut Problems) -> Option<(f64, f64)> {
    let key = "circuit.reference_kpa_gauge";
    let (low, high) = rising(at, key, c.reference_kpa_gauge, problems)?;
    problems.positive(at, key, Some(low)).map(|low| (low, high))
}

fn stops_in_order(at: usize, c: &RawCircuit, problems: &mut Problems) {
    if let (Some(low), Some(high)) = (c.lower_stop_mm, c.upper_stop_mm)
        && low >= high
    {
        problems.add(
            at,
            "circuit.lower_stop_mm",
            format!("{low} is not below upper_stop_mm {high}"),
            "heights grow upwards; swap the two",
        );
    }
}

fn volume_of(at: usize, c: &RawCircuit, problems: &mut Problems) -> VolumeModel {
    let given = [
        c.volume_l.is_some(),
        c.volume_at_height.is_some(),
        c.effective_area_cm2.is_some(),
    ];
    if given.iter().filter(|g| **g).count() > 1 {
        problems.add(
            at,
            "circuit",
            "more than one of volume_l, volume_at_height, effective_area_cm2 is given",
            "keep the one you measured",
        );
    }
    if let Some(points) = &c.volume_at_height {
        return table(at, points, problems);
    }
    if let Some(area) = problems.positive(at, "circuit.effective_area_cm2", c.effective_area_cm2) {
        let zero = problems.positive(
            at,
            "circuit.volume_at_zero_height_l",
            c.volume_at_zero_height_l,
        );
        if zero.is_none() {
            problems.add(
                at,
                "circuit.volume_at_zero_height_l",
                "needed with effective_area_cm2",
                "add the volume at height 0",
            );
        }
        return VolumeModel::Area {
            volume_at_zero_height_l: zero.unwrap_or(1.0),
            effective_area_cm2: area,
        };
    }
    match problems.positive(at, "circuit.volume_l", c.volume_l) {
        Some(volume_l) => VolumeModel::Fixed { volume_l },
        None => VolumeModel::Unknown,
    }
}

fn table(at: usize, points: &[[f64; 2]], problems: &mut Problems) -> VolumeModel {
    let rising = points.windows(2).all(|w| w[1][0] > w[0][0]);
    let never_falls = points.windows(2).all(|w| w[1][1] >= w[0][1]);
    let positive = points.iter().all(|p| p[1] > 0.0 && p[1].is_finite());
    if points.len() < 2 || !rising || !never_falls || !positive {
        problems.add(
            at,
            "circuit.volume_at_height",
            "must be at least two [height_mm, volume_l] points, heights rising, volumes above 0 and never falling",
            "sort the points by height and check the volumes",
        );
        return VolumeModel::Unknown;
    }
    VolumeModel::Table {
        height_mm: points.iter().map(|p| p[0]).collect(),
        volume_l: points.iter().map(|p| p[1]).collect(),
    }
}

fn compressors(raw: &[Spanned<RawCompressor>], problems: &mut Problems) -> Vec<Compressor> {
    let mut out: Vec<Compressor> = Vec::new();
    for item in raw {
        let at = item.span().start;
        let c = item.get_ref();
        check_name(at, "compressor.name", &c.name, problems);
        let taken = out.iter().map(|o| &o.name);
        problems.once(
            at,
            "compressor.name",
            &c.name,
            taken,
            "give each compressor its own name",
        );
        let duty = problems.positive(at, "compressor.rated_duty_percent", c.rated_duty_percent);
        if duty.is_some_and(|d| d > 100.0) {
            problems.add(
                at,
                "compressor.rated_duty_percent",
                "is above 100",
                "give the share of time it may run, in percent",
            );
        }
        out.push(Compressor {
            name: c.name.clone(),
            rated_duty_percent: duty,
            rated_window_min: problems
                .positive(at, "compressor.rated_window_min", c.rated_window_min)
                .unwrap_or(10.0),
            delivers: c.delivers.unwrap_or(true),
        });
    }
    out
}

fn limits(raw: Option<&Spanned<RawLimits>>, problems: &mut Problems) -> Limits {
    let at = raw.map_or(0, |r| r.span().start);
    let empty = RawLimits::default();
    let l = raw.map_or(&empty, |r| r.get_ref());
    if let (Some(cut_in), Some(cut_out)) = (l.cut_in_kpa_gauge, l.cut_out_kpa_gauge)
        && cut_in >= cut_out
    {
        problems.add(
            at,
            "limits.cut_in_kpa_gauge",
            format!("{cut_in} is not below cut_out_kpa_gauge {cut_out}"),
            "the compressor starts at the lower pressure; swap the two",
        );
    }
    let midway = l.cut_in_kpa_gauge.zip(l.cut_out_kpa_gauge);
    Limits {
        reference_tank_kpa_gauge: problems
            .positive(
                at,
                "limits.reference_tank_kpa_gauge",
                l.reference_tank_kpa_gauge,
            )
            .or(midway.map(|(a, b)| f64::midpoint(a, b)))
            .unwrap_or(REFERENCE_TANK_KPA_GAUGE),
        cut_in_kpa_gauge: l.cut_in_kpa_gauge,
        cut_out_kpa_gauge: l.cut_out_kpa_gauge,
        height_tolerance_mm: problems
            .positive(at, "limits.height_tolerance_mm", l.height_tolerance_mm)
            .unwrap_or(3.0),
        pressure_tolerance_kpa: problems
            .positive(
                at,
                "limits.pressure_tolerance_kpa",
                l.pressure_tolerance_kpa,
            )
            .unwrap_or(10.0),
    }
}

fn recorder(raw: Option<&Spanned<RawRecorder>>, problems: &mut Problems) -> Recorder {
    let defaults = Recorder::default();
    let Some(raw) = raw else { return defaults };
    let at = raw.span().start;
    let r = raw.get_ref();
    let mut or = |key: &str, value: Option<f64>, default: f64, limits: (f64, f64)| {
        problems
            .within(at, &format!("recorder.{key}"), value, limits)
            .unwrap_or(default)
    };
    let d = defaults;
    let hour_s = (0.1, 3_600.0);
    let commit_s = or("commit_s", r.commit_s, d.commit_s, (0.1, 60.0));
    let rest_commit_s = or("rest_commit_s", r.rest_commit_s, d.rest_commit_s, hour_s);
    Recorder {
        commit_s,
        rest_commit_s: rest_commit_s.max(commit_s),
        rest_after_s: or("rest_after_s", r.rest_after_s, d.rest_after_s, hour_s),
        full_rate_hz: or("full_rate_hz", r.full_rate_hz, d.full_rate_hz, RATES_HZ),
        driving_rate_hz: or(
            "driving_rate_hz",
            r.driving_rate_hz,
            d.driving_rate_hz,
            RATES_HZ,
        ),
        rest_period_s: or(
            "rest_period_s",
            r.rest_period_s,
            d.rest_period_s,
            (0.001, 3_600.0),
        ),
        before_activity_s: or(
            "before_activity_s",
            r.before_activity_s,
            d.before_activity_s,
            AROUND_ACTIVITY_S,
        ),
        after_activity_s: or(
            "after_activity_s",
            r.after_activity_s,
            d.after_activity_s,
            AROUND_ACTIVITY_S,
        ),
        power_off_s: or(
            "power_off_s",
            r.power_off_s,
            d.power_off_s,
            (1.0, 604_800.0),
        ),
        keep_days: problems.positive(at, "recorder.keep_days", r.keep_days),
        keep_free_mb: r.keep_free_mb.unwrap_or(d.keep_free_mb),
    }
}

fn check_name(at: usize, key: &str, name: &str, problems: &mut Problems) {
    if !is_identifier(name) || FIXED_PLACES.contains(&name) {
        problems.add(
            at,
            key,
            format!("`{name}` cannot be a name here"),
            format!(
                "use lower-case letters, digits and `_`, not one of {}",
                FIXED_PLACES.join(", ")
            ),
        );
    }
}

/// Nearest known word, for a remedy.
fn suggest(word: &str, known: &[String]) -> String {
    if known.is_empty() {
        return "none is declared; add one".into();
    }
    nearest_remedy(word, known)
}

/// What a channel entry may hold for each kind of source.
fn used_keys(c: &RawChannel) -> Vec<&'static str> {
    let mut keys = Vec::new();
    for (key, given) in [
        ("signal", c.signal.is_some()),
        ("transducer", c.transducer.is_some()),
        ("column", c.column.is_some()),
        ("register", c.register.is_some()),
        ("table", c.table.is_some()),
        ("number", c.number.is_some()),
        ("word_order", c.word_order.is_some()),
    ] {
        if given {
            keys.push(key);
        }
    }
    keys
}
