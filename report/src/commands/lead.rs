//! What stands directly under the verdict: one picture of what it speaks about.

use super::{delivery_plot, night, path_plots};
use crate::conclusion::{FindingKind, Topic};
use crate::digest::Digest;
use crate::judgement::Judgement;
use crate::model::{Finding, Plot, Section, Severity, Unit};
use crate::recording::Recording;

/// The section with the picture, by the first of `findings`; `None` where the log has
/// nothing to draw.
pub(super) fn section(
    recording: &Recording,
    digest: &Digest,
    judgement: &Judgement,
    findings: &[Finding],
) -> Option<Section> {
    let first = findings.first().filter(|f| f.severity > Severity::Unknown);
    match first.map(|f| f.kind) {
        Some(kind) if kind.topic() == Topic::Paths => {
            pictures("paths-in-question", "Paths in question", || {
                let plots = path_plots::slow_plots(recording, digest, judgement);
                plots.into_iter().map(in_percent).collect()
            })
        }
        Some(FindingKind::CompressorWear) => {
            pictures("delivery-in-question", "Delivery, run by run", || {
                let plots = digest.compressors.iter();
                plots
                    .filter(|c| first.is_some_and(|f| f.place == c.place))
                    .filter_map(|c| delivery_plot::plot(recording, c))
                    .collect()
            })
        }
        _ => night::section(recording, digest, judgement),
    }
}

/// A conductance as the share of air that passed when the plot begins: what leads needs
/// no unit that must be explained first.
fn in_percent(plot: Plot) -> Plot {
    let Plot::Trend(mut plot) = plot else {
        return plot;
    };
    let first = plot.trend.first().map(|c| c.y);
    let Some(at_first) = first.or_else(|| plot.points.first().map(|p| p.y)) else {
        return Plot::Trend(plot);
    };
    let share = |y: f64| 100.0 * y / at_first;
    for p in &mut plot.points {
        (p.y, p.low, p.high) = (share(p.y), p.low.map(share), p.high.map(share));
    }
    for c in &mut plot.trend {
        (c.y, c.low, c.high) = (share(c.y), share(c.low), share(c.high));
    }
    plot.id = format!("{}-share", plot.id);
    let title = plot.title.as_written();
    plot.title = title.replacen("Conductance of", "Air passed by", 1).into();
    plot.y_label = "air passed, share of the first".into();
    plot.unit = Unit::Percent;
    Plot::Trend(plot)
}

fn pictures(id: &str, title: &str, plots: impl Fn() -> Vec<Plot>) -> Option<Section> {
    let mut section = Section::new(id, title);
    section.leads = true;
    section.plots = plots();
    (!section.plots.is_empty()).then_some(section)
}
