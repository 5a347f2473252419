//! What should be found on a car, and whether its log can show it.

use crate::car::Car;
use crate::case::Case;
use crate::claim::{Claim, Condition};
use crate::leak_limit::{self, LimitPoint};
use crate::path::Judged;
use seep_report::model::FindingKind;
use seep_sample_logs::truth::{Move, Truth};

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
}

/// A path that is left with more than this is not slow, as a share of its start.
const SLOW_SHARE: f64 = 0.8;

/// Valves later than this are late, ms.
const LATE_MS: f64 = 60.0;

/// A thermal stop this far below the cut-out is an early one, kPa.
const EARLY_KPA: f64 = 30.0;

/// Drift of a sensor over the log that can be told, kPa.
const DRIFT_KPA: f64 = 15.0;

/// What should be found on a car with a fault.
pub(crate) fn expected(car: &Car, judged: &Judged, truth: &Truth) -> Option<Expected> {
    let fault = car.scenario.faults.first()?;
    let place = truth.place.clone();
    let said = |detectable: bool, remark: String| Expected {
        place: place.clone(),
        detectable,
        remark,
        limit: None,
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
            }
        }
        // Nothing rests while it leaks: told by the ledger alone, and not claimed.
        Case::WhileDriving => said(false, "at rest it is tight".into()),
        Case::Line | Case::FillSlow | Case::DumpSlow | Case::Supply | Case::Exhaust => {
            let share = worst_share(car.case, &place, fault.full_h, truth);
            said(share < SLOW_SHARE, format!("{:.0} % left", 100.0 * share))
        }
        Case::Late => {
            let lag = car.scenario.circuits.iter().find(|c| c.name == place);
            let later = lag.map_or(0.0, |c| c.valve_lag_ms) * (fault.factor - 1.0);
            said(later > LATE_MS, format!("{later:.0} ms later"))
        }
        Case::Wear => {
            let runs = truth.runs.len();
            let left = fault.factor;
            said(
                left < SLOW_SHARE && runs >= 8,
                format!("{:.0} % left, {runs} runs", 100.0 * left),
            )
        }
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
            // Told by the partner on the axle at known heights, or by the cut-out.
            let circuits = car.scenario.circuits.len();
            let can = place == "tank" || (circuits > 2 && car.scenario.watch.heights);
            said(can && kpa.abs() > DRIFT_KPA, format!("{kpa:.0} kPa"))
        }
        _ => said(false, String::new()),
    })
}

/// Share of its first conductance the slowest path of the fault is left with.
fn worst_share(case: Case, place: &str, full_h: f64, truth: &Truth) -> f64 {
    let own = |valve: &'static str| -> Vec<&Move> {
        let at = |m: &&Move| m.circuit == place || place == "manifold";
        truth
            .moves
            .iter()
            .filter(at)
            .filter(|m| m.valve == valve)
            .collect()
    };
    let share = |valve| {
        let moves = own(valve);
        let third = moves.len() / 3;
        if third < 2 {
            return 1.0;
        }
        let median = |part: &[&Move]| {
            let mut c: Vec<f64> = part.iter().map(|m| m.path_c_l_s_bar).collect();
            c.sort_by(f64::total_cmp);
            c[c.len() / 2]
        };
        if full_h == 0.0 {
            let sound = truth.parameters.circuits.get(place);
            let sound = sound.map_or(1.0, |p| {
                if valve == "fill" {
                    p.fill_c_l_s_bar
                } else {
                    p.dump_c_l_s_bar
                }
            });
            // Against the other corner of the axle a larger step is needed.
            return 1.25 * median(&moves) / sound;
        }
        median(&moves[moves.len() - third..]) / median(&moves[..third])
    };
    match case {
        Case::FillSlow | Case::Supply => share("fill"),
        Case::DumpSlow | Case::Exhaust => share("dump"),
        _ => share("fill").max(share("dump")),
    }
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
