//! The data behind the zoom, packed small and safe to stand in a page.

use jiff::tz::TimeZone;
use serde_json::{Value, json};

use crate::model::{Cell, MarkSource, Measured, TimePlot, Trace, Unit};
use crate::render::units::{DisplayUnits, Shown};
use crate::render::{time_axis, words};

use super::lanes::lanes;
use super::{Look, style};

/// The plot's data as JSON that cannot end a script element.
///
/// Times are differences in steps of `step` ms, values are whole multiples of
/// `quantum`; `null` lifts the pen.
pub(super) fn embed(
    plot: &TimePlot,
    broken: &[Vec<Trace>],
    units: DisplayUnits,
    zone: &TimeZone,
    look: &Look,
) -> String {
    let span = (plot.to_unix_ms - plot.from_unix_ms).max(1);
    let step = (span / 200_000).max(1);
    let panels: Vec<Value> = plot
        .panels
        .iter()
        .zip(broken)
        .map(|(panel, traces)| {
            let shown = units.shown(panel.unit);
            let thin: Vec<Trace> = traces.iter().map(|t| t.thinned(look.detail.kept)).collect();
            let decimals = decimals_for(&thin, shown);
            let packed = thin.iter();
            json!({
                "unit": shown.symbol,
                "decimals": decimals,
                "traces": packed.map(|t| pack(style(look, &t.name), t, shown, decimals, plot.from_unix_ms, step)).collect::<Vec<_>>(),
            })
        })
        .collect();
    let offsets = time_axis::offsets(plot.from_unix_ms, plot.to_unix_ms, zone);
    let data = json!({
        "from": plot.from_unix_ms,
        "to": plot.to_unix_ms,
        "step": step,
        "offsets": offsets.iter().map(|o| json!([o.from_unix_ms, o.offset_ms])).collect::<Vec<_>>(),
        "panels": panels,
        "lanes": pack_lanes(plot, step),
        "gaps": plot.gaps.iter().map(|g| json!([g.from_unix_ms, g.to_unix_ms])).collect::<Vec<_>>(),
    });
    escape(&data.to_string())
}

/// JSON that no HTML parser can leave: `<`, `>` and `&` could end the element
/// or start a comment, the two separators end a line in older scripts.
pub(super) fn escape(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        match c {
            '<' => out.push_str("\\u003c"),
            '>' => out.push_str("\\u003e"),
            '&' => out.push_str("\\u0026"),
            '\u{2028}' => out.push_str("\\u2028"),
            '\u{2029}' => out.push_str("\\u2029"),
            c => out.push(c),
        }
    }
    out
}

/// Decimals that resolve a ten-thousandth of the panel's range.
fn decimals_for(traces: &[Trace], shown: Shown) -> usize {
    let values = traces.iter().flat_map(|t| t.values.iter().flatten());
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| {
        let v = shown.apply(*v);
        (lo.min(v), hi.max(v))
    });
    let range = high - low;
    if !(range.is_finite() && range > 0.0) {
        return 2;
    }
    (0..9)
        .find(|&d| range * 10f64.powi(d) >= 1e4)
        .and_then(|d| usize::try_from(d).ok())
        .unwrap_or(9)
}

fn pack(
    style: String,
    trace: &Trace,
    shown: Shown,
    decimals: usize,
    from: i64,
    step: i64,
) -> Value {
    let scale = 10f64.powi(i32::try_from(decimals).unwrap_or(0));
    let mut previous = 0;
    let times: Vec<i64> = trace
        .t_unix_ms
        .iter()
        .map(|t| {
            let steps = (t - from) / step;
            let difference = steps - previous;
            previous = steps;
            difference
        })
        .collect();
    let values: Vec<Option<i64>> = trace
        .values
        .iter()
        .map(|v| v.map(|v| (shown.apply(v) * scale).round() as i64))
        .collect();
    json!({
        "name": words::place(&trace.name),
        "style": style,
        "t": times,
        "v": values,
    })
}

/// Marks as pairs of times; those closer together than a step are one.
fn pack_lanes(plot: &TimePlot, step: i64) -> Vec<Value> {
    lanes(plot)
        .into_values()
        .map(|marks| {
            let of = |source: MarkSource| {
                let mut joined: Vec<[i64; 2]> = Vec::new();
                for m in marks.iter().filter(|m| m.source == source) {
                    let from = m.from_unix_ms - plot.from_unix_ms;
                    let to = m.to_unix_ms - plot.from_unix_ms;
                    match joined.last_mut() {
                        Some(last) if from <= last[1] + step => last[1] = last[1].max(to),
                        _ => joined.push([from, to]),
                    }
                }
                joined
            };
            json!([of(MarkSource::Wired), of(MarkSource::Inferred)])
        })
        .collect()
}

/// Lowest and highest value of a trace in `[from, to)`.
pub(super) fn extremes(trace: &Trace, from: i64, to: i64, unit: Unit) -> [Cell; 2] {
    let start = trace.t_unix_ms.partition_point(|&t| t < from);
    let end = trace.t_unix_ms.partition_point(|&t| t < to);
    let spoken = || trace.values[start..end].iter().flatten().copied();
    let cell =
        |value: Option<f64>| Cell::number_or(value.map(|v| Measured::exact(v, unit)), "no data");
    [
        cell(spoken().min_by(f64::total_cmp)),
        cell(spoken().max_by(f64::total_cmp)),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_in_the_data_can_end_the_script() {
        let evil = serde_json::to_string("</script><!--&\u{2028}\u{2029}").expect("text");
        let safe = escape(&evil);
        assert!(!safe.contains(['<', '>', '&', '\u{2028}', '\u{2029}']));
        let back: String = serde_json::from_str(&safe).expect("still JSON");
        assert_eq!(back, "</script><!--&\u{2028}\u{2029}");
    }
}
