//! Information of the parks about the global parameters: shared errors eliminated,
//! own freedom of a leak priced.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector};

use super::columns::SharedKey;
use super::gram::RestGram;
use super::linear::{Factor, add_outer, block};

/// Information of one park on the parameters that occur in it.
pub(super) struct ParkInformation {
    /// Ascending.
    pub(super) index: Vec<usize>,
    /// Lower triangle; of what lies above not all is worked out.
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

    /// Adds a park, to the lower triangle.
    pub(super) fn add(&mut self, park: &ParkInformation) {
        for (k, i) in park.index.iter().enumerate() {
            self.eta[*i] += park.eta[k];
            let (own, mut all) = (park.precision.column(k), self.precision.column_mut(*i));
            for (value, j) in own.iter().zip(&park.index).skip(k) {
                all[*j] += value;
            }
            let weight = own[k];
            self.weights[*i].0 += weight;
            self.weights[*i].1 += weight * weight;
        }
    }

    /// Fills the upper triangle, once all parks are added.
    pub(super) fn complete(mut self) -> Self {
        self.precision.fill_upper_triangle_with_lower_triangle();
        self
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
        let shared = shared_places(rests);
        let mut sums = Sums::new(index.len(), shared.len());
        for (gram, omega) in rests {
            sums.add(gram, *omega, &places(gram, &index, &shared));
        }
        sums.eliminate_shared(index)
    }
}

fn shared_places(rests: &[(&RestGram, f64)]) -> BTreeMap<SharedKey, usize> {
    let keys: std::collections::BTreeSet<SharedKey> = rests
        .iter()
        .flat_map(|r| r.0.shared.iter().copied())
        .collect();
    keys.into_iter()
        .enumerate()
        .map(|(k, key)| (key, k))
        .collect()
}

/// Places of a rest's parameters among those of its park, then of its shared errors among
/// the park's.
fn places(gram: &RestGram, index: &[usize], shared: &BTreeMap<SharedKey, usize>) -> Vec<usize> {
    let own = gram
        .parameters
        .iter()
        .map(|p| index.binary_search(p).unwrap_or_else(|missing| missing));
    own.chain(gram.shared.iter().map(|key| shared[key]))
        .collect()
}

/// Sums over the rests of one park. Of symmetric matrices the lower triangles.
struct Sums {
    precision: DMatrix<f64>,
    eta: DVector<f64>,
    /// Parameters, and the readings as the last row, by shared errors.
    cross: DMatrix<f64>,
    shared: DMatrix<f64>,
}

impl Sums {
    fn new(parameters: usize, shared: usize) -> Self {
        Self {
            precision: DMatrix::zeros(parameters, parameters),
            eta: DVector::zeros(parameters),
            cross: DMatrix::zeros(parameters + 1, shared),
            shared: DMatrix::zeros(shared, shared),
        }
    }

    /// Adds one rest. Own freedom ω of the leak adds `ω² l lᵀ` to the covariance, which is
    /// a rank-one step in the Gram matrix (Sherman and Morrison).
    fn add(&mut self, gram: &RestGram, omega: f64, places: &[usize]) {
        let (width, own) = (gram.width(), gram.parameters.len());
        let leak: Vec<f64> = (0..=width).map(|i| gram.at(i, gram.leak)).collect();
        let free = omega * omega / (1.0 + omega * omega * leak[gram.leak]);
        let n = self.eta.len();
        for i in 0..own {
            let (row, by_leak) = (gram.row(i), free * leak[i]);
            for j in 0..=i {
                let at = (places[i].max(places[j]), places[i].min(places[j]));
                self.precision[at] += row[j] - by_leak * leak[j];
            }
        }
        for i in own..width {
            let (row, by_leak) = (gram.row(i), free * leak[i]);
            let mut column = self.cross.column_mut(places[i]);
            for j in 0..own {
                column[places[j]] += row[j] - by_leak * leak[j];
            }
            for j in own..=i {
                let at = (places[i].max(places[j]), places[i].min(places[j]));
                self.shared[at] += row[j] - by_leak * leak[j];
            }
        }
        let reading = gram.row(width);
        let value = |i: usize| reading[i] - free * leak[i] * leak[width];
        (0..own).for_each(|i| self.eta[places[i]] += value(i));
        (own..width).for_each(|i| self.cross[(n, places[i])] += value(i));
    }

    /// Eliminates the shared errors (unit variance).
    fn eliminate_shared(mut self, index: Vec<usize>) -> Option<ParkInformation> {
        let (n, s) = (index.len(), self.shared.nrows());
        if s > 0 {
            (0..s).for_each(|k| self.shared[(k, k)] += 1.0);
            Factor::new(self.shared)?.whiten_rows(&mut self.cross);
            let left = block(&self.cross, 0..n, 0..s);
            add_outer(&mut self.precision, 0, -1.0, &left);
            self.eta -= &left * self.cross.row(n).transpose();
        }
        Some(ParkInformation {
            index,
            precision: self.precision,
            eta: self.eta,
        })
    }
}
