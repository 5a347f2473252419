//! Loss of every volume in every park, with the persistent errors known from all
//! other parks.

use nalgebra::{DMatrix, DVector};

use super::hypothesis::Hypothesis;
use super::information::{Information, ParkInformation};
use super::linear::{Factor, add_outer, block, submatrix, subvector};
use super::parameters::{Parameter, Parameters};
use super::plan::Plan;
use super::posterior::{Estimated, free_breadth, prior_precision};

const LEAST_INFORMATION: f64 = 1e-12;

/// Conductance of one volume in one park.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ParkLeak {
    pub(super) volume: usize,
    pub(super) estimated: Estimated,
}

/// What is fixed for the estimates of all parks.
pub(super) struct LeaveOneOut<'a> {
    plan: &'a Plan<'a>,
    /// Persistent errors, then leaks and named transfers.
    order: Vec<usize>,
    errors: usize,
    /// Place of each parameter in `order`.
    place: Vec<Option<usize>>,
    /// Information of all parks with the prior, in `order`.
    precision: DMatrix<f64>,
    eta: DVector<f64>,
    /// Named transfers with their pooled estimates.
    transfers: Vec<(usize, Estimated)>,
}

impl<'a> LeaveOneOut<'a> {
    /// Lays out the estimates; `information` `None` takes every park alone, with the
    /// persistent errors at their priors.
    pub(super) fn new(
        plan: &'a Plan<'a>,
        parameters: &Parameters,
        information: Option<&Information>,
        active: &[usize],
        transfers: Vec<(usize, Estimated)>,
    ) -> Self {
        let mut order: Vec<usize> = (0..parameters.len())
            .filter(|i| matches!(parameters.all[*i], Parameter::Error(_)))
            .collect();
        let errors = order.len();
        order.extend(plan.hypotheses.iter().enumerate().filter_map(|(i, h)| {
            let here = matches!(h, Hypothesis::Leak { .. });
            (here || transfers.iter().any(|t| t.0 == i)).then_some(i)
        }));
        let mut place = vec![None; parameters.len()];
        for (k, i) in order.iter().enumerate() {
            place[*i] = Some(k);
        }
        let prior = prior_precision(plan, parameters, active);
        let n = order.len();
        let (mut precision, eta) = match information {
            Some(all) => (
                submatrix(&all.precision, &order, &order),
                subvector(&all.eta, &order),
            ),
            None => (DMatrix::zeros(n, n), DVector::zeros(n)),
        };
        for (k, i) in order.iter().enumerate() {
            precision[(k, k)] += prior[*i].unwrap_or_default();
        }
        Self {
            plan,
            order,
            errors,
            place,
            precision,
            eta,
            transfers,
        }
    }

    /// Estimates one park. `with_freedom` is its part of the information of all, `None`
    /// where it stands alone; `own` the same park without the own freedom of its leaks.
    pub(super) fn park(
        &self,
        with_freedom: Option<&ParkInformation>,
        own: &ParkInformation,
    ) -> Option<Vec<ParkLeak>> {
        let mut a = self.precision.clone();
        let mut b = self.eta.clone();
        if let Some(park) = with_freedom {
            self.add(park, -1.0, &mut a, &mut b, self.order.len());
        }
        let (mut a, mut b) = self.without_other_leaks(a, b)?;
        self.add(own, 1.0, &mut a, &mut b, self.errors);
        let leaks: Vec<usize> = (0..own.index.len())
            .filter(|k| {
                let hypothesis = self.place[own.index[*k]].is_some_and(|p| p >= self.errors);
                hypothesis && own.precision[(*k, *k)] > LEAST_INFORMATION
            })
            .collect();
        if leaks.is_empty() {
            return Some(Vec::new());
        }
        self.estimate(own, &leaks, a, &b)
    }

    /// Adds a park to the first `size` parameters of the order, to the lower triangle.
    fn add(
        &self,
        park: &ParkInformation,
        sign: f64,
        a: &mut DMatrix<f64>,
        b: &mut DVector<f64>,
        size: usize,
    ) {
        let places: Vec<(usize, usize)> = (park.index.iter().enumerate())
            .filter_map(|(k, i)| Some((k, self.place[*i].filter(|p| *p < size)?)))
            .collect();
        for (k, p) in &places {
            b[*p] += sign * park.eta[*k];
            let own = park.precision.column(*k);
            for (l, q) in places.iter().filter(|(l, _)| l >= k) {
                a[(*p.max(q), *p.min(q))] += sign * own[*l];
            }
        }
    }

    /// Integrates the leaks of the other parks out.
    fn without_other_leaks(
        &self,
        a: DMatrix<f64>,
        b: DVector<f64>,
    ) -> Option<(DMatrix<f64>, DVector<f64>)> {
        let (n, size) = (self.errors, self.order.len());
        let factor = Factor::new(block(&a, n..size, n..size))?;
        let mut cross = DMatrix::zeros(n + 1, size - n);
        for k in 0..size - n {
            (0..n).for_each(|i| cross[(i, k)] = a[(n + k, i)]);
            cross[(n, k)] = b[n + k];
        }
        factor.whiten_rows(&mut cross);
        let left = block(&cross, 0..n, 0..size - n);
        let mut reduced = block(&a, 0..n, 0..n);
        add_outer(&mut reduced, 0, -1.0, &left);
        let eta = DVector::from_column_slice(&b.as_slice()[..n]) - &left * cross.row(n).transpose();
        Some((reduced, eta))
    }

    fn estimate(
        &self,
        own: &ParkInformation,
        leaks: &[usize],
        a: DMatrix<f64>,
        b: &DVector<f64>,
    ) -> Option<Vec<ParkLeak>> {
        let m = leaks.len();
        let mut cross = DMatrix::zeros(m + 1, self.errors);
        for (row, k) in leaks.iter().enumerate() {
            for (l, j) in own.index.iter().enumerate() {
                if let Some(q) = self.place[*j].filter(|p| *p < self.errors) {
                    cross[(row, q)] = own.precision[(l.max(*k), l.min(*k))];
                }
            }
        }
        cross.row_mut(m).copy_from(&b.transpose());
        Factor::new(a)?.whiten_rows(&mut cross);
        let full = &cross * cross.transpose();
        let free = free_breadth(self.plan).powi(-2);
        let mut precision = DMatrix::from_fn(m, m, |i, j| {
            own.precision[(leaks[i].max(leaks[j]), leaks[i].min(leaks[j]))] - full[(i, j)]
        });
        let mut eta = DVector::from_fn(m, |i, _| own.eta[leaks[i]] - full[(i, m)]);
        for (i, k) in leaks.iter().enumerate() {
            match self.transfers.iter().find(|t| t.0 == own.index[*k]) {
                Some((_, known)) => {
                    precision[(i, i)] += known.se.powi(-2);
                    eta[i] += known.c * known.se.powi(-2);
                }
                None => precision[(i, i)] += free,
            }
        }
        let covariance = Factor::new(precision)?.inverse();
        let mean = &covariance * eta;
        let found = leaks.iter().enumerate().filter_map(|(i, k)| {
            match self.plan.hypotheses[own.index[*k]] {
                Hypothesis::Leak { volume } => Some(ParkLeak {
                    volume,
                    estimated: Estimated {
                        c: mean[i],
                        se: covariance[(i, i)].sqrt(),
                    },
                }),
                _ => None,
            }
        });
        Some(found.collect())
    }
}
