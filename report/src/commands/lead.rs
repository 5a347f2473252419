//! What stands directly under the verdict: one picture of what it speaks about.

use super::{delivery_plot, night, path_plots};
use crate::digest::Digest;
use crate::judgement::Judgement;
use crate::model::{Finding, FindingKind, Plot, Section, Severity};
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
        Some(
            FindingKind::FillSlow
            | FindingKind::DumpSlow
            | FindingKind::LineRestricted
            | FindingKind::SupplyRestricted
            | FindingKind::ExhaustRestricted,
        ) => pictures("paths-in-question", "Paths in question", || {
            path_plots::slow_plots(recording, digest, judgement)
        }),
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

fn pictures(id: &str, title: &str, plots: impl Fn() -> Vec<Plot>) -> Option<Section> {
    let mut section = Section::new(id, title);
    section.leads = true;
    section.plots = plots();
    (!section.plots.is_empty()).then_some(section)
}
