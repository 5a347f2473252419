//! Faults that are no simple loss of air: conditions, valves, sensors, switches.

use crate::analysis::at_rest::AtRest;
use crate::analysis::delivery::Run;
use crate::analysis::diagnose::{
    Conditional, CutOutShift, DriftPlace, LagGrowth, LateValves, RankedPattern, ThermalCutOuts,
    ZeroDrift, cut_out_shift, drift_seen_from_kpa, lag_growths, late_valves,
    tank_drift_seen_from_kpa, thermal_cut_outs, zero_drifts,
};
use crate::analysis::estimate::Estimate;
use crate::analysis::leak::{Forecast, PooledLeak};
use crate::analysis::moves::{MoveTrend, ValveSticking, by_valve};
use crate::conclusion::Conclusion;
use crate::digest::{Digest, pressure_sensor};
use crate::findings::{
    condition_findings, drift_findings, late_findings, shift_finding, sticking_findings,
    thermal_finding,
};
use crate::model::Finding;
use seep_common::channel::Quantity;
use seep_common::rig::Rig;

/// What was found beside steady losses, slow paths and wear.
#[derive(Debug, Clone, Default)]
pub struct Faults {
    /// Volumes that leak under a condition only.
    pub conditionals: Vec<Conditional>,
    /// How the response of each circuit's valves grew.
    pub lags: Vec<LagGrowth>,
    /// Valves that answer late.
    pub late: Vec<LateValves>,
    /// Openings of each valve, and those that stuck.
    pub sticking: Vec<ValveSticking>,
    /// Smallest drift over the log that would have been named, kPa: circuits with
    /// a partner and heights, and the tank.
    pub drift_limits: Vec<(String, f64)>,
    /// Sensors whose zero drifts.
    pub drifts: Vec<ZeroDrift>,
    /// The cut-out moved, and no drift of the tank's sensor explains it.
    pub shift: Option<CutOutShift>,
    /// Compressors stopped by their thermal switch.
    pub thermal: Vec<ThermalCutOuts>,
}

impl Faults {
    /// Look for all of them.
    pub(super) fn of(
        digest: &Digest,
        rig: &Rig,
        leaks: &[PooledLeak],
        paths: &[MoveTrend],
        at_rest: &AtRest,
    ) -> Self {
        let drift_places = drift_places(digest, rig);
        let mut drifts = zero_drifts(&drift_places, &digest.rests);
        let mut runs: Vec<Run> = digest
            .compressors
            .iter()
            .flat_map(|c| c.runs.clone())
            .collect();
        runs.sort_by_key(|r| r.from_ms);
        let zero_kpa_per_k = pressure_sensor(rig, "tank").zero_per_k();
        let drift_limits = drift_limits(&drift_places, digest, &runs, zero_kpa_per_k);
        let mut shift = cut_out_shift(&runs, zero_kpa_per_k);
        let tank = leaks.iter().find(|l| l.place == "tank");
        if let Some(drift) = shift.as_ref().zip(tank).and_then(|(s, t)| tank_drift(s, t)) {
            drifts.push(drift);
            shift = None;
        }
        let cut_out = rig.limits.cut_out_kpa_gauge;
        let places: Vec<String> = rig.circuits.iter().map(|c| c.name.clone()).collect();
        Faults {
            conditionals: conditionals(at_rest, &drifts),
            lags: places
                .iter()
                .flat_map(|p| lag_growths(p, &digest.moves, paths))
                .collect(),
            late: late_valves(&places, &digest.moves, paths),
            sticking: by_valve(&digest.moves),
            drift_limits,
            drifts,
            shift,
            thermal: digest
                .compressors
                .iter()
                // Runs told from the tank's pressure also end where a fill takes
                // more than the compressor gives.
                .filter(|c| rig.channel_at(&c.place, Quantity::Running).is_some())
                .filter_map(|c| thermal_cut_outs(&c.place, &c.runs, cut_out))
                .collect(),
        }
    }

    /// In words.
    pub(super) fn findings(
        &self,
        leaks: &[PooledLeak],
        forecasts: &[(String, Forecast)],
    ) -> Vec<Finding> {
        let mut out = condition_findings(&self.conditionals, leaks, forecasts);
        out.extend(drift_findings(&self.drifts));
        out.extend(self.shift.iter().map(shift_finding));
        out.extend(self.thermal.iter().map(thermal_finding));
        out.extend(late_findings(&self.late));
        out.extend(sticking_findings(&self.sticking));
        out
    }

    /// Patterns of all volumes beside these faults; a pattern that one of these
    /// faults says better is left out.
    pub(super) fn beside(
        &mut self,
        mut patterns: Vec<RankedPattern>,
        leaks: &[PooledLeak],
    ) -> Vec<RankedPattern> {
        for p in &patterns {
            if let Conclusion::CrossLeak { from, to } = &p.pattern {
                self.conditionals
                    .retain(|c| c.place != *from && c.place != *to);
            }
        }
        patterns.retain(|p| !self.explains(p, leaks));
        patterns
    }

    /// A pattern that one of these faults says better: the same leak with its
    /// condition, or a loss that is a sensor's creep.
    fn explains(&self, pattern: &RankedPattern, leaks: &[PooledLeak]) -> bool {
        let conditional = |place: &str| self.conditionals.iter().any(|c| c.place == place);
        let crept = |place: &str| {
            let leak = leaks.iter().find(|l| l.place == place);
            let drift = self.drifts.iter().find(|d| d.place == place);
            leak.zip(drift).is_some_and(|(leak, drift)| {
                let per_day = -24.0 * leak.kpa_per_h.value;
                per_day * drift.kpa_per_day.value > 0.0
                    && per_day.abs() < 2.0 * drift.kpa_per_day.value.abs()
            })
        };
        match &pattern.pattern {
            Conclusion::CornerLeak { place } => conditional(place) || crept(place),
            Conclusion::TankLeak => conditional("tank") || crept("tank"),
            Conclusion::FillValvePassing { place } => crept(place) || crept("tank"),
            Conclusion::CrossLeak { from, to } => crept(from) || crept(to),
            _ => false,
        }
    }
}

fn conditionals(at_rest: &AtRest, drifts: &[ZeroDrift]) -> Vec<Conditional> {
    let found = at_rest.conditionals.iter();
    found
        .filter(|c| drifts.iter().all(|d| d.place != c.place))
        .cloned()
        .collect()
}

fn drift_limits(
    places: &[DriftPlace],
    digest: &Digest,
    runs: &[Run],
    zero_kpa_per_k: f64,
) -> Vec<(String, f64)> {
    let of_circuit = |p: &DriftPlace| {
        let kpa = drift_seen_from_kpa(&p.place, places, &digest.rests)?;
        Some((p.place.clone(), kpa))
    };
    let tank = tank_drift_seen_from_kpa(runs, zero_kpa_per_k).map(|kpa| ("tank".to_string(), kpa));
    places.iter().filter_map(of_circuit).chain(tank).collect()
}

/// Near the stop within this, mm.
const NEAR_STOP_MM: f64 = 12.0;

/// Circuits with pressure and height.
fn drift_places(digest: &Digest, rig: &Rig) -> Vec<DriftPlace> {
    let has_height = |place: &str| {
        let mut own = digest.rests.iter().filter(|r| r.place == place);
        own.any(|r| r.points.iter().any(|p| !p.mm.is_nan()))
    };
    rig.circuits
        .iter()
        .filter(|c| has_height(&c.name))
        .map(|c| DriftPlace {
            place: c.name.clone(),
            mate: super::mate(rig, &c.name).filter(|m| has_height(m)),
            free_above_mm: c
                .lower_stop_mm
                .map_or(f64::NEG_INFINITY, |mm| mm + NEAR_STOP_MM),
        })
        .collect()
}

/// A cut-out that moves as fast as the tank creeps at rest: the sensor.
fn tank_drift(shift: &CutOutShift, tank: &PooledLeak) -> Option<ZeroDrift> {
    let creep: Estimate = tank.kpa_per_h.scaled(-24.0);
    let s = shift.kpa_per_day;
    let off = (creep.value - s.value).abs();
    let agrees = off < 0.5 * s.value.abs() + 2.0 * creep.se
        && creep.value * s.value > 0.0
        && creep.value.abs() > 2.0 * creep.se;
    agrees.then(|| ZeroDrift {
        place: "tank".into(),
        kpa_per_day: s,
        within_kpa_per_day: creep,
        days: shift.days,
        rests: shift.runs,
        probability: 0.97,
    })
}
