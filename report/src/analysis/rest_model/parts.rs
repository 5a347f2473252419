//! One rest taken apart: what each cause adds to the change of air.

use serde::{Deserialize, Serialize};

/// Parts of one rest, each as a series over its means; they add up to
/// [`Self::observed`].
///
/// **Units**: ln of the amount of air, relative to the start of the rest: −0.01 is a
/// loss of 1 %. [`Self::mm_per_ln`] and [`Self::kpa_per_ln`] convert.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RestParts {
    /// Index into [`super::Car::rests`].
    pub rest: usize,
    /// Times, s of log time.
    pub t_s: Vec<f64>,
    /// `ln(p V / T)` of the readings, minus its start.
    pub observed: Vec<f64>,
    /// Leaks to the outside and transfers.
    pub leak: Vec<f64>,
    /// Heat: soak of drives, lag and gain of the thermometer, sun, time of day.
    pub heat: Vec<f64>,
    /// Creep, relaxation and stretch of the rubber.
    pub creep: Vec<f64>,
    /// Settling after the last own move.
    pub settling: Vec<f64>,
    /// Outside pressure, and temperature errors that all volumes share.
    pub weather: Vec<f64>,
    /// What is left: noise, counts, hysteresis, the rest's own drift.
    pub remainder: Vec<f64>,
    /// Fall of height per ln of air at steady load, mm; `None` without height.
    pub mm_per_ln: Option<f64>,
    /// Change of pressure per ln of air at constant volume, kPa.
    pub kpa_per_ln: f64,
}
