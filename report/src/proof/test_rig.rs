//! Whether the sensors are good enough to certify a hold: resolution and accuracy
//! against what the hold allows.
//!
//! **Source**: ASTM E2930-13 (2021), *Standard Practice for Pressure Decay Leak Test
//! Method*, significance and use, 5.1, by its public abstract: a test that certifies a
//! leakage rate needs a resolution ten times and an accuracy four times finer than the
//! specification, and a change of pressure below 10 % of the starting pressure. Its
//! annexes (how resolution and accuracy are combined) were not at hand: *unverified*.

use super::{LimitPlan, PlannedHold};
use crate::analysis::rest_model::{Car, ModelRest, Thermometer};
use crate::analysis::stats::median;
use crate::digest::Digest;
use crate::findings::place_words;
use crate::judgement::Judgement;
use crate::recording::Recording;
use seep_common::channel::{ChannelName, Quantity};

/// Allowed change over the resolution, at least.
pub const RESOLUTION_RATIO: f64 = 10.0;

/// Allowed change over the accuracy, at least.
pub const ACCURACY_RATIO: f64 = 4.0;

/// Change of pressure over the starting pressure, at most.
const LARGEST_CHANGE: f64 = 0.1;

/// One hold at one place, measured by the rule.
///
/// **Units**: mm where the hold limits the height, else kPa at constant volume.
#[derive(Debug, Clone, PartialEq)]
pub struct TestRig {
    /// Circuit or `tank`.
    pub place: String,
    /// The hold.
    pub hold: PlannedHold,
    /// Change that the hold allows.
    pub allowed: f64,
    /// Smallest change that one count of each sensor makes; `None` without a rest to
    /// see the counts in.
    pub resolution: Option<f64>,
    /// Half the 95 % interval of the change over the hold; `None` without an estimate.
    pub accuracy: Option<f64>,
    /// What keeps it outside the practice, or limits what is said.
    pub remarks: Vec<String>,
}

impl TestRig {
    /// Returns allowed change over resolution.
    #[must_use]
    pub fn resolution_ratio(&self) -> Option<f64> {
        self.resolution.map(|r| self.allowed / r)
    }

    /// Returns allowed change over accuracy.
    #[must_use]
    pub fn accuracy_ratio(&self) -> Option<f64> {
        self.accuracy.map(|a| self.allowed / a)
    }
}

/// Measures every hold of a plan by the rule.
#[must_use]
pub fn test_rigs(
    plan: &LimitPlan,
    recording: &Recording,
    digest: &Digest,
    judgement: &Judgement,
) -> Vec<TestRig> {
    let circuits: Vec<String> = recording
        .rig
        .circuits
        .iter()
        .map(|c| c.name.clone())
        .collect();
    let of = |hold: &PlannedHold| -> Vec<TestRig> {
        super::places(&hold.place, circuits.clone())
            .into_iter()
            .map(|place| test_rig(hold, place, recording, digest, judgement))
            .collect()
    };
    plan.hold.iter().flat_map(of).collect()
}

fn test_rig(
    hold: &PlannedHold,
    place: String,
    recording: &Recording,
    digest: &Digest,
    judgement: &Judgement,
) -> TestRig {
    let by_height = hold.within_mm.is_some();
    let car = &digest.reduced.car;
    let leak = judgement.leaks.iter().find(|l| l.place == place);
    let change = leak.and_then(|l| super::hold::change(l, hold.hours, by_height));
    let resolution = volume_of(car, &place).and_then(|v| {
        let step_k = temperature_step_k(recording, &place, &car.volumes[v].thermometer);
        resolution(car, v, step_k, by_height)
    });
    let allowed = hold.within_mm.or(hold.within_kpa).unwrap_or(f64::NAN);
    TestRig {
        remarks: remarks(hold, &place, car, allowed),
        place,
        hold: hold.clone(),
        allowed,
        resolution,
        accuracy: change.map(|c| {
            let (low, high) = c.interval_95();
            (high - low) / 2.0
        }),
    }
}

fn volume_of(car: &Car, place: &str) -> Option<usize> {
    car.volumes.iter().position(|v| v.name == place)
}

/// Change that one count of pressure, height and temperature makes, added up: a slow
/// change may hide behind all three at once.
///
/// Equation: `(Δp/p + Δh·V'/V + ΔT/T)` as kPa at constant volume or mm at constant load.
fn resolution(car: &Car, volume: usize, step_k: f64, by_height: bool) -> Option<f64> {
    let rests = || car.rests.iter().filter(move |r| r.volume == volume);
    let ln_of = |r: &ModelRest| Some(median(&r.ln_count)? + step_k / r.kelvin.first()?);
    let in_unit = |r: &ModelRest| {
        let ln = ln_of(r)?;
        if by_height {
            let slope = r.slope_l_per_mm.first().filter(|s| **s > 0.0)?;
            Some(ln * r.volume_l.first()? / slope)
        } else {
            Some(ln * r.kpa_abs.first()?)
        }
    };
    median(&rests().filter_map(in_unit).collect::<Vec<f64>>())
}

/// Stored step of the thermometer of a volume, K; 0 without one, which is remarked.
fn temperature_step_k(recording: &Recording, place: &str, thermometer: &Thermometer) -> f64 {
    let is_it = |name: &ChannelName| match thermometer {
        Thermometer::Own => name.place == place,
        Thermometer::Far(far) if far == "ambient" || far == "tank" => name.place == *far,
        Thermometer::Far(_) => name.place != "ambient" && name.place != "tank",
        Thermometer::None => false,
    };
    let steps = recording.channels.iter().filter_map(|c| {
        let name = ChannelName::parse(&c.name).ok()?;
        (name.quantity == Quantity::Temperature && is_it(&name)).then_some(c.resolution)
    });
    steps.fold(0.0, f64::max)
}

fn remarks(hold: &PlannedHold, place: &str, car: &Car, allowed: f64) -> Vec<String> {
    let mut out = Vec::new();
    if place != "tank" {
        out.push("an air spring deforms: outside the practice, its rule is borrowed".into());
    }
    let Some(volume) = volume_of(car, place) else {
        out.push("no pressure is recorded".into());
        return out;
    };
    if car.volumes[volume].thermometer == Thermometer::None {
        out.push("no thermometer: the practice asks for one".into());
    }
    let start = car.rests.iter().find(|r| r.volume == volume);
    let start = start.and_then(|r| r.kpa_abs.first());
    if hold.within_kpa.is_some() && start.is_some_and(|p| allowed >= LARGEST_CHANGE * p) {
        out.push("the limit is over 10 % of the starting pressure".into());
    }
    if hold.within_mm.is_some() && !car.volumes[volume].has_height {
        out.push(format!("no height is recorded at {}", place_words(place)));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::rest_model::Volume;

    fn car(ln_count: f64, slope: Vec<f64>) -> Car {
        let zeros = || vec![0.0; 2];
        Car {
            volumes: vec![Volume {
                name: "rear_left".into(),
                is_tank: false,
                axle: None,
                thermometer: Thermometer::None,
                has_height: !slope.is_empty(),
                fed_by_tank: true,
                volume_uncertainty: 0.05,
                refilled_below_kpa_gauge: None,
                by_hand: false,
            }],
            rests: vec![ModelRest {
                volume: 0,
                park: 0,
                start_s: 0.0,
                end_s: 3600.0,
                t_s: vec![0.0, 3600.0],
                kpa_abs: vec![800.0, 800.0],
                outside_kpa_abs: vec![100.0; 2],
                gauge: true,
                volume_l: vec![4.0; 2],
                height_mm: if slope.is_empty() {
                    Vec::new()
                } else {
                    zeros()
                },
                slope_l_per_mm: slope,
                kelvin: vec![300.0; 2],
                ln_variance: zeros(),
                ln_count: vec![ln_count; 2],
                noise_per_count: 1.0,
                reading_sd_kpa: 1.0,
                lag_k: Vec::new(),
                other_k: Vec::new(),
                soak: Vec::new(),
                creep: Vec::new(),
                others_kpa_abs: vec![None],
                last_move: None,
                levelled_s: None,
                longest_silence_s: 60.0,
                barometer_silence_s: None,
            }],
            outside_c: Vec::new(),
            notes_s: Vec::new(),
        }
    }

    /// By hand: a count of 0.8 kPa at 800 kPa is 0.1 %; 0.3 K at 300 K is another 0.1 %.
    /// Together 1.6 kPa at constant volume; in a bag of 4 L that grows by 0.01 L/mm,
    /// 0.2 % is 0.8 mm.
    #[test]
    fn counts_of_pressure_and_temperature_add_up() {
        let kpa = resolution(&car(0.001, Vec::new()), 0, 0.3, false).expect("a rest");
        assert!((kpa - 1.6).abs() < 1e-9, "{kpa}");
        let mm = resolution(&car(0.001, vec![0.01; 2]), 0, 0.3, true).expect("a rest");
        assert!((mm - 0.8).abs() < 1e-9, "{mm}");
        assert_eq!(resolution(&car(0.001, Vec::new()), 0, 0.3, true), None);
    }

    /// Limit of the practice: exactly ten counts and four half intervals are enough.
    #[test]
    fn the_ratios_are_of_the_allowed_change() {
        let rig = TestRig {
            place: "tank".into(),
            hold: PlannedHold {
                place: "tank".into(),
                hours: 12.0,
                within_mm: None,
                within_kpa: Some(20.0),
            },
            allowed: 20.0,
            resolution: Some(2.0),
            accuracy: Some(5.0),
            remarks: Vec::new(),
        };
        assert_eq!(rig.resolution_ratio(), Some(RESOLUTION_RATIO));
        assert_eq!(rig.accuracy_ratio(), Some(ACCURACY_RATIO));
    }

    #[test]
    fn what_lies_outside_the_practice_is_said() {
        let hold = |kpa| PlannedHold {
            place: "rear_left".into(),
            hours: 12.0,
            within_mm: None,
            within_kpa: Some(kpa),
        };
        let said = remarks(&hold(90.0), "rear_left", &car(0.001, Vec::new()), 90.0).join("; ");
        for words in ["deforms", "no thermometer", "over 10 %"] {
            assert!(said.contains(words), "{said}");
        }
        let said = remarks(&hold(70.0), "rear_left", &car(0.001, Vec::new()), 70.0).join("; ");
        assert!(!said.contains("over 10 %"), "{said}");
    }
}
