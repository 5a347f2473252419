//! Which fault was named first for which.

use crate::case::Case;
use crate::score::Scored;
use seep_report::model::FindingKind;
use std::collections::BTreeMap;

/// Confusion matrix: case against the kind named first.
#[derive(Debug, Default)]
pub(crate) struct Matrix {
    rows: BTreeMap<Case, BTreeMap<Option<FindingKind>, u32>>,
}

impl Matrix {
    /// Of cars whose log can show their fault, and of healthy ones.
    pub(crate) fn of(cars: &[Scored]) -> Self {
        let mut matrix = Matrix::default();
        let counted = |c: &&Scored| c.detectable() || c.car.case == Case::None;
        for car in cars.iter().filter(counted) {
            let first = car.claims.first().map(|c| c.kind);
            let row = matrix.rows.entry(car.car.case).or_default();
            *row.entry(first).or_default() += 1;
        }
        matrix
    }

    /// One line per case.
    pub(crate) fn lines(&self) -> Vec<String> {
        let word = |kind: &Option<FindingKind>| kind.map_or("nothing", FindingKind::name);
        self.rows
            .iter()
            .map(|(case, row)| {
                let mut cells: Vec<_> = row.iter().collect();
                cells.sort_by_key(|c| std::cmp::Reverse(*c.1));
                let cells: Vec<String> = cells
                    .iter()
                    .map(|(kind, n)| format!("{} {n}", word(kind)))
                    .collect();
                format!(
                    "{case:<22} {:>3}   {}",
                    row.values().sum::<u32>(),
                    cells.join(", ")
                )
            })
            .collect()
    }
}
