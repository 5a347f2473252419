//! Global parameters: conductances of the hypotheses and persistent errors.

use std::collections::HashMap;

use super::columns::{Columns, ErrorKey, Family, Target};
use super::hypothesis::Hypothesis;
use super::plan::Plan;

/// What a global parameter is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Parameter {
    Hypothesis(usize),
    Error(ErrorKey),
}

/// All global parameters of a car: hypotheses first, in their order, then errors.
pub(super) struct Parameters {
    pub(super) all: Vec<Parameter>,
    /// Prior mean; 0 but for the gain of a bag without height.
    pub(super) mean: Vec<f64>,
    /// Prior standard deviation at size 1; of a leak that of natural permeation, of
    /// any other hypothesis infinite (never used unasked).
    pub(super) usual_sd: Vec<f64>,
    /// The same at the learnt size.
    pub(super) sd: Vec<f64>,
    index: HashMap<ErrorKey, usize>,
}

impl Parameters {
    pub(super) fn new(plan: &Plan<'_>) -> Self {
        let mut parameters = Self {
            all: Vec::new(),
            mean: Vec::new(),
            usual_sd: Vec::new(),
            sd: Vec::new(),
            index: HashMap::new(),
        };
        for (i, hypothesis) in plan.hypotheses.iter().enumerate() {
            let sd = match hypothesis {
                Hypothesis::Leak { volume } => plan.seep(*volume),
                _ => f64::INFINITY,
            };
            parameters.push(Parameter::Hypothesis(i), 0.0, sd);
        }
        parameters
    }

    fn push(&mut self, parameter: Parameter, mean: f64, sd: f64) -> usize {
        self.all.push(parameter);
        self.mean.push(mean);
        self.usual_sd.push(sd);
        self.sd.push(sd);
        self.all.len() - 1
    }

    pub(super) fn len(&self) -> usize {
        self.all.len()
    }

    /// Registers the columns of one rest; returns their indices.
    pub(super) fn register(&mut self, targets: &[Target]) -> Vec<usize> {
        targets
            .iter()
            .map(|target| match *target {
                Target::Hypothesis(i) => i,
                Target::Error { key, mean, sd } => match self.index.get(&key) {
                    Some(i) => *i,
                    None => {
                        let i = self.push(Parameter::Error(key), mean, sd);
                        self.index.insert(key, i);
                        i
                    }
                },
            })
            .collect()
    }

    /// Returns the persistent errors by family and owner: the groups that share one
    /// learnt size.
    pub(super) fn groups(&self) -> Vec<Group> {
        let mut groups: Vec<Group> = Vec::new();
        for (i, parameter) in self.all.iter().enumerate() {
            let Parameter::Error(key) = parameter else {
                continue;
            };
            let same = |g: &&mut Group| g.family == key.family && g.owner == key.owner;
            match groups.iter_mut().find(same) {
                Some(group) => group.members.push(i),
                None => groups.push(Group {
                    family: key.family,
                    owner: key.owner,
                    members: vec![i],
                }),
            }
        }
        groups
    }
}

/// Persistent errors of one family and owner.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Group {
    pub(super) family: Family,
    pub(super) owner: super::columns::Owner,
    pub(super) members: Vec<usize>,
}

/// Targets of the columns of a rest.
pub(super) fn targets(columns: &Columns<'_>) -> Vec<Target> {
    columns.persistent.iter().map(|c| c.0).collect()
}
