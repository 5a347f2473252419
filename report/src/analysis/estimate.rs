//! A value and how well it is known.

/// A value and its standard error, with the degrees of freedom behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Value.
    pub value: f64,
    /// One standard error.
    pub se: f64,
    /// Degrees of freedom; large when the error is known.
    pub degrees_of_freedom: f64,
}

impl Estimate {
    /// Two-sided 95 % interval by Student's t.
    #[must_use]
    pub fn interval_95(&self) -> (f64, f64) {
        let t = crate::analysis::stats::student_t_quantile(0.975, self.degrees_of_freedom.max(1.0));
        (self.value - t * self.se, self.value + t * self.se)
    }

    /// The same value with a further error that is known and independent.
    ///
    /// Degrees of freedom after Welch and Satterthwaite: a known error takes
    /// none away. **Source**: JCGM 100:2008, G.4.
    ///
    /// ```
    /// use seep_report::analysis::estimate::Estimate;
    /// let noisy = Estimate { value: 1.0, se: 3.0, degrees_of_freedom: 4.0 };
    /// let both = noisy.with_known_error(4.0);
    /// assert!((both.se - 5.0).abs() < 1e-12);
    /// assert!((both.degrees_of_freedom - 4.0 * 625.0 / 81.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn with_known_error(&self, se: f64) -> Self {
        let total = self.se.hypot(se);
        let share = if self.se > 0.0 { total / self.se } else { 1.0 };
        Estimate {
            value: self.value,
            se: total,
            degrees_of_freedom: (self.degrees_of_freedom * share.powi(4)).min(1e9),
        }
    }

    /// Mean by inverse variances, with the fewest degrees of freedom of them.
    ///
    /// **Domain**: at least one, standard errors above 0. **Source**: weighted mean
    /// (from memory).
    ///
    /// ```
    /// use seep_report::analysis::estimate::Estimate;
    /// let of = |value, se| Estimate { value, se, degrees_of_freedom: 5.0 };
    /// let mean = Estimate::mean_of(&[of(1.0, 1.0), of(4.0, 2.0)]);
    /// assert!((mean.value - 1.6).abs() < 1e-12);
    /// assert!((mean.se - 0.8_f64.sqrt()).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn mean_of(all: &[Estimate]) -> Self {
        let weight: f64 = all.iter().map(|c| c.se.powi(-2)).sum();
        let degrees = all.iter().map(|c| c.degrees_of_freedom);
        Estimate {
            value: all.iter().map(|c| c.value * c.se.powi(-2)).sum::<f64>() / weight,
            se: weight.powf(-0.5),
            degrees_of_freedom: degrees.fold(f64::INFINITY, f64::min),
        }
    }

    /// Probability of a value this low or lower when the true one is zero.
    ///
    /// ```
    /// use seep_report::analysis::estimate::Estimate;
    /// let low = Estimate { value: -1.812, se: 1.0, degrees_of_freedom: 10.0 };
    /// assert!((low.falls_p() - 0.05).abs() < 1e-3); // Student's t, handbook table
    /// ```
    #[must_use]
    pub fn falls_p(&self) -> f64 {
        let t = self.value / self.se;
        let one =
            crate::analysis::stats::student_t_two_sided_p(t, self.degrees_of_freedom.max(1.0))
                / 2.0;
        if t < 0.0 { one } else { 1.0 - one }
    }

    /// The same in another unit.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Estimate {
            value: self.value * factor,
            se: self.se * factor.abs(),
            degrees_of_freedom: self.degrees_of_freedom,
        }
    }
}
