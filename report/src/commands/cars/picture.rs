//! What each car loses overnight, all cars on one scale.

use super::judge::JudgedCar;
use crate::model::{IntervalPlot, IntervalRow, Plot, Unit};

/// One row per car in the order of the ranking; none where no car has a height.
pub(super) fn plot(cars: &[JudgedCar]) -> Option<Plot> {
    cars.iter().any(|c| c.overnight.value.is_some()).then(|| {
        Plot::Intervals(IntervalPlot {
            id: "overnight".into(),
            title: "Fall of height overnight".into(),
            caption: "Ten hours parked, by the air lost while parked: the corner in question of \
                      each car and its other corners, all cars on one scale."
                .into(),
            x_label: "fall in ten hours".into(),
            unit: Unit::Mm,
            rows: cars.iter().map(row).collect(),
        })
    })
}

fn row(car: &JudgedCar) -> IntervalRow {
    let word = car.report.verdict.severity.word();
    let own = &car.overnight;
    IntervalRow {
        label: car.report.made_from.vehicle.clone(),
        value: own.value,
        before: None,
        limit: None,
        others: own.others.clone(),
        remark: match &own.value {
            Some(_) => format!("{word}, {}", own.place).into(),
            None => format!("{word}, no height").into(),
        },
    }
}
