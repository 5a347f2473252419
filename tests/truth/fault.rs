//! A fault of a drawn place, size and history.

use crate::case::Case;
use seep_sample_logs::rng::Noise;
use seep_sample_logs::scenario::{Fault, FaultKind, Law, Scenario, When};

/// The faults of a case: none or one. May fit the car with what the fault needs.
pub(crate) fn faults(case: Case, car: &mut Scenario, draw: &mut Noise) -> Vec<Fault> {
    let corner = (draw.uniform() * car.circuits.len() as f64) as usize;
    let place = car.circuits[corner].name.clone();
    let fault = match case {
        Case::None => return Vec::new(),
        Case::CornerLeak
        | Case::ColdLeak
        | Case::AfterDump
        | Case::WhileDriving
        | Case::DumpValveLeak
        | Case::FillPassing
        | Case::TankLeak
        | Case::CheckValve
        | Case::CrossLeak => leak(case, &place, car, draw),
        _ => wear(case, &place, car, draw),
    };
    vec![fault]
}

/// Size between two bounds, evenly over its logarithm.
fn size(low: f64, high: f64, draw: &mut Noise) -> f64 {
    libm::exp(draw.between(libm::log(low), libm::log(high)))
}

fn leak(case: Case, place: &str, car: &Scenario, draw: &mut Noise) -> Fault {
    let kind = match case {
        Case::AfterDump | Case::DumpValveLeak => FaultKind::DumpValveLeak,
        Case::FillPassing => FaultKind::FillValvePassing,
        Case::TankLeak => FaultKind::TankLeak,
        Case::CheckValve => FaultKind::CheckValveLeak,
        Case::CrossLeak => FaultKind::CrossLeak,
        _ => FaultKind::CornerLeak,
    };
    // A larger volume has larger leaks.
    let large = match kind {
        FaultKind::TankLeak | FaultKind::CheckValveLeak => car.tank.volume_l / 19.0,
        _ => car.circuits[0].volume_l / 3.2,
    };
    let anr_cm3_min = large
        * match case {
            Case::CornerLeak | Case::DumpValveLeak => size(0.05, 12.0, draw),
            Case::ColdLeak | Case::AfterDump => size(0.5, 12.0, draw),
            Case::WhileDriving => size(5.0, 80.0, draw),
            Case::FillPassing => size(0.1, 8.0, draw),
            Case::CrossLeak => size(1.0, 60.0, draw),
            _ => size(0.3, 30.0, draw),
        };
    let mut fault = Fault::leak(kind, place, anr_cm3_min);
    if draw.chance(0.4) {
        fault.law = Law::Laminar;
    }
    match case {
        Case::ColdLeak => {
            fault.when = When::Cold;
            fault.below_c = car.surroundings.mean_c;
        }
        Case::AfterDump => {
            fault.when = When::AfterDump;
            fault.chance = draw.between(0.5, 1.0);
        }
        Case::WhileDriving => fault.when = When::Driving,
        Case::CrossLeak => {
            let axle = |name: &str| {
                let own = car.circuits.iter().find(|c| c.name == name);
                own.map(|c| c.axle.clone())
            };
            let mates = car.circuits.iter().filter(|c| c.name != place);
            let mate = mates.clone().find(|c| Some(c.axle.clone()) == axle(place));
            fault.other_place = mate.map_or_else(String::new, |c| c.name.clone());
        }
        _ => {}
    }
    if matches!(kind, FaultKind::TankLeak | FaultKind::CheckValveLeak) {
        fault.place = "tank".into();
    }
    fault
}

fn wear(case: Case, place: &str, car: &mut Scenario, draw: &mut Noise) -> Fault {
    let hours = car.seconds() / 3600.0;
    let (kind, low, high) = match case {
        Case::Line => (FaultKind::LineRestricted, 0.15, 0.4),
        Case::FillSlow => (FaultKind::FillValveSlow, 0.2, 0.7),
        Case::DumpSlow => (FaultKind::DumpValveSlow, 0.2, 0.7),
        Case::Late => (FaultKind::ValvesLate, 2.5, 6.0),
        Case::Supply => (FaultKind::SupplyRestricted, 0.05, 0.12),
        Case::Exhaust => (FaultKind::ExhaustRestricted, 0.05, 0.12),
        Case::Wear => (FaultKind::CompressorWorn, 0.4, 0.8),
        Case::Overheats => (FaultKind::CompressorOverheats, 0.05, 0.2),
        _ => (FaultKind::SensorZeroDrift, 1.0, 1.0),
    };
    let mut fault = Fault::leaving(kind, place, size(low, high, draw));
    fault.from_h = hours * draw.between(0.1, 0.4);
    fault.full_h = fault.from_h + hours * draw.between(0.0, 0.4);
    match case {
        Case::Supply | Case::Exhaust => fault.place = String::new(),
        Case::Wear => fault.place.clone_from(&car.compressors[0].name),
        Case::Overheats => {
            fault.place.clone_from(&car.compressors[0].name);
            for c in &mut car.compressors {
                // A small motor in the wind: sound, it stays below its switch
                // through a refill; covered with dirt, it does not.
                (c.motor_j_k, c.cooling_s, c.loss_w) = (400.0, 150.0, 380.0);
                c.trip_c = 105.0;
            }
        }
        Case::ZeroDrift => {
            if draw.chance(0.4) {
                fault.place = "tank".into();
            }
            let sign = if draw.chance(0.5) { 1.0 } else { -1.0 };
            fault.kpa_per_day = sign * size(1.0, 8.0, draw);
        }
        // Slow from the very start: only the other corner of the axle tells.
        Case::Line | Case::FillSlow | Case::DumpSlow if draw.chance(0.25) => {
            (fault.from_h, fault.full_h) = (0.0, 0.0);
        }
        _ => {}
    }
    fault
}
