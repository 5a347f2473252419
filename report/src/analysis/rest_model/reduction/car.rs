//! From reduced rests and means of minutes to what the model takes.

use super::super::input::{Car, Thermometer};
use super::ReducedLog;
use super::by_hand::{HandObservation, add_by_hand};
use super::minutes::{MINUTE_S, Minutes};
use super::plan::VolumePlan;
use super::surroundings::{Reduced, Surroundings};
use crate::parallel;

/// Readings that a thermometer or barometer needs to count.
const FEWEST_READINGS: u64 = 20;

/// The median gauge pressure that creep is measured against is at least this, kPa.
const LEAST_CREEP_KPA: f64 = 50.0;

/// Name of the mean of all corner thermometers.
const CORNERS: &str = "corners";

/// Puts the car together, one volume beside the other.
pub(super) fn assemble(reduced: Reduced, by_hand: &[HandObservation]) -> ReducedLog {
    let usable = |c: Option<usize>| {
        let c = c.filter(|c| reduced.readings[*c] >= FEWEST_READINGS)?;
        Some(&reduced.minutes[c])
    };
    let plan = &reduced.plan;
    let own = |v: &VolumePlan| usable(v.own_temperature);
    let outside = usable(plan.outside_temperature);
    let tank = usable(plan.tank_temperature);
    let of_corners: Vec<&Minutes> = plan
        .volumes
        .iter()
        .filter(|v| !v.volume.is_tank)
        .filter_map(own)
        .collect();
    let corners = Minutes::mean_of(&of_corners);
    let far = |name: &str, minutes| Some((Thermometer::Far(name.into()), minutes));
    let nearest = |v: &VolumePlan| {
        own(v)
            .map(|m| (Thermometer::Own, m))
            .or_else(|| outside.and_then(|m| far("ambient", m)))
            .or_else(|| {
                Some(&corners)
                    .filter(|c| !c.is_empty())
                    .and_then(|m| far(CORNERS, m))
            })
            .or_else(|| tank.and_then(|m| far("tank", m)))
    };
    let thermometers: Vec<Option<(Thermometer, &Minutes)>> =
        plan.volumes.iter().map(nearest).collect();
    let bags: Vec<Minutes> = plan.volumes.iter().map(|v| bag(&reduced, v)).collect();
    let around = Surroundings {
        reduced: &reduced,
        bags: &bags,
        barometer: usable(plan.barometer),
        nearest: thermometers
            .iter()
            .map(|t| t.as_ref().map(|t| t.1))
            .collect(),
        thermometers: thermometers
            .into_iter()
            .map(|t| t.map_or(Thermometer::None, |t| t.0))
            .collect(),
        others: [("ambient", outside), ("tank", tank)]
            .into_iter()
            .filter_map(|(name, minutes)| Some((name, minutes?)))
            .collect(),
    };
    let numbers: Vec<usize> = (0..plan.volumes.len()).collect();
    let rests = parallel::map(&numbers, parallel::processors(), |v| around.rests_of(*v));
    let mut volumes: Vec<_> = plan.volumes.iter().map(|v| v.volume.clone()).collect();
    for (volume, thermometer) in volumes.iter_mut().zip(&around.thermometers) {
        volume.thermometer = thermometer.clone();
    }
    let outside_c = outside.map_or(Vec::new(), |m| {
        let log_time = |(at, c)| (reduced.origin_s + at * MINUTE_S, c);
        m.points().map(log_time).collect()
    });
    let mut car = Car {
        volumes,
        rests: rests.into_iter().flatten().collect(),
        outside_c,
        notes_s: Vec::new(),
    };
    let by_hand = add_by_hand(&mut car, &around, by_hand);
    ReducedLog {
        car,
        by_hand,
        drives: reduced.drives_min.len(),
        spikes: reduced.spikes,
        stuck: reduced.stuck,
        rests_left_out: reduced.left_out,
    }
}

/// Gauge pressure of a bag over its median, kept between 0 and 2; empty for the tank.
fn bag(reduced: &Reduced, plan: &VolumePlan) -> Minutes {
    let channel = &reduced.minutes[plan.pressure];
    let outside = if plan.is_gauge {
        0.0
    } else {
        reduced.outside_kpa_abs
    };
    match channel.median() {
        Some(median) if !plan.volume.is_tank => {
            let usual = (median - outside).max(LEAST_CREEP_KPA);
            channel.map(|kpa| ((kpa - outside) / usual).clamp(0.0, 2.0))
        }
        _ => Minutes::default(),
    }
}
