//! Information of the parks about the global parameters: shared errors eliminated,
//! own freedom of a leak priced.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector};

use super::columns::SharedKey;
use super::gram::RestGram;
use super::linear::Factor;

/// Information of one park on the parameters that occur in it.
pub(super) struct ParkInformation {
    pub(super) index: Vec<usize>,
    pub(super) precision: DMatrix<f64>,
    /// Precision times the deviation from the prior means.
    pub(super) eta: DVector<f64>,
}

/// Information of all parks together.
pub(super) struct Information {
    pub(super) precision: DMatrix<f64>,
    pub(super) eta: DVector<f64>,
    /// Sums of the parks' diagonal entries and of their squares, for Kish's number of
    /// rests.
    weights: Vec<(f64, f64)>,
}

impl Information {
    /// Information of no park.
    pub(super) fn none(size: usize) -> Self {
        Self {
            precision: DMatrix::zeros(size, size),
            eta: DVector::zeros(size),
            weights: vec![(0.0, 0.0); size],
        }
    }

    pub(super) fn add(&mut self, park: &ParkInformation) {
        park.add_to(&mut self.precision, &mut self.eta, 1.0);
        for (k, i) in park.index.iter().enumerate() {
            let weight = park.precision[(k, k)];
            self.weights[*i].0 += weight;
            self.weights[*i].1 += weight * weight;
        }
    }

    /// Kish's effective number of parks behind one parameter, `(Σw)²/Σw²`.
    ///
    /// **Source**: Kish, *Survey Sampling*, 1965, §11.7 (from memory, unverified).
    pub(super) fn effective_parks(&self, parameter: usize) -> f64 {
        let (sum, squares) = self.weights[parameter];
        if sum > 0.0 { sum * sum / squares } else { 0.0 }
    }
}

impl ParkInformation {
    /// Adds up the rests of one park, each with the own freedom `ω` of its leak, and
    /// eliminates the shared errors (unit variance).
    pub(super) fn new(rests: &[(&RestGram, f64)]) -> Option<Self> {
        let mut index: Vec<usize> = rests
            .iter()
            .flat_map(|r| r.0.parameters.iter().copied())
            .collect();
        index.sort_unstable();
        index.dedup();
        let shared = shared_places(rests, index.len());
        let size = index.len() + shared.len();
        let mut a = DMatrix::zeros(size, size);
        let mut b = DVector::zeros(size);
        for (gram, omega) in rests {
            let places = places(gram, &index, &shared);
            add_rest(&mut a, &mut b, gram, *omega, &places);
        }
        eliminate_shared(a, b, index)
    }

    /// Adds `sign` times this park to matrices over all parameters.
    pub(super) fn add_to(&self, precision: &mut DMatrix<f64>, eta: &mut DVector<f64>, sign: f64) {
        for (k, i) in self.index.iter().enumerate() {
            eta[*i] += sign * self.eta[k];
            for (l, j) in self.index.iter().enumerate() {
                precision[(*j, *i)] += sign * self.precision[(l, k)];
            }
        }
    }
}

fn shared_places(rests: &[(&RestGram, f64)], from: usize) -> BTreeMap<SharedKey, usize> {
    let keys: std::collections::BTreeSet<SharedKey> = rests
        .iter()
        .flat_map(|r| r.0.shared.iter().copied())
        .collect();
    keys.into_iter()
        .enumerate()
        .map(|(k, key)| (key, from + k))
        .collect()
}

fn places(gram: &RestGram, index: &[usize], shared: &BTreeMap<SharedKey, usize>) -> Vec<usize> {
    let own = gram
        .parameters
        .iter()
        .map(|p| index.binary_search(p).unwrap_or_else(|missing| missing));
    own.chain(gram.shared.iter().map(|key| shared[key]))
        .collect()
}

/// Adds one rest. Own freedom ω of the leak adds `ω² l lᵀ` to the covariance, which is
/// a rank-one step in the Gram matrix (Sherman and Morrison).
fn add_rest(
    a: &mut DMatrix<f64>,
    b: &mut DVector<f64>,
    gram: &RestGram,
    omega: f64,
    places: &[usize],
) {
    let width = gram.width();
    let leak: Vec<f64> = (0..=width).map(|i| gram.at(i, gram.leak)).collect();
    let free = omega * omega / (1.0 + omega * omega * leak[gram.leak]);
    for i in 0..width {
        let row = gram.row(i);
        for j in 0..=i {
            let value = row[j] - free * leak[i] * leak[j];
            a[(places[i], places[j])] += value;
            if i != j {
                a[(places[j], places[i])] += value;
            }
        }
    }
    let reading = gram.row(width);
    for i in 0..width {
        b[places[i]] += reading[i] - free * leak[i] * leak[width];
    }
}

fn eliminate_shared(
    a: DMatrix<f64>,
    b: DVector<f64>,
    index: Vec<usize>,
) -> Option<ParkInformation> {
    let (n, size) = (index.len(), a.nrows());
    let s = size - n;
    let mut precision = a.view((0, 0), (n, n)).into_owned();
    let mut eta = b.rows(0, n).into_owned();
    if s > 0 {
        let mut p = a.view((n, n), (s, s)).into_owned();
        for k in 0..s {
            p[(k, k)] += 1.0;
        }
        let factor = Factor::new(p)?;
        let mut cross = DMatrix::zeros(n + 1, s);
        cross
            .view_mut((0, 0), (n, s))
            .copy_from(&a.view((0, n), (n, s)));
        for k in 0..s {
            cross[(n, k)] = b[n + k];
        }
        factor.whiten_rows(&mut cross);
        let left = cross.rows(0, n).into_owned();
        precision.gemm(-1.0, &left, &left.transpose(), 1.0);
        eta -= &left * cross.row(n).transpose();
    }
    Some(ParkInformation {
        index,
        precision,
        eta,
    })
}
