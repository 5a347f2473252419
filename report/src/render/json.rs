//! The result value as JSON: stable keys, numbers at full precision in the
//! stored units, every unit spelled beside its number.
//!
//! Invisible and control characters of names are escaped: JSON allows them, a
//! terminal may obey them. A number that is not finite becomes `null`. Traces are thinned to their
//! extremes ([`crate::model::Trace::thinned`]); `thinned_from` says how many
//! values there were. Full data comes from the log itself.

use super::units::DisplayUnits;
use super::words;
use crate::model::{Plot, Report, Text};
use seep_common::text::escape_hidden;
use serde::{Serialize, Serializer};

/// Spans of time per trace; each keeps up to five values.
const BINS: usize = 1_000;

/// The report as indented JSON with a final line end.
#[must_use]
pub fn render(report: &Report) -> String {
    let thin = thinned(report);
    let mut text = serde_json::to_string_pretty(&thin)
        .expect("the model has text keys and derives its form, which cannot fail");
    text.push('\n');
    escape_hidden(&text).into_owned()
}

/// A string, its quantities in the stored units.
impl Serialize for Text {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&words::spelled(
            self,
            DisplayUnits::default(),
            str::to_string,
        ))
    }
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
