//! What should be found on a car.

use crate::case::Case;
use crate::claim::Claim;
use seep_report::conclusion::{FindingKind as K, Topic};
use seep_sample_logs::scenario::Fault;

/// A claim names a fault of the case at its place.
pub(crate) fn is_right(case: Case, faults: &[Fault], claim: &Claim) -> bool {
    let anywhere = matches!(case, Case::Supply | Case::Exhaust);
    kinds(case, faults).contains(&claim.kind)
        && (anywhere || faults.iter().any(|f| is_at(f, &claim.place)))
}

/// A fault of a cross leak is at either corner.
fn is_at(fault: &Fault, place: &str) -> bool {
    let named = |own: &str| !own.is_empty() && (own == place || place.contains(own));
    named(&fault.place) || named(&fault.other_place)
}

fn kinds(case: Case, faults: &[Fault]) -> &'static [K] {
    match case {
        Case::None => &[],
        Case::CornerLeak | Case::DumpValveLeak | Case::TwoLeaks | Case::Growing => &[K::CornerLeak],
        // A condition that is not told is no wrong place.
        Case::ColdLeak | Case::LowLeak | Case::SomeNights => &[K::IntermittentLeak, K::CornerLeak],
        Case::AfterDump => &[K::DumpValveNotReseating, K::CornerLeak, K::IntermittentLeak],
        Case::WhileDriving => &[K::CornerLeak, K::IntermittentLeak],
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
        Case::ZeroDrift if faults.iter().any(|f| f.place == "tank") => {
            &[K::SensorZeroDrift, K::PressureSwitchShift]
        }
        Case::ZeroDrift => &[K::SensorZeroDrift],
    }
}

/// The claim is about lost air.
pub(crate) fn is_of_air(claim: &Claim) -> bool {
    claim.kind.topic() == Topic::Air
}

/// What follows from any leak: a compressor that works more.
pub(crate) fn is_consequence(claim: &Claim) -> bool {
    matches!(claim.kind, K::DutyTooHigh | K::ThermalCutOut)
}
