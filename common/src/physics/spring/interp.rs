//! Monotone interpolation: a smooth curve through measured points that never
//! overshoots them, with its slope and its inverse.

/// Why a table is refused.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum CurveError {
    /// Fewer than two points, or lists of different lengths.
    #[error("a table needs two points or more and as many values: {x} and {y} given")]
    Length {
        /// Abscissas given.
        x: usize,
        /// Values given.
        y: usize,
    },
    /// Abscissas not strictly rising or not finite.
    #[error("entry {at} of the table does not rise above the one before")]
    NotRising {
        /// Index of the entry, from 0.
        at: usize,
    },
    /// Values falling or not finite.
    #[error("value {at} of the table falls below the one before")]
    Falling {
        /// Index of the entry, from 0.
        at: usize,
    },
}

/// Piecewise cubic through rising points, straight beyond the ends.
#[derive(Debug, Clone, PartialEq)]
pub struct MonotoneCurve {
    x: Vec<f64>,
    y: Vec<f64>,
    slope: Vec<f64>,
}

impl MonotoneCurve {
    /// A curve through the points; `x` strictly rising, `y` never falling.
    ///
    /// Slopes at the points are the weighted harmonic means of the neighbouring
    /// chords. **Source**: Fritsch and Carlson 1980, SIAM J. Numer. Anal. 17;
    /// slopes after Fritsch and Butland 1984.
    ///
    /// # Errors
    /// [`CurveError`] names the first entry that is wrong.
    ///
    /// ```
    /// use seep_common::physics::spring::MonotoneCurve;
    /// let curve = MonotoneCurve::new(&[0.0, 1.0, 2.0], &[0.0, 1.0, 4.0]).unwrap();
    /// assert_eq!(curve.value(1.0), 1.0);
    /// assert!(curve.slope(0.5) > 0.0);
    /// assert!((curve.inverse(curve.value(1.7)).unwrap() - 1.7).abs() < 1e-9);
    /// ```
    pub fn new(x: &[f64], y: &[f64]) -> Result<Self, CurveError> {
        if x.len() < 2 || x.len() != y.len() {
            return Err(CurveError::Length {
                x: x.len(),
                y: y.len(),
            });
        }
        for at in 0..x.len() {
            if !x[at].is_finite() || (at > 0 && x[at] <= x[at - 1]) {
                return Err(CurveError::NotRising { at });
            }
            if !y[at].is_finite() || (at > 0 && y[at] < y[at - 1]) {
                return Err(CurveError::Falling { at });
            }
        }
        Ok(MonotoneCurve {
            slope: slopes(x, y),
            x: x.to_vec(),
            y: y.to_vec(),
        })
    }

    /// Value at x; the end tangents beyond the ends.
    ///
    /// ```
    /// use seep_common::physics::spring::MonotoneCurve;
    /// let curve = MonotoneCurve::new(&[0.0, 1.0, 2.0], &[0.0, 1.0, 2.0]).unwrap();
    /// assert!((curve.value(0.25) - 0.25).abs() < 1e-15);
    /// assert_eq!(curve.value(3.0), 3.0); // beyond the end
    /// ```
    #[must_use]
    pub fn value(&self, at: f64) -> f64 {
        let (first, last) = (0, self.x.len() - 1);
        if at <= self.x[first] {
            return self.y[first] + self.slope[first] * (at - self.x[first]);
        }
        if at >= self.x[last] {
            return self.y[last] + self.slope[last] * (at - self.x[last]);
        }
        let i = self.segment(at);
        let h = self.x[i + 1] - self.x[i];
        let s = (at - self.x[i]) / h;
        let r = 1.0 - s;
        // Hermite basis.
        r * r * (1.0 + 2.0 * s) * self.y[i]
            + s * s * (1.0 + 2.0 * r) * self.y[i + 1]
            + h * s * r * (r * self.slope[i] - s * self.slope[i + 1])
    }

    /// Slope dy/dx at x; continuous, never negative.
    ///
    /// ```
    /// use seep_common::physics::spring::MonotoneCurve;
    /// let curve = MonotoneCurve::new(&[0.0, 1.0, 2.0], &[0.0, 1.0, 2.0]).unwrap();
    /// assert!((curve.slope(0.25) - 1.0).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn slope(&self, at: f64) -> f64 {
        let last = self.x.len() - 1;
        if at <= self.x[0] {
            return self.slope[0];
        }
        if at >= self.x[last] {
            return self.slope[last];
        }
        let i = self.segment(at);
        let h = self.x[i + 1] - self.x[i];
        let s = (at - self.x[i]) / h;
        let r = 1.0 - s;
        6.0 * s * r * (self.y[i + 1] - self.y[i]) / h
            + r * (1.0 - 3.0 * s) * self.slope[i]
            + s * (1.0 - 3.0 * r) * self.slope[i + 1]
    }

    /// x of a value, by bisection inside the segment that holds it; along the
    /// end tangents beyond the table. `None` where an end is flat and the value
    /// lies beyond it.
    ///
    /// ```
    /// use seep_common::physics::spring::MonotoneCurve;
    /// let curve = MonotoneCurve::new(&[0.0, 1.0, 2.0], &[0.0, 1.0, 1.0]).unwrap();
    /// assert!((curve.value(curve.inverse(0.4).unwrap()) - 0.4).abs() < 1e-12);
    /// assert_eq!(curve.inverse(1.5), None); // flat at the upper end
    /// ```
    #[must_use]
    pub fn inverse(&self, value: f64) -> Option<f64> {
        let last = self.x.len() - 1;
        for end in [0, last] {
            let beyond = value - self.y[end];
            let outside = if end == 0 { beyond < 0.0 } else { beyond > 0.0 };
            if outside {
                let x = self.x[end] + beyond / self.slope[end];
                return x.is_finite().then_some(x);
            }
        }
        let after = self.y.partition_point(|&y| y <= value);
        let i = after.saturating_sub(1).min(last - 1);
        let (mut low, mut high) = (self.x[i], self.x[i + 1]);
        // 60 halvings take any segment below the spacing of doubles.
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.value(middle) <= value {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(0.5 * (low + high))
    }

    fn segment(&self, at: f64) -> usize {
        let after = self.x.partition_point(|&x| x <= at);
        after.saturating_sub(1).min(self.x.len() - 2)
    }
}

fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let h: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
    let chord: Vec<f64> = y
        .windows(2)
        .zip(&h)
        .map(|(w, h)| (w[1] - w[0]) / h)
        .collect();
    let last = chord.len() - 1;
    if last == 0 {
        return vec![chord[0]; 2];
    }
    let mut slope = vec![end_slope(h[0], h[1], chord[0], chord[1])];
    for i in 0..last {
        slope.push(inner_slope(h[i], h[i + 1], chord[i], chord[i + 1]));
    }
    slope.push(end_slope(
        h[last],
        h[last - 1],
        chord[last],
        chord[last - 1],
    ));
    slope
}

fn inner_slope(h0: f64, h1: f64, d0: f64, d1: f64) -> f64 {
    if d0 * d1 <= 0.0 {
        return 0.0;
    }
    let (w0, w1) = (2.0 * h1 + h0, h1 + 2.0 * h0);
    (w0 + w1) / (w0 / d0 + w1 / d1)
}

/// Three-point end slope, not below zero so that the end segment stays monotone
/// (with both chords rising it is always below twice the first).
fn end_slope(h0: f64, h1: f64, d0: f64, d1: f64) -> f64 {
    let slope = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
    slope.max(0.0)
}
