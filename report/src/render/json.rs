//! The result value as JSON: stable keys, numbers at full precision in the
//! stored units, every unit spelled beside its number.
//!
//! A number that is not finite becomes `null`. Traces are thinned to their
//! extremes ([`crate::model::Trace::thinned`]); `thinned_from` says how many
//! values there were. Full data comes from the log itself.

use crate::model::{Plot, Report};

/// Spans of time per trace; each keeps up to five values.
const BINS: usize = 1_000;

/// The report as indented JSON with a final line end.
#[must_use]
pub fn render(report: &Report) -> String {
    let thin = thinned(report);
    let mut text = serde_json::to_string_pretty(&thin)
        .expect("the model has text keys and derives its form, which cannot fail");
    text.push('\n');
    without_controls(&text)
}

/// DEL and the C1 controls escaped: JSON allows them, a terminal may obey them.
fn without_controls(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        match c {
            '\u{7f}'..='\u{9f}' => out.push_str(&format!("\\u{:04x}", u32::from(c))),
            c => out.push(c),
        }
    }
    out
}

fn thinned(report: &Report) -> Report {
    let mut report = report.clone();
    let plots = report.sections.iter_mut().flat_map(|s| &mut s.plots);
    for plot in plots {
        let Plot::Time(plot) = plot else { continue };
        for trace in plot.panels.iter_mut().flat_map(|p| &mut p.traces) {
            *trace = trace.thinned(BINS);
        }
    }
    report
}
