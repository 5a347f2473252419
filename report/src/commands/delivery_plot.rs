//! Delivery of a compressor, run by run.

use crate::digest::CompressorDigest;
use crate::findings::place_words;
use crate::model::{Plot, ScatterPoint, TrendPlot, Unit};
use crate::recording::Recording;

/// Fewer points show nothing.
const FEWEST: usize = 5;

/// Deliveries as measured; `None` with fewer than five.
pub(super) fn plot(recording: &Recording, compressor: &CompressorDigest) -> Option<Plot> {
    let points: Vec<ScatterPoint> = compressor
        .runs
        .iter()
        .filter_map(|run| {
            Some(ScatterPoint {
                t_unix_ms: recording.clock.wall_ms(run.from_ms)?,
                y: run.anr_l_per_min?,
                low: None,
                high: None,
            })
        })
        .collect();
    let words = place_words(&compressor.place);
    (points.len() >= FEWEST).then(|| {
        Plot::Trend(TrendPlot {
            id: format!("delivery-{}", compressor.place),
            title: format!("Delivery of {words}").into(),
            caption: "Each point is one run without a fill, as measured: back pressure, supply \
                      voltage and the air taken in are not taken off here."
                .into(),
            y_label: "delivery".into(),
            unit: Unit::AnrLitresPerMin,
            points,
            trend: Vec::new(),
            steps: Vec::new(),
        })
    })
}
