//! Time counted from the first point in lengths of the record, so that rates
//! are of the order of one whatever the units.

use super::NoFit;

pub(super) struct Axis {
    /// (t − start)/span.
    pub(super) s: Vec<f64>,
    pub(super) start: f64,
    pub(super) span: f64,
}

impl Axis {
    pub(super) fn of(t: &[f64]) -> Result<Self, NoFit> {
        if let Some(point) = t.iter().position(|t| !t.is_finite()) {
            return Err(NoFit::NotFinite { point });
        }
        let start = t.iter().copied().fold(f64::INFINITY, f64::min);
        let end = t.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let span = end - start;
        if !span.is_finite() || span <= 0.0 {
            return Err(NoFit::NotIdentifiable { parameters: vec![] });
        }
        Ok(Axis {
            s: t.iter().map(|t| (t - start) / span).collect(),
            start,
            span,
        })
    }
}
