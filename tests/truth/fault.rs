//! A fault of a drawn place, size and history.

use crate::case::Case;
use seep_sample_logs::rng::Noise;
use seep_sample_logs::scenario::{Circuit, Fault, FaultKind, Law, Scenario, When};

/// The faults of a case. May fit the car with what the fault needs.
pub(crate) fn faults(case: Case, car: &mut Scenario, draw: &mut Noise) -> Vec<Fault> {
    let corner = (draw.uniform() * car.circuits.len() as f64) as usize;
    let place = car.circuits[corner].name.clone();
    if case == Case::None {
        return Vec::new();
    }
    if !(case.is_leak() || case == Case::WhileDriving) {
        return vec![wear(case, &place, car, draw)];
    }
    let mut faults = vec![leak(case, &place, car, draw)];
    if case == Case::TwoLeaks {
        let other = (corner + 1 + (draw.uniform() * 3.0) as usize) % car.circuits.len();
        let place = car.circuits[other].name.clone();
        faults.push(leak(case, &place, car, draw));
    }
    faults
}

/// Size between two bounds, evenly over its logarithm.
fn size(low: f64, high: f64, draw: &mut Noise) -> f64 {
    libm::exp(draw.between(libm::log(low), libm::log(high)))
}

fn kind_of(case: Case) -> FaultKind {
    match case {
        Case::AfterDump | Case::DumpValveLeak => FaultKind::DumpValveLeak,
        Case::FillPassing => FaultKind::FillValvePassing,
        Case::TankLeak => FaultKind::TankLeak,
        Case::CheckValve => FaultKind::CheckValveLeak,
        Case::CrossLeak => FaultKind::CrossLeak,
        _ => FaultKind::CornerLeak,
    }
}

/// Sizes from what needs a fortnight to what empties a corner within the hour.
fn leak(case: Case, place: &str, car: &Scenario, draw: &mut Noise) -> Fault {
    let kind = kind_of(case);
    // A larger volume has larger leaks.
    let large = match kind {
        FaultKind::TankLeak | FaultKind::CheckValveLeak => car.tank.volume_l / 19.0,
        _ => car.circuits[0].volume_l / 3.2,
    };
    let (low, high) = match case {
        Case::WhileDriving => (5.0, 80.0),
        Case::FillPassing => (0.5, 60.0),
        Case::CrossLeak => (2.0, 200.0),
        Case::TankLeak | Case::CheckValve => (1.0, 500.0),
        Case::CornerLeak | Case::DumpValveLeak => (0.3, 500.0),
        _ => (1.0, 200.0),
    };
    let mut fault = Fault::leak(kind, place, large * size(low, high, draw));
    fault.law = if draw.chance(0.4) {
        Law::Laminar
    } else {
        Law::Orifice
    };
    fault.b = draw.between(0.15, 0.55);
    develop(&mut fault, case, car, draw);
    if case == Case::CrossLeak {
        fault.other_place = mate(car, place);
    }
    if matches!(kind, FaultKind::TankLeak | FaultKind::CheckValveLeak) {
        fault.place = "tank".into();
    }
    fault
}

fn mate(car: &Scenario, place: &str) -> String {
    let own = car.circuits.iter().find(|c| c.name == place);
    let same = |c: &&Circuit| Some(&c.axle) == own.map(|o| &o.axle) && c.name != place;
    let mate = car.circuits.iter().find(same);
    mate.map_or_else(String::new, |c| c.name.clone())
}

fn develop(fault: &mut Fault, case: Case, car: &Scenario, draw: &mut Noise) {
    let hours = car.seconds() / 3600.0;
    match case {
        Case::ColdLeak => {
            fault.when = When::Cold;
            fault.below_c = car.surroundings.mean_c + draw.between(-2.0, 1.0);
        }
        Case::LowLeak => {
            fault.when = When::Low;
            fault.below_mm = draw.between(-30.0, -10.0);
        }
        Case::AfterDump => {
            fault.when = When::AfterDump;
            fault.chance = draw.between(0.5, 1.0);
        }
        Case::WhileDriving => fault.when = When::Driving,
        Case::SomeNights => {
            let days = hours / 24.0;
            let first = (draw.uniform() * days) as u32;
            let second = (draw.uniform() * days) as u32;
            let night = |day: u32| [f64::from(day) * 24.0 + 12.0, f64::from(day) * 24.0 + 27.0];
            fault.spans_h = vec![night(first), night(second)];
        }
        Case::Growing => {
            fault.from_h = 0.0;
            fault.full_h = hours;
        }
        _ => {}
    }
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
