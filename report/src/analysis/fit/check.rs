//! What every fit asks of its data.

use super::NoFit;

/// Refuse data no fit can be made from.
pub(super) fn check(
    y: &[f64],
    weights: Option<&[f64]>,
    x_points: usize,
    parameters: usize,
) -> Result<(), NoFit> {
    let points = y.len();
    for other in [x_points, weights.map_or(points, <[f64]>::len)] {
        if other != points {
            return Err(NoFit::LengthsDiffer { points, other });
        }
    }
    if let Some(point) = y.iter().position(|v| !v.is_finite()) {
        return Err(NoFit::NotFinite { point });
    }
    let usable = |w: &f64| w.is_finite() && *w > 0.0;
    if let Some(point) = weights.and_then(|w| w.iter().position(|w| !usable(w))) {
        return Err(NoFit::BadWeight { point });
    }
    if points <= parameters {
        return Err(NoFit::TooFewPoints {
            points,
            needed: parameters + 1,
        });
    }
    Ok(())
}

/// Square roots of the weights: what a residual is multiplied by.
pub(super) fn root_weights(weights: Option<&[f64]>, points: usize) -> Vec<f64> {
    weights.map_or_else(
        || vec![1.0; points],
        |w| w.iter().map(|w| w.sqrt()).collect(),
    )
}
