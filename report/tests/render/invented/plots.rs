//! Invented traces: smooth curves, a daily swing, dumps and fills, gaps.

use seep_report::model::{
    Bar, BarPlot, CurvePoint, FitPlot, Gap, IntervalPlot, IntervalRow, Mark, MarkKind, MarkSource,
    Measured, Panel, Plot, ReferenceLine, ScatterPoint, StepMark, TimePlot, Trace, TrendPlot, Unit,
};

use super::{LENGTH_MS, START_MS};

const HOUR_MS: i64 = 3_600_000;

/// Gaps: from, to, cause.
pub(crate) const GAPS: [(i64, i64, &str); 3] = [
    (100 * HOUR_MS, 106 * HOUR_MS, "power off"),
    (150 * HOUR_MS, 151 * HOUR_MS, "serial line silent"),
    (210 * HOUR_MS, 216 * HOUR_MS, "power off"),
];

/// A repeatable wobble between −1 and 1.
fn wobble(i: i64, seed: i64) -> f64 {
    let mixed =
        (i.wrapping_mul(2_654_435_761) ^ seed.wrapping_mul(40_503)).wrapping_mul(2_246_822_519);
    ((mixed >> 16) & 0xffff) as f64 / 32_768.0 - 1.0
}

/// One reading every `step_ms`, silent in the gaps.
fn trace(name: &str, step_ms: i64, value: impl Fn(i64, f64) -> f64) -> Trace {
    let times: Vec<i64> = (0..LENGTH_MS / step_ms).map(|i| i * step_ms).collect();
    let in_gap = |t: i64| GAPS.iter().any(|g| g.0 < t && t < g.1);
    let values = times
        .iter()
        .enumerate()
        .map(|(i, &t)| (!in_gap(t)).then(|| value(i as i64, t as f64 / HOUR_MS as f64)))
        .collect();
    Trace::new(name, times.iter().map(|t| START_MS + t).collect(), values)
}

/// Day and night: degrees over a mean.
fn swing(hours: f64) -> f64 {
    (hours / 24.0 * std::f64::consts::TAU).sin() * 6.0
}

/// Heights fall between refills every twelve hours.
fn height(hours: f64, loss_mm_per_h: f64) -> f64 {
    let since_refill = hours % 12.0;
    let low = if (300.0..303.0).contains(&hours) {
        -40.0
    } else {
        0.0
    };
    low - loss_mm_per_h * since_refill
}

pub(crate) fn over_time() -> Plot {
    let step = 20_000;
    let pressure = |name: &str, base: f64, seed: i64| {
        trace(name, step, move |i, h| {
            base + swing(h) * 2.1 + wobble(i, seed) * 0.6
        })
    };
    let tank = trace("tank", step, |i, h| {
        900.0 - (h % 6.0) * 28.0 + wobble(i, 9) * 1.5
    });
    let heights = [
        ("front_left", 0.26),
        ("front_right", 0.0),
        ("rear_left", 1.7),
        ("rear_right", 0.1),
    ];
    let panels = vec![
        Panel {
            label: "pressure".into(),
            unit: Unit::KpaGauge,
            traces: vec![
                pressure("front_left", 512.0, 1),
                pressure("front_right", 505.0, 2),
                pressure("rear_left", 431.0, 3),
                pressure("rear_right", 440.0, 4),
                tank,
            ],
        },
        Panel {
            label: "height".into(),
            unit: Unit::Mm,
            traces: heights
                .iter()
                .map(|&(name, loss)| {
                    trace(name, step, move |i, h| height(h, loss) + wobble(i, 5) * 0.3)
                })
                .collect(),
        },
    ];
    Plot::Time(TimePlot {
        id: "pressure-and-height".into(),
        title: "Pressure and height over the trip".into(),
        caption: "Watch the rear left height after each dump.".into(),
        from_unix_ms: START_MS,
        to_unix_ms: START_MS + LENGTH_MS,
        panels,
        marks: marks(),
        gaps: GAPS
            .iter()
            .map(|&(from, to, cause)| Gap {
                from_unix_ms: START_MS + from,
                to_unix_ms: START_MS + to,
                cause: cause.into(),
            })
            .collect(),
        notes: Vec::new(),
    })
}

fn marks() -> Vec<Mark> {
    let mark = |kind, place: &str, from: i64, to: i64, source| Mark {
        kind,
        place: place.into(),
        from_unix_ms: START_MS + from,
        to_unix_ms: START_MS + to,
        source,
    };
    let mut out = Vec::new();
    for refill in 0..28 {
        let t = refill * 12 * HOUR_MS;
        out.push(mark(
            MarkKind::Fill,
            "rear_left",
            t,
            t + 30_000,
            MarkSource::Wired,
        ));
        out.push(mark(
            MarkKind::Compressor,
            "compressor_1",
            t,
            t + 240_000,
            MarkSource::Wired,
        ));
        out.push(mark(
            MarkKind::Rest,
            "rear_left",
            t + HOUR_MS,
            t + 11 * HOUR_MS,
            MarkSource::Inferred,
        ));
    }
    out.push(mark(
        MarkKind::Dump,
        "rear_left",
        300 * HOUR_MS,
        300 * HOUR_MS + 9_000,
        MarkSource::Wired,
    ));
    out.push(mark(
        MarkKind::Move,
        "rear_left",
        300 * HOUR_MS,
        303 * HOUR_MS,
        MarkSource::Inferred,
    ));
    out
}

pub(crate) fn fit() -> Plot {
    let model = |s: f64| 431.0 + 101.0 * (-s / 140_000.0).exp() - 101.0;
    let points: Vec<(f64, f64)> = (0..240)
        .map(|i| {
            (
                f64::from(i) * 150.0,
                model(f64::from(i) * 150.0) + wobble(i64::from(i), 7) * 0.4,
            )
        })
        .collect();
    let residuals = points.iter().map(|&(x, y)| (x, y - model(x))).collect();
    let curve = (0..=60)
        .map(|i| {
            let x = f64::from(i) * 600.0;
            let half = 0.08 + 0.25 * x / 36_000.0;
            CurvePoint {
                x,
                y: model(x),
                low: model(x) - half,
                high: model(x) + half,
            }
        })
        .collect();
    Plot::Fit(FitPlot {
        place: Some("rear left".into()),
        id: "fit-rear-left".into(),
        title: "Rear left, rest of 17 March, 01:12".into(),
        caption: "Choked orifice. Residuals show no run longer than chance.".into(),
        x_label: "time since the valves closed".into(),
        y_label: "pressure".into(),
        unit: Unit::KpaGauge,
        points,
        curve,
        residuals,
        without: Vec::new(),
        others: Vec::new(),
    })
}

pub(crate) fn duty() -> Plot {
    let bars = (0..24)
        .map(|hour| {
            let duty = 2.0
                + 9.0 * (-(f64::from(hour) - 7.0).powi(2) / 4.0).exp()
                + 0.2 * wobble(i64::from(hour), 3);
            Bar {
                label: format!("{hour:02}").into(),
                value: (hour != 3)
                    .then(|| Measured::plus_minus(duty, 0.4 + duty * 0.1, Unit::Percent)),
                coverage: match hour {
                    3 => 0.0,
                    0..=5 => 0.64,
                    _ => 1.0,
                },
            }
        })
        .collect();
    Plot::Bars(BarPlot {
        id: "duty-by-hour".into(),
        title: "Duty over the day".into(),
        caption: "Mean of fourteen days. Nothing was recorded between 03:00 and 04:00.".into(),
        x_label: "hour of the day".into(),
        y_label: "duty".into(),
        unit: Unit::Percent,
        bars,
        references: vec![ReferenceLine {
            label: "rated duty over an hour".into(),
            value: 9.0,
        }],
    })
}

pub(crate) fn trend() -> Plot {
    let day = 24 * HOUR_MS;
    let points: Vec<ScatterPoint> = (0..42)
        .map(|i| {
            let t = i64::from(i) * 8 * HOUR_MS;
            let y = 0.241 - 0.0009 * (t / day) as f64 - if t >= 7 * day { 0.012 } else { 0.0 }
                + wobble(i64::from(i), 11) * 0.004;
            ScatterPoint {
                t_unix_ms: START_MS + t,
                y,
                low: Some(y - 0.006),
                high: (i % 5 != 0).then_some(y + 0.006),
            }
        })
        .collect();
    let trend = (0..=28)
        .map(|i| {
            let x = (START_MS + i64::from(i) * day / 2) as f64;
            let y = 0.2445 - 0.00095 * f64::from(i);
            let half = 0.002 + 0.0003 * (f64::from(i) - 14.0).abs();
            CurvePoint {
                x,
                y,
                low: y - half,
                high: y + half,
            }
        })
        .collect();
    Plot::Trend(TrendPlot {
        id: "rear-left-dump-conductance".into(),
        title: "Rear left dump: conductance of each move".into(),
        caption: "Falls by 0.8 ± 0.2 % per day; a step on 21 March.".into(),
        y_label: "sonic conductance C".into(),
        unit: Unit::SonicConductance,
        points,
        trend,
        steps: vec![StepMark {
            t_unix_ms: START_MS + 7 * day,
            label: "step down of 5 %, 21 March".into(),
        }],
    })
}

pub(crate) fn holds() -> Plot {
    let row = |label: &str, value, before, remark: &str| IntervalRow {
        label: label.into(),
        value,
        before,
        limit: Some(25.0),
        others: vec![3.0, -1.0],
        remark: remark.into(),
    };
    let about = |value, half| Some(Measured::plus_minus(value, half, Unit::Mm));
    Plot::Intervals(IntervalPlot {
        id: "holds".into(),
        title: "Holding height, against the limit".into(),
        caption: "Broken limits first.".into(),
        x_label: "fall".into(),
        unit: Unit::Mm,
        rows: vec![
            row(
                "rear right, fall over 12 h",
                about(48.0, 6.0),
                about(51.0, 4.0),
                "FAIL",
            ),
            row(
                "front left, fall over 12 h",
                about(-1.0, 900.0),
                None,
                "open",
            ),
            row(
                "rear left, fall over 12 h",
                Some(Measured::below(4.0, Unit::Mm)),
                None,
                "pass",
            ),
            row("front right, fall over 12 h", None, None, "open"),
        ],
    })
}

/// Plots without a single value.
pub(crate) fn empty() -> Vec<Plot> {
    let mut plots = vec![over_time(), fit(), duty(), trend(), holds()];
    for plot in &mut plots {
        match plot {
            Plot::Time(p) => {
                p.to_unix_ms = p.from_unix_ms;
                p.marks.clear();
                p.gaps.clear();
                p.panels[0].traces.clear();
                p.panels[1].traces = vec![Trace::new("silent", Vec::new(), Vec::new())];
            }
            Plot::Fit(p) => {
                p.points.clear();
                p.curve.clear();
                p.residuals.clear();
            }
            Plot::Bars(p) => {
                p.bars.clear();
                p.references.clear();
            }
            Plot::Trend(p) => {
                p.points.clear();
                p.trend.clear();
                p.steps.clear();
            }
            Plot::Intervals(p) => p.rows.clear(),
        }
    }
    plots
}
