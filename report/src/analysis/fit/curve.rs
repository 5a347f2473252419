//! What a nonlinear fit asks of a model.

use nalgebra::DMatrix;

/// A model of all observations with parameters to be found.
///
/// A closure `|parameters, out|` that writes one prediction per observation is
/// a model; so is anything that knows its own derivatives.
pub trait Curve {
    /// Write the predicted observations into `out`. A value that is not finite
    /// says that the parameters are outside the model's domain.
    fn predict(&self, parameters: &[f64], out: &mut [f64]);

    /// Write ∂prediction/∂parameter into `out`, one column per parameter.
    ///
    /// The default takes central differences.
    fn derive(&self, parameters: &[f64], out: &mut DMatrix<f64>) {
        central_differences(self, parameters, out);
    }
}

impl<F: Fn(&[f64], &mut [f64])> Curve for F {
    fn predict(&self, parameters: &[f64], out: &mut [f64]) {
        self(parameters, out);
    }
}

/// Derivatives from two predictions per parameter. Where one of the two is
/// outside the model's domain, from the other and the middle.
fn central_differences<C: Curve + ?Sized>(curve: &C, parameters: &[f64], out: &mut DMatrix<f64>) {
    let points = out.nrows();
    let mut middle = vec![0.0; points];
    curve.predict(parameters, &mut middle);
    let (mut up, mut down) = (vec![0.0; points], vec![0.0; points]);
    let mut moved = parameters.to_vec();
    for (j, &value) in parameters.iter().enumerate() {
        let step = step(curve, &mut moved, j, &middle, &mut up);
        // What the step is after rounding, not what it was meant to be.
        let (high, low) = (value + step, value - step);
        moved[j] = high;
        curve.predict(&moved, &mut up);
        moved[j] = low;
        curve.predict(&moved, &mut down);
        moved[j] = value;
        for (i, slot) in out.column_mut(j).iter_mut().enumerate() {
            *slot = if !down[i].is_finite() {
                (up[i] - middle[i]) / (high - value)
            } else if !up[i].is_finite() {
                (middle[i] - down[i]) / (value - low)
            } else {
                (up[i] - down[i]) / (high - low)
            };
        }
    }
}

/// Step of a parameter: ∛ε of its size. At zero there is no size to go by, so
/// the step grows from tiny until the predictions move by about √ε.
fn step<C: Curve + ?Sized>(
    curve: &C,
    moved: &mut [f64],
    j: usize,
    middle: &[f64],
    work: &mut [f64],
) -> f64 {
    let value = moved[j];
    if value.abs() > f64::MIN_POSITIVE {
        return value.abs() * f64::EPSILON.cbrt();
    }
    let size = middle
        .iter()
        .fold(0.0_f64, |a, m| a.max(m.abs()))
        .max(1e-30);
    let mut step = 1e-18;
    while step < 1e6 {
        moved[j] = step;
        curve.predict(moved, work);
        let change = work
            .iter()
            .zip(middle)
            .fold(0.0_f64, |a, (w, m)| a.max((w - m).abs()));
        if change > size * f64::EPSILON.sqrt() {
            break;
        }
        step *= 10.0;
    }
    moved[j] = value;
    step
}

#[cfg(test)]
mod tests {
    use super::*;

    fn derivative(curve: impl Curve, parameters: &[f64], points: usize) -> DMatrix<f64> {
        let mut out = DMatrix::zeros(points, parameters.len());
        curve.derive(parameters, &mut out);
        out
    }

    #[test]
    fn differences_are_the_derivatives() {
        let curve = |p: &[f64], out: &mut [f64]| {
            for (t, o) in [0.0, 3_600.0, 36_000.0].iter().zip(out) {
                *o = p[0] * (-p[1] * t).exp();
            }
        };
        let d = derivative(curve, &[7e5, 2.5e-5], 3);
        let shape = (-2.5e-5 * 36_000.0_f64).exp();
        assert!((d[(2, 0)] / shape - 1.0).abs() < 1e-9);
        assert!((d[(2, 1)] / (-7e5 * 36_000.0 * shape) - 1.0).abs() < 1e-9);
        assert!(d[(0, 1)].abs() < 1e-9);
    }

    #[test]
    fn a_parameter_at_zero_has_a_derivative_whatever_its_scale() {
        for scale in [1e-6, 1.0, 1e6] {
            let curve = |p: &[f64], out: &mut [f64]| out[0] = (1.0 + p[0] / scale).ln() + 3.0;
            let d = derivative(curve, &[0.0], 1);
            assert!((d[(0, 0)] * scale - 1.0).abs() < 1e-6, "{scale}");
        }
    }

    #[test]
    fn at_the_edge_of_the_domain_one_side_is_enough() {
        let curve = |p: &[f64], out: &mut [f64]| out[0] = (p[0] - 2.0).sqrt() + p[0];
        let at = 2.0 * (1.0 + f64::EPSILON);
        assert!(derivative(curve, &[at], 1)[(0, 0)].is_finite());
    }
}
