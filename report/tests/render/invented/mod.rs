//! An invented report that uses everything the model can say.
//!
//! Every number here is invented for the tests: fourteen days with an
//! imaginary estate car whose rear left dump valve does not always close.

pub(crate) mod plots;

use jiff::tz::TimeZone;
use seep_report::conclusion::Conclusion;
use seep_report::model::{
    Align, Cell, Clock, ClockState, Column, Counter, DataHealth, Finding, GapRow, MadeFrom,
    Measured, Report, Section, SessionRow, Severity, Table, Unit, Verdict, WallTime,
};

/// First moment of the invented trip: 2026-03-14 06:12:00 in Vienna.
pub(crate) const START_MS: i64 = 1_773_465_120_000;

/// Length of the trip: fourteen days, across the change to summer time.
pub(crate) const LENGTH_MS: i64 = 14 * 86_400_000;

/// A moment of the trip.
pub(crate) fn at(offset_ms: i64) -> WallTime {
    let zone = TimeZone::get("Europe/Vienna").expect("bundled zone");
    WallTime::from_unix_ms(START_MS + offset_ms, &zone).expect("in range")
}

/// The report.
pub(crate) fn report() -> Report {
    let made_from = MadeFrom {
        log_file: "heron-march.db".into(),
        log_sha256: "9f2c1b0a".repeat(8).into(),
        rig_hash: "51d0c3e7".repeat(8).into(),
        vehicle: "Heron (invented estate car)".into(),
        from: Some(at(0)),
        to: Some(at(LENGTH_MS)),
        zone: "Europe/Vienna".into(),
        coverage: 0.913,
        clock: ClockState::Stepped,
        invented: Some("invented data for testing the report".into()),
        places: Vec::new(),
    };
    let verdict = Verdict::new(
        Severity::Act,
        0.968,
        "The rear left dump valve does not always close: the corner then loses \
         4.6 ± 0.5 mm/h, so expect to refill it within a night. Run the dump and \
         fill comparison below before the next trip.",
    );
    let mut report = Report::new("diagnose", "Diagnosis", made_from, verdict, health());
    report.program_version = "0.0.0-test".into();
    report.findings = findings();
    report.sections = vec![leaks(), compressor(), moves()];
    report.notes = vec![
        "Air amounts use the bag temperature at the rear and the outside temperature at the front."
            .into(),
        "Gauge readings were corrected with the recorded barometer.".into(),
    ];
    report
}

fn findings() -> Vec<Finding> {
    let main = Finding::new(
        &Conclusion::DumpValveNotReseating {
            place: "rear_left".into(),
        },
        Severity::Act,
        0.968,
        "The corner loses air in 9 of 13 rests that follow a dump and in none of 11 that follow a fill.",
    )
    .with_evidence("leak while leaking", Measured::plus_minus(38.2, 4.1, Unit::AnrCm3PerMin))
    .with_evidence("height lost", Measured::plus_minus(4.63, 0.52, Unit::MmPerHour))
    .with_evidence("half-life", Measured::estimate(97_200.0, 84_600.0, 115_200.0, Unit::Seconds))
    .with_evidence("leak after a fill", Measured::below(1.31, Unit::AnrCm3PerMin))
    .with_evidence("zero of the rear left sensor", Cell::missing("never vented in this span"))
    .with_candidate("rear left dump valve", 0.912)
    .with_candidate("rear left line or fitting", 0.071)
    .with_candidate("rear left bag", 0.017)
    .with_next_check(
        "lower and raise the rear left corner five times, then compare the height after an hour at rest with the same after five raises only.",
        Some("a car held up only by air can come down at any moment: never reach or lie under it, set it on rated stands on firm ground first."),
    )
    .with_separation("a rest after a dump with the line shut off at the manifold: if the loss stops, it is the valve.");
    let mut duty = Finding::new(
        &Conclusion::DutyTooHigh {
            place: "compressor_1".into(),
        },
        Severity::Watch,
        0.883,
        "About a third of the compressor's work replaces what leaks.",
    )
    .with_evidence(
        "share of delivered air lost to leaks",
        Measured::estimate(34.0, 27.0, 45.0, Unit::Percent),
    )
    .with_evidence("worst hour", Measured::exact(18.4, Unit::Percent));
    duty.evidence[1].remark = Some("rated 33 % in the rig".into());
    let tight = Finding::new(
        &Conclusion::ProofOpen {
            place: "front_right".into(),
        },
        Severity::Fine,
        0.99,
        "No leak seen in 21 rests.",
    )
    .with_evidence("leak", Measured::below(0.8, Unit::AnrCm3PerMin));
    let unsure = Finding {
        certainty: seep_report::model::Certainty::OPEN,
        ..Finding::new(
            &Conclusion::ProofOpen {
                place: "tank".into(),
            },
            Severity::Unknown,
            0.5,
            "The tank never rested for an hour with the compressor off.",
        )
    };
    vec![main, duty, tight, unsure]
}

fn leaks() -> Section {
    let mut section = Section::new("leaks", "Leaks");
    section.lead =
        Some("Rates are at the pressure of each rest, corrected for temperature.".into());
    let mut table = Table::new(
        "leak-by-volume",
        "Leak of each volume over all rests",
        vec![
            Column::text("volume"),
            Column::number("rests", Unit::Count),
            Column::number("leak", Unit::AnrCm3PerMin),
            Column::number("pressure rate", Unit::KpaPerHour),
            Column::number("height rate", Unit::MmPerHour),
            Column::mixed("half-life"),
            Column::text("model"),
        ],
    );
    let rate = |v: f64, h: f64| Cell::from(Measured::plus_minus(v, h, Unit::KpaPerHour));
    let rows: [(&str, u64, Cell, Cell, Cell, Cell, &str); 5] = [
        (
            "front left",
            19,
            Measured::plus_minus(2.14, 0.61, Unit::AnrCm3PerMin).into(),
            rate(0.21, 0.06),
            Measured::plus_minus(0.26, 0.08, Unit::MmPerHour).into(),
            Measured::estimate(1.9e6, 1.3e6, f64::INFINITY, Unit::Seconds).into(),
            "choked orifice",
        ),
        (
            "front right",
            21,
            Measured::below(0.8, Unit::AnrCm3PerMin).into(),
            Measured::below(0.08, Unit::KpaPerHour).into(),
            Measured::below(0.1, Unit::MmPerHour).into(),
            Cell::missing("no leak seen"),
            "none needed",
        ),
        (
            "rear left",
            24,
            Measured::estimate(14.3, 9.8, 21.7, Unit::AnrCm3PerMin).into(),
            rate(1.32, 0.35),
            Measured::plus_minus(1.74, 0.49, Unit::MmPerHour).into(),
            Measured::estimate(97_200.0, 84_600.0, 115_200.0, Unit::Seconds).into(),
            "two states: tight and leaking after a dump",
        ),
        (
            "rear right",
            22,
            Measured::plus_minus(0.4, 0.9, Unit::AnrCm3PerMin).into(),
            rate(0.04, 0.09),
            Cell::missing("no height channel"),
            Cell::missing("interval reaches zero"),
            "choked orifice",
        ),
        (
            "tank",
            0,
            Cell::missing("never at rest for an hour"),
            Cell::missing("never at rest for an hour"),
            Cell::missing("no height channel"),
            Cell::missing("never at rest for an hour"),
            "",
        ),
    ];
    for (volume, rests, leak, rate, height, half_life, model) in rows {
        table.push(vec![
            volume.into(),
            Cell::count(rests),
            leak,
            rate,
            height,
            half_life,
            model.into(),
        ]);
    }
    section.tables = vec![table];
    section.plots = vec![plots::over_time(), plots::fit()];
    section.notes =
        vec!["Rear right: lower bound, the corner may have stood off its stops.".into()];
    section
}

fn compressor() -> Section {
    let mut section = Section::new("duty", "Compressor duty");
    let mut table = Table::new(
        "duty-windows",
        "Duty in sliding windows",
        vec![
            Column::text("window"),
            Column::number("worst duty", Unit::Percent),
            Column::mixed("when"),
            Column::mixed("longest run"),
            Column::number("rated", Unit::Percent),
            Column::number("recorded", Unit::Percent),
        ],
    );
    for (window, duty, offset, run, recorded) in [
        ("10 min", 61.0, 5_400_000, 252.0, 100.0),
        ("1 h", 18.4, 3_600_000, 252.0, 100.0),
        ("24 h", 2.9, 0, 252.0, 91.3),
    ] {
        table.push(vec![
            window.into(),
            Measured::exact(duty, Unit::Percent).into(),
            WallTime {
                within_s: if window == "24 h" { 90.0 } else { 0.0 },
                ..at(offset)
            }
            .into(),
            Cell::duration(run),
            Measured::exact(33.0, Unit::Percent).into(),
            Measured::exact(recorded, Unit::Percent).into(),
        ]);
    }
    section.tables = vec![table];
    section.plots = vec![plots::duty()];
    section
}

fn moves() -> Section {
    let mut section = Section::new("moves", "Moves");
    section.lead = Some("One row per corner and direction, at reference conditions.".into());
    let mut columns = vec![Column::text("path")];
    for (name, unit) in [
        ("moves", Unit::Count),
        ("conductance", Unit::SonicConductance),
        ("trend", Unit::PercentPerDay),
        ("time to height", Unit::Seconds),
        ("response lag", Unit::Seconds),
        ("tank at start", Unit::KpaGauge),
        ("outside", Unit::Celsius),
        ("height moved", Unit::Mm),
    ] {
        columns.push(Column::number(name, unit));
    }
    columns.push(Column {
        name: "remark".into(),
        unit: None,
        align: Align::Left,
    });
    let mut table = Table::new("moves-by-path", "Paths through the valves", columns);
    for (i, path) in [
        "front left fill",
        "front left dump",
        "rear left fill",
        "rear left dump",
    ]
    .iter()
    .enumerate()
    {
        let k = i as f64;
        table.push(vec![
            (*path).into(),
            Cell::count(31 + 7 * i as u64),
            Measured::plus_minus(0.2412 - 0.031 * k, 0.0081, Unit::SonicConductance).into(),
            Measured::plus_minus(-0.12 * k, 0.09, Unit::PercentPerDay).into(),
            Measured::plus_minus(3.42 + 0.4 * k, 0.11, Unit::Seconds).into(),
            Measured::plus_minus(0.0483 + 0.004 * k, 0.0021, Unit::Seconds).into(),
            Measured::plus_minus(912.0 - 20.0 * k, 3.0, Unit::KpaGauge).into(),
            Measured::plus_minus(-3.4 + k, 0.5, Unit::Celsius).into(),
            Measured::plus_minus(42.0, 0.6, Unit::Mm).into(),
            if i == 3 {
                "slower since 21 March".into()
            } else {
                "".into()
            },
        ]);
    }
    section.tables = vec![table];
    section.plots = vec![plots::trend(), plots::holds()];
    section
}

fn health() -> DataHealth {
    let hour = 3_600_000;
    DataHealth {
        coverage: 0.913,
        span_s: 1_209_600.0,
        recorded_s: 1_104_365.0,
        gaps: plots::GAPS
            .iter()
            .map(|&(from, to, cause)| GapRow {
                from: at(from),
                to: at(to),
                seconds: (to - from) as f64 / 1000.0,
                cause: cause.into(),
                channel: (cause == "serial line silent").then(|| "rear_right_mm".into()),
            })
            .collect(),
        gaps_left_off: 3,
        counters: vec![
            counter("frames dropped by the kernel", "can0", 0, None),
            counter("sentences with a bad checksum", "height sensors", 17, Some("1 in 71 000: harmless")),
            counter("readings out of range", "rear_right_mm", 3, Some("left out, not stored")),
        ],
        clock: Clock {
            state: ClockState::Stepped,
            within_s: Some(2.0),
            remark: Some("Session 3 started without network; its times were corrected when the clock was set 41 s later.".into()),
        },
        sessions: vec![
            session(1, 0, 100 * hour, "power cut", ClockState::Synced),
            session(2, 106 * hour, 210 * hour, "power cut", ClockState::Synced),
            session(3, 216 * hour, 336 * hour, "still running", ClockState::Stepped),
        ],
        notes: vec!["Two readings older than the log were ignored.".into()],
    }
}

fn counter(name: &str, place: &str, count: u64, meaning: Option<&str>) -> Counter {
    Counter {
        name: name.into(),
        place: place.into(),
        count,
        meaning: meaning.map(str::to_string),
    }
}

fn session(number: u64, from: i64, to: i64, ended_by: &str, clock: ClockState) -> SessionRow {
    SessionRow {
        number,
        from: at(from),
        to: at(to),
        ticks: Some((to - from) as u64 / 1000),
        ended_by: ended_by.into(),
        clock,
    }
}
