//! Sizes of the families of persistent errors, learnt by empirical Bayes.
//!
//! One factor per family and owner on the usual standard deviation, from a grid.
//! Coordinate ascent: the evidence of one family's factor follows in closed form from
//! its block of the posterior. With posterior block covariance `S` and mean `m`,
//! `Λ = S⁻¹ − D` and `h = S⁻¹m` are what the rest of the data say about the block, and
//! `ln evidence = −½ ln|I + sΛs| + ½ (sh)ᵀ (I + sΛs)⁻¹ (sh)`.
//! **Source**: MacKay, *Neural Computation* 4 (1992) 415 (evidence framework; from
//! memory, unverified).

use nalgebra::{DMatrix, DVector};

use super::columns::Family;
use super::information::Information;
use super::linear::{Factor, submatrix, subvector};
use super::parameters::{Group, Parameters};
use super::posterior::Posterior;

/// Factors that are tried.
const GRID: [f64; 8] = [0.1, 0.2, 0.4, 0.7, 1.0, 1.5, 2.5, 4.0];
/// Penalty ½(ln x / 1.2)² of a factor. **Source**: judgement.
const PENALTY_SD: f64 = 1.2;
/// A step must gain this many nats.
const LEAST_GAIN: f64 = 0.1;
const SWEEPS: usize = 2;

/// Start of the ascent: factor by family, 1 where it is not listed.
type Start = &'static [(Family, f64)];

/// Starts: as usual; much sun and little soak; much soak and creep.
pub(super) const STARTS: [Start; 3] = [
    &[],
    &[(Family::Sun, 4.0), (Family::Soak, 0.4)],
    &[
        (Family::Soak, 2.5),
        (Family::Creep, 1.5),
        (Family::Lag, 1.5),
    ],
];

/// Largest factor of a family; `None` where it is bounded by what sensors are and
/// never learnt.
fn largest_factor(family: Family) -> Option<f64> {
    match family {
        Family::Gain | Family::Beta | Family::Common => None,
        Family::Day | Family::Other => Some(1.0),
        Family::Lag => Some(1.5),
        Family::Soak | Family::Sun | Family::Creep | Family::Visco | Family::Settle => Some(2.5),
        Family::Gap => Some(4.0),
    }
}

/// Learnt factors, one per group, with their log evidence.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sizes {
    pub(super) factors: Vec<f64>,
    pub(super) ln_evidence: f64,
}

/// What the search starts from and works on.
pub(super) struct SizeSearch<'a> {
    groups: &'a [Group],
    usual_sd: &'a [f64],
    /// Prior precision of the hypotheses in use; of errors it is set by the factors.
    precision: Vec<Option<f64>>,
    information: &'a Information,
}

impl<'a> SizeSearch<'a> {
    pub(super) fn new(
        groups: &'a [Group],
        parameters: &'a Parameters,
        precision: Vec<Option<f64>>,
        information: &'a Information,
    ) -> Self {
        Self {
            groups,
            usual_sd: &parameters.usual_sd,
            precision,
            information,
        }
    }

    /// Returns factors of a fixed start, bounded by what each family may reach.
    pub(super) fn start(&self, start: Start) -> Vec<f64> {
        let of = |family: Family| {
            let listed = start.iter().find(|s| s.0 == family);
            listed.map_or(1.0, |s| s.1)
        };
        self.groups
            .iter()
            .map(|g| of(g.family).min(largest_factor(g.family).unwrap_or(4.0)))
            .collect()
    }

    /// Climbs from each start; returns the best end.
    pub(super) fn best(&self, starts: &[Vec<f64>]) -> Option<Sizes> {
        starts
            .iter()
            .filter_map(|s| self.climb(s.clone()))
            .max_by(|a, b| a.ln_evidence.total_cmp(&b.ln_evidence))
    }

    fn climb(&self, mut factors: Vec<f64>) -> Option<Sizes> {
        let mut block = self.posterior(&factors)?;
        for _ in 0..SWEEPS {
            let mut moved = false;
            for (g, group) in self.groups.iter().enumerate() {
                let Some(top) = largest_factor(group.family) else {
                    continue;
                };
                let sd: Vec<f64> = group.members.iter().map(|i| self.usual_sd[*i]).collect();
                if let Some(better) = block.better(&group.members, &sd, factors[g], top) {
                    block.resize(&group.members, &sd, factors[g], better)?;
                    factors[g] = better;
                    moved = true;
                }
            }
            if !moved {
                break;
            }
        }
        let ln_evidence = self.ln_evidence(&factors)?;
        Some(Sizes {
            factors,
            ln_evidence,
        })
    }

    fn precision_at(&self, factors: &[f64]) -> Vec<Option<f64>> {
        let mut precision = self.precision.clone();
        for (group, factor) in self.groups.iter().zip(factors) {
            for i in &group.members {
                precision[*i] = Some((self.usual_sd[*i] * factor).powi(-2));
            }
        }
        precision
    }

    fn posterior(&self, factors: &[f64]) -> Option<Block> {
        Posterior::new(self.information, &self.precision_at(factors)).map(Block)
    }

    /// Log evidence of the factors with their penalties, up to a constant:
    /// `−½ ln|I + sJs| + ½ ηᵀs (I + sJs)⁻¹ sη`.
    fn ln_evidence(&self, factors: &[f64]) -> Option<f64> {
        let precision = self.precision_at(factors);
        let used: Vec<usize> = (0..precision.len())
            .filter(|i| precision[*i].is_some())
            .collect();
        let sd: Vec<f64> = used
            .iter()
            .map(|i| precision[*i].unwrap_or(1.0).powf(-0.5))
            .collect();
        let mut a = submatrix(&self.information.precision, &used, &used);
        let mut z = subvector(&self.information.eta, &used);
        for j in 0..used.len() {
            for i in 0..used.len() {
                a[(i, j)] *= sd[i] * sd[j];
            }
            a[(j, j)] += 1.0;
            z[j] *= sd[j];
        }
        let factor = Factor::new(a)?;
        factor.forward(&mut z);
        let penalties: f64 = factors.iter().map(|x| penalty(*x)).sum();
        Some(0.5 * z.norm_squared() - factor.half_ln_determinant() + penalties)
    }
}

fn penalty(factor: f64) -> f64 {
    -0.5 * (factor.ln() / PENALTY_SD).powi(2)
}

/// Posterior under the present factors.
struct Block(Posterior);

impl Block {
    fn places(&self, members: &[usize]) -> Vec<usize> {
        members.iter().filter_map(|i| self.0.place[*i]).collect()
    }

    /// Returns a factor of one group that gains enough, if there is one.
    fn better(&self, members: &[usize], sd: &[f64], now: f64, top: f64) -> Option<f64> {
        let places = self.places(members);
        let covariance = submatrix(&self.0.covariance, &places, &places);
        let inverse = Factor::new(covariance)?.inverse();
        let h = &inverse * subvector(&self.0.mean, &places);
        let mut information = inverse;
        for (k, sd) in sd.iter().enumerate() {
            information[(k, k)] -= (sd * now).powi(-2);
        }
        let evidence = |x: f64| group_evidence(&information, &h, sd, x);
        let present = evidence(now)?;
        let tried = GRID.into_iter().filter(|x| *x <= top);
        let (best, value) = tried
            .filter_map(|x| Some((x, evidence(x)?)))
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        (best != now && value > present + LEAST_GAIN).then_some(best)
    }

    /// Gives one group another factor: a step of rank k in the posterior (Woodbury).
    fn resize(&mut self, members: &[usize], sd: &[f64], from: f64, to: f64) -> Option<()> {
        let places = self.places(members);
        let k = places.len();
        let all: Vec<usize> = (0..self.0.used.len()).collect();
        let columns = submatrix(&self.0.covariance, &all, &places);
        let block = submatrix(&self.0.covariance, &places, &places);
        let change = DVector::from_fn(k, |i, _| (sd[i] * to).powi(-2) - (sd[i] * from).powi(-2));
        let mut inner = DMatrix::from_fn(k, k, |i, j| change[i] * block[(i, j)]);
        for i in 0..k {
            inner[(i, i)] += 1.0;
        }
        let gain = inner.lu().solve(&DMatrix::from_diagonal(&change))?;
        let mean = subvector(&self.0.mean, &places);
        let step = &columns * &gain;
        self.0.mean -= &step * mean;
        self.0
            .covariance
            .gemm(-1.0, &step, &columns.transpose(), 1.0);
        Some(())
    }
}

fn group_evidence(information: &DMatrix<f64>, h: &DVector<f64>, sd: &[f64], x: f64) -> Option<f64> {
    let n = sd.len();
    let mut a = DMatrix::from_fn(n, n, |i, j| information[(i, j)] * sd[i] * sd[j] * x * x);
    for k in 0..n {
        a[(k, k)] += 1.0;
    }
    let factor = Factor::new(a)?;
    let mut z = DVector::from_fn(n, |k, _| h[k] * sd[k] * x);
    factor.forward(&mut z);
    Some(0.5 * z.norm_squared() - factor.half_ln_determinant() + penalty(x))
}
