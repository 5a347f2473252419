//! A bag that gives way under pressure: at once, and slowly over decades of time.

/// Strain of one bag's wall. A ladder of Kelvin–Voigt elements, two per decade of
/// time, creeps as the logarithm of time over the decades it spans.
///
/// **Source**: W. N. Findley et al., Creep and Relaxation of Nonlinear Viscoelastic
/// Materials (1976), generalized Kelvin model; the figures are the scenario's.
#[derive(Debug, Clone)]
pub(super) struct Rubber {
    creep_per_decade: f64,
    stretch_per_pa: f64,
    start_pa: f64,
    elements: [f64; ELEMENTS],
    keep: (f64, [f64; ELEMENTS]),
}

const ELEMENTS: usize = 10;

/// Retardation time of the first element, s; each is √10 longer than the last.
const FIRST_S: f64 = 20.0;

/// Rise of pressure that the creep is given for, Pa.
const CREEP_PA: f64 = 500e3;

impl Rubber {
    /// At rest under the pressure it starts with, Pa gauge.
    pub(super) fn new(creep_percent_decade: f64, stretch_percent_bar: f64, pa: f64) -> Self {
        Rubber {
            creep_per_decade: creep_percent_decade / 100.0,
            stretch_per_pa: stretch_percent_bar / 100.0 / 100e3,
            start_pa: pa,
            elements: [0.0; ELEMENTS],
            keep: (f64::NAN, [0.0; ELEMENTS]),
        }
    }

    /// It gives way at all.
    pub(super) fn gives(&self) -> bool {
        self.creep_per_decade != 0.0 || self.stretch_per_pa != 0.0
    }

    /// Let `dt_s` pass under a pressure, Pa gauge; returns the volume over that of
    /// the start at the same height.
    pub(super) fn step(&mut self, pa: f64, dt_s: f64) -> f64 {
        if self.keep.0 != dt_s {
            let keep = |k: usize| libm::exp(-dt_s / (FIRST_S * libm::pow(10.0, 0.5 * k as f64)));
            self.keep = (dt_s, std::array::from_fn(keep));
        }
        let risen = pa - self.start_pa;
        let goal = 0.5 * self.creep_per_decade * risen / CREEP_PA;
        for (element, keep) in self.elements.iter_mut().zip(self.keep.1) {
            *element = goal + (*element - goal) * keep;
        }
        1.0 + self.stretch_per_pa * risen + self.elements.iter().sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn creeps_the_same_over_each_decade_of_time() {
        let mut rubber = Rubber::new(0.4, 0.3, 100e3);
        let mut grown = Vec::new();
        let mut t_s = 0.0;
        for end_s in [100.0, 1_000.0, 10_000.0, 100_000.0] {
            while t_s < end_s {
                rubber.step(600e3, 5.0);
                t_s += 5.0;
            }
            grown.push(100.0 * (rubber.step(600e3, 0.0) - 1.0));
        }
        let decades: Vec<f64> = grown.windows(2).map(|w| w[1] - w[0]).collect();
        assert!(
            decades.iter().all(|d| (d - 0.4).abs() < 0.03),
            "{decades:?}"
        );
        assert!(grown[0] > 1.5, "{grown:?}");
    }
}
