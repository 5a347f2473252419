//! What should be found on a car, and whether its log can show it.

use crate::car::Car;
use crate::case::Case;
use crate::claim::{Claim, Condition};
use crate::leak_limit::{self, LimitPoint};
use crate::path::Judged;
use crate::size_limit::{self, Size};
use seep_report::model::FindingKind;
use seep_sample_logs::truth::Truth;

/// What should be found.
#[derive(Debug, Clone)]
pub(crate) struct Expected {
    /// Circuit, `tank` or compressor.
    pub place: String,
    /// The fault is above what the log can show.
    pub detectable: bool,
    /// Why it is not, or how large it is.
    pub remark: String,
    /// For a leak: its size against the limit claimed.
    pub limit: Option<LimitPoint>,
    /// For a slow path, late valves or wear: the same.
    pub size: Option<Size>,
}

/// A thermal stop this far below the cut-out is an early one, kPa.
const EARLY_KPA: f64 = 30.0;

/// What should be found on a car with a fault.
pub(crate) fn expected(car: &Car, judged: &Judged, truth: &Truth) -> Option<Expected> {
    let fault = car.scenario.faults.first()?;
    let place = truth.place.clone();
    let said = |detectable: bool, remark: String| Expected {
        place: place.clone(),
        detectable,
        remark,
        limit: None,
        size: None,
    };
    let sized = |size: Size, unit: &str| Expected {
        size: Some(size),
        ..said(size.ratio() >= 1.0, size.words(unit))
    };
    Some(match car.case {
        Case::None => return None,
        case if case.is_leak() => {
            let limit = leak_limit::point(case, &place, judged, truth);
            let detectable = limit.is_some_and(|l| l.ratio() >= 1.0 && l.two_sided && l.enough);
            Expected {
                place: place.clone(),
                detectable,
                remark: limit.map_or("no rest".into(), |l| l.words()),
                limit,
                size: None,
            }
        }
        // Nothing rests while it leaks: told by the ledger alone, and not claimed.
        Case::WhileDriving => said(false, "at rest it is tight".into()),
        Case::Line | Case::FillSlow | Case::DumpSlow | Case::Supply | Case::Exhaust => {
            let size = size_limit::path(car.case, &place, fault, &car.scenario, judged, truth)?;
            sized(size, "% lost")
        }
        Case::Late => sized(size_limit::late(&place, judged, truth), "ms later"),
        Case::Wear => sized(size_limit::wear(&place, judged, truth), "% lost"),
        Case::Overheats => {
            // One that stops just below the cut-out anyway shows nothing.
            let seen_below = car.scenario.controller.cut_out_kpa_gauge - EARLY_KPA;
            let early = |r: &&seep_sample_logs::truth::Run| {
                r.ended_by == "thermal" && r.to_kpa_gauge < seen_below
            };
            let trips = truth.runs.iter().filter(early).count();
            said(trips >= 2, format!("cut out {trips} times"))
        }
        Case::ZeroDrift => {
            let hours = car.scenario.seconds() / 3600.0 - fault.from_h;
            let kpa = fault.kpa_per_day * hours / 24.0;
            sized(size_limit::drift(&place, kpa, judged), "kPa")
        }
        _ => said(false, String::new()),
    })
}

/// A claim names the fault of the case at its place.
pub(crate) fn is_right(case: Case, expected: &Expected, claim: &Claim) -> bool {
    use FindingKind as K;
    let kinds: &[K] = match case {
        Case::None => &[],
        Case::CornerLeak | Case::DumpValveLeak => &[K::CornerLeak, K::DumpValvePassing],
        Case::ColdLeak => &[K::IntermittentLeak, K::CornerLeak],
        Case::AfterDump => &[K::DumpValveNotReseating, K::CornerLeak, K::IntermittentLeak],
        Case::WhileDriving => &[K::UnexplainedAir, K::CornerLeak, K::IntermittentLeak],
        Case::FillPassing => &[K::FillValvePassing],
        Case::TankLeak | Case::CheckValve => &[K::TankLeak],
        Case::CrossLeak => &[K::CrossLeak],
        Case::Line => &[K::LineRestricted],
        Case::FillSlow => &[K::FillSlow],
        Case::DumpSlow => &[K::DumpSlow],
        Case::Late => &[K::ValveLagGrowing],
        Case::Supply => &[K::SupplyRestricted],
        Case::Exhaust => &[K::ExhaustRestricted],
        Case::Wear => &[K::CompressorWear],
        Case::Overheats => &[K::ThermalCutOut],
        // To the tank, a moved switch and a drifting sensor are one until a gauge is held to it.
        Case::ZeroDrift if expected.place == "tank" => {
            &[K::SensorZeroDrift, K::PressureSwitchShift]
        }
        Case::ZeroDrift => &[K::SensorZeroDrift],
    };
    let anywhere = matches!(case, Case::Supply | Case::Exhaust | Case::CrossLeak);
    kinds.contains(&claim.kind) && (anywhere || claim.place == expected.place)
}

/// The condition a conditional leak is to be named with.
pub(crate) fn condition(case: Case) -> Option<Condition> {
    match case {
        Case::ColdLeak => Some(Condition::Cold),
        Case::AfterDump => Some(Condition::AfterDump),
        _ => None,
    }
}
