//! Posterior and log evidence under changing prior precisions.
//!
//! With prior precisions `P` (diagonal), information `J` and `η` of the data,
//! `C = (P + J)⁻¹`, `m = Cη` and `ln evidence = ½ ln|P| + ½ ln|C| + ½ ηᵀm`, up to a
//! constant. Other precisions of few parameters `S`, `Δ` more, are a step of low rank
//! (Woodbury) that needs nothing but `C` and `m` on the parameters that are kept:
//! with `G = (I + ΔC_SS)⁻¹Δ`, `C −= C_S G C_Sᵀ`, `m −= C_S G m_S`, and the log evidence
//! changes by `½ ln|P'|/|P| − ½ ln|I + ΔC_SS| − ½ m_Sᵀ G m_S`.
//! **Source**: matrix inversion and determinant lemmas, as in Petersen and Pedersen,
//! *The Matrix Cookbook*, §3.2 (from memory, unverified).

use std::sync::Arc;

use nalgebra::{DMatrix, DVector};

use super::information::Information;
use super::linear::{Factor, add_narrow, submatrix, subvector};
use super::posterior::{Estimated, Posterior};

/// Prior precision of one parameter, before and after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PrecisionChange {
    pub(super) parameter: usize,
    pub(super) from: f64,
    pub(super) to: f64,
}

/// Posterior over the parameters that are kept: a marginal, therefore as good for
/// them as the whole.
#[derive(Debug, Clone)]
pub(super) struct SizedPosterior {
    /// Place of each parameter among those kept.
    place: Arc<[Option<usize>]>,
    covariance: DMatrix<f64>,
    mean: DVector<f64>,
    ln_evidence: f64,
}

impl SizedPosterior {
    /// Solves under a prior precision; keeps the parameters of `keep` that have one.
    /// `None` where the precision is not positive definite.
    pub(super) fn new(
        information: &Information,
        precision: &[Option<f64>],
        keep: &[usize],
    ) -> Option<Self> {
        let whole = Posterior::new(information, precision)?;
        Some(Self::of(&whole, information, precision, keep))
    }

    /// Keeps what is named of a posterior under this prior precision.
    pub(super) fn of(
        whole: &Posterior,
        information: &Information,
        precision: &[Option<f64>],
        keep: &[usize],
    ) -> Self {
        let ln_precision: f64 = precision.iter().flatten().map(|p| p.ln()).sum();
        let eta = subvector(&information.eta, &whole.used);
        let ln_evidence =
            0.5 * ln_precision - whole.half_ln_determinant + 0.5 * eta.dot(&whole.mean);
        let mut place = vec![None; precision.len()];
        let mut kept = Vec::new();
        for i in keep {
            if let (Some(from), None) = (whole.place[*i], place[*i]) {
                place[*i] = Some(kept.len());
                kept.push(from);
            }
        }
        Self {
            place: place.into(),
            covariance: submatrix(&whole.covariance, &kept, &kept),
            mean: subvector(&whole.mean, &kept),
            ln_evidence,
        }
    }

    /// Log evidence of the prior precisions, up to a constant.
    pub(super) fn ln_evidence(&self) -> f64 {
        self.ln_evidence
    }

    /// Estimate of one parameter.
    pub(super) fn estimate(&self, parameter: usize) -> Option<Estimated> {
        let k = self.place[parameter]?;
        Some(Estimated {
            c: self.mean[k],
            se: self.covariance[(k, k)].sqrt(),
        })
    }

    /// Adds to the data: `mean` more on the parameters kept (indexed by parameter), and
    /// `ln_evidence` more.
    pub(super) fn add(&mut self, mean: &[f64], ln_evidence: f64) {
        for (parameter, place) in self.place.iter().enumerate() {
            if let Some(k) = place {
                self.mean[*k] += mean[parameter];
            }
        }
        self.ln_evidence += ln_evidence;
    }

    /// Gives parameters another prior precision. `None` where one is not kept, or the
    /// numbers are not finite.
    pub(super) fn change_precision(&mut self, all: &[PrecisionChange]) -> Option<()> {
        let all: Vec<&PrecisionChange> = all.iter().filter(|c| c.from != c.to).collect();
        if all.is_empty() {
            return Some(());
        }
        let places = all
            .iter()
            .map(|c| self.place[c.parameter])
            .collect::<Option<Vec<usize>>>()?;
        let n = places.len();
        let kept: Vec<usize> = (0..self.mean.len()).collect();
        let columns = submatrix(&self.covariance, &kept, &places);
        let change = DVector::from_fn(n, |i, _| all[i].to - all[i].from);
        let mut inner = DMatrix::from_fn(n, n, |i, j| change[i] * columns[(places[i], j)]);
        for i in 0..n {
            inner[(i, i)] += 1.0;
        }
        let inner = inner.lu();
        let gain = inner.solve(&DMatrix::from_diagonal(&change))?;
        let mean = subvector(&self.mean, &places);
        let step = &columns * &gain;
        self.ln_evidence -= 0.5 * mean.dot(&(&gain * &mean));
        self.ln_evidence -= 0.5 * inner.determinant().ln();
        self.ln_evidence += 0.5 * all.iter().map(|c| (c.to / c.from).ln()).sum::<f64>();
        self.mean -= &step * mean;
        add_narrow(&mut self.covariance, -1.0, &step, &columns);
        self.ln_evidence.is_finite().then_some(())
    }

    /// Returns what the data and all other parameters say about some parameters, whose
    /// prior precision is `precision(k)`.
    pub(super) fn data(
        &self,
        parameters: &[usize],
        precision: impl Fn(usize) -> f64,
    ) -> Option<BlockData> {
        let places = parameters
            .iter()
            .map(|i| self.place[*i])
            .collect::<Option<Vec<usize>>>()?;
        let covariance = submatrix(&self.covariance, &places, &places);
        let mut information = Factor::new(covariance)?.inverse();
        let eta = &information * subvector(&self.mean, &places);
        for k in 0..places.len() {
            information[(k, k)] -= precision(k);
        }
        Some(BlockData { information, eta })
    }
}

/// What all else says about a block of parameters: with its posterior covariance `S`
/// and mean `m`, information `Λ = S⁻¹ − P` and `h = S⁻¹m`.
pub(super) struct BlockData {
    information: DMatrix<f64>,
    eta: DVector<f64>,
}

impl BlockData {
    /// Log evidence of prior standard deviations of the block, up to a constant:
    /// `−½ ln|I + sΛs| + ½ (sh)ᵀ (I + sΛs)⁻¹ (sh)`.
    pub(super) fn ln_evidence(&self, sd: impl Fn(usize) -> f64) -> Option<f64> {
        let n = self.eta.len();
        let sd: Vec<f64> = (0..n).map(sd).collect();
        let mut a = DMatrix::from_fn(n, n, |i, j| self.information[(i, j)] * sd[i] * sd[j]);
        for k in 0..n {
            a[(k, k)] += 1.0;
        }
        let factor = Factor::new(a)?;
        let mut z = DVector::from_fn(n, |k, _| self.eta[k] * sd[k]);
        factor.forward(&mut z);
        Some(0.5 * z.norm_squared() - factor.half_ln_determinant())
    }
}

#[cfg(test)]
mod tests {
    use super::{PrecisionChange, SizedPosterior};
    use crate::analysis::rest_model::information::{Information, ParkInformation};
    use nalgebra::{DMatrix, DVector};

    const N: usize = 9;

    /// Invented: a park's information of full rank but for one direction.
    fn information(more: f64) -> Information {
        let x = DMatrix::from_fn(N - 1, N, |i, j| ((3 * i + 7 * j * j) % 11) as f64 - 4.5);
        let precision = x.transpose() * &x;
        let eta = DVector::from_fn(N, |i, _| (i * i % 5) as f64 - 1.5);
        let eta = eta + precision.column(2) * more;
        let park = ParkInformation {
            index: (0..N).collect(),
            precision,
            eta,
        };
        let mut information = Information::none(N);
        information.add(&park);
        information.complete()
    }

    fn precision() -> Vec<Option<f64>> {
        let of = |i: usize| (i != 5).then_some(0.1 + i as f64);
        (0..N).map(of).collect()
    }

    fn agree(a: &SizedPosterior, b: &SizedPosterior, kept: &[usize]) {
        assert!((a.ln_evidence() - b.ln_evidence()).abs() < 1e-9);
        for i in kept {
            let (a, b) = (a.estimate(*i).unwrap(), b.estimate(*i).unwrap());
            assert!((a.c - b.c).abs() < 1e-9 && (a.se - b.se).abs() < 1e-9);
        }
        assert!((&a.covariance - &b.covariance).amax() < 1e-10);
    }

    #[test]
    fn other_precisions_agree_with_solving_again() {
        let kept = [0, 2, 3, 7, 8];
        let mut stepped = SizedPosterior::new(&information(0.0), &precision(), &kept).unwrap();
        let mut after = precision();
        let mut steps = Vec::new();
        for (parameter, to) in [(3, 40.0), (7, 0.002), (8, 8.1)] {
            let from = after[parameter].replace(to).unwrap();
            steps.push(PrecisionChange {
                parameter,
                from,
                to,
            });
        }
        let again = SizedPosterior::new(&information(0.0), &after, &kept).unwrap();
        assert!((again.ln_evidence() - stepped.ln_evidence()).abs() > 0.1);
        stepped.change_precision(&steps).unwrap();
        agree(&stepped, &again, &kept);
    }

    #[test]
    fn what_is_not_kept_cannot_be_changed() {
        let mut posterior = SizedPosterior::new(&information(0.0), &precision(), &[0]).unwrap();
        let step = PrecisionChange {
            parameter: 3,
            from: 3.1,
            to: 2.0,
        };
        assert!(posterior.change_precision(&[step]).is_none());
        assert!(posterior.estimate(3).is_none());
    }

    #[test]
    fn the_evidence_of_a_block_differs_as_that_of_the_whole() {
        let (kept, block) = ([0, 1, 6], [1, 6]);
        let before = SizedPosterior::new(&information(0.0), &precision(), &kept).unwrap();
        let data = before
            .data(&block, |k| precision()[block[k]].unwrap())
            .unwrap();
        let of = |x: f64| data.ln_evidence(|k| x * precision()[block[k]].unwrap().powf(-0.5));
        let mut other = precision();
        for i in block {
            other[i] = other[i].map(|p| p / 6.25);
        }
        let after = SizedPosterior::new(&information(0.0), &other, &kept).unwrap();
        let whole = after.ln_evidence() - before.ln_evidence();
        assert!((of(2.5).unwrap() - of(1.0).unwrap() - whole).abs() < 1e-9);
        assert!(whole.abs() > 0.1);
    }
}
