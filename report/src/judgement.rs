//! Everything concluded from a digest, before any words are laid out.

mod at_rest;
mod faults;
mod ledger;

pub use faults::Faults;
pub use ledger::SpanLedger;
pub(crate) use ledger::window_ledger;

use crate::analysis::at_rest::{AtRest, VolumeVerdict};
use crate::analysis::delivery::{DeliveryTrend, trend, with_fills};
use crate::analysis::diagnose::{
    PathFinding, RankedPattern, Wear, explain_delivery, explain_paths,
};
use crate::analysis::duty::{WindowDuty, busiest_window};
use crate::analysis::leak::{Forecast, PlainRest, PooledLeak, forecast, plain_rest, prepare};
use crate::analysis::ledger::VolumeEntry;
use crate::analysis::moves::{
    Direction, Move, MoveTrend, ReferenceMove, reference_l_per_bar, trends,
};
use crate::analysis::segment::Rest;
use crate::cache::Cache;
use crate::conclusion::{FindingKind, Topic};
use crate::digest::{ASSUMED_CRITICAL_RATIO, Digest, pressure_sensor};
use crate::findings::{
    air_findings, duty_findings, path_findings, pressure_findings, remainder_findings, verdict,
    wear_finding,
};
use crate::model::{Finding, Severity, Verdict};
use crate::parallel;
use seep_common::channel::Quantity;
use seep_common::rig::{Compressor, Rig, SensorAt};
use std::borrow::Cow;

/// Loss that is worth a word: this much pressure at constant volume in a day, kPa.
const FLOOR_KPA_PER_DAY: f64 = 5.0;

/// What the analyses say, taken together.
#[derive(Debug, Clone)]
pub struct Judgement {
    /// The plain decay of each rest.
    pub fits: Vec<PlainRest>,
    /// Rests too short or too sparse to fit.
    pub unfitted_rests: usize,
    /// One per volume that the model of a car at rest sees, in the rig's order, the tank last.
    pub leaks: Vec<PooledLeak>,
    /// Hours until a limit, where a loss is seen and the rig gives the limit.
    pub forecasts: Vec<(String, Forecast)>,
    /// How the paths drift.
    pub paths: Vec<MoveTrend>,
    /// The same of moves seen by wired valves alone: what is judged.
    pub judged_paths: Vec<MoveTrend>,
    /// How the compressors deliver.
    pub deliveries: Vec<DeliveryTrend>,
    /// Window of each compressor's rating with the most running time.
    pub busiest_windows: Vec<(Compressor, WindowDuty)>,
    /// What the model of a car at rest decides.
    pub at_rest: AtRest,
    /// Conditions, late valves, drifting sensors, switches.
    pub faults: Faults,
    /// Air that moves on its own.
    pub patterns: Vec<RankedPattern>,
    /// Slow paths.
    pub slow_paths: Vec<PathFinding>,
    /// Worn compressors.
    pub wear: Vec<Wear>,
    /// Where the air went over the whole span, or what is missing to say so.
    pub ledger: Result<SpanLedger, String>,
    /// All of it in words, most urgent first.
    pub findings: Vec<Finding>,
    /// The first sentence.
    pub verdict: Verdict,
}

impl Judgement {
    /// Judge a digest.
    #[must_use]
    pub fn of(digest: &Digest, rig: &Rig) -> Self {
        Self::with_cache(digest, rig, &Cache::none())
    }

    /// The same, with results of earlier runs.
    #[must_use]
    pub fn with_cache(digest: &Digest, rig: &Rig, cache: &Cache) -> Self {
        let (fits, unfitted_rests) = fits(digest);
        let at_rest = at_rest::assess(digest, &fits, cache);
        let leaks: Vec<PooledLeak> = digest
            .vessels
            .iter()
            .filter_map(|v| at_rest.volume(&v.place).map(|m| m.loss.clone()))
            .collect();
        let forecasts = forecasts(digest, &leaks, &fits);
        let reference = |place: &str, direction| reference(digest, rig, place, direction);
        let mate_of = |place: &str| comparable_mate(rig, place);
        let paths = trends(&digest.moves, &reference, &mate_of);
        let tank_sensor = pressure_sensor(rig, "tank");
        let deliveries: Vec<DeliveryTrend> = digest
            .compressors
            .iter()
            .filter_map(|c| trend(&c.place, &with_fills(&c.runs, &digest.moves), &tank_sensor))
            .collect();
        let busiest_windows = busiest_windows(digest, rig);
        let judged_paths = wired_paths(digest, &paths, &reference, &mate_of).into_owned();
        let mut faults = Faults::of(digest, rig, &leaks, &judged_paths, &at_rest);
        let patterns = faults.beside(at_rest.patterns.clone(), &leaks);
        let slow_paths = explain_paths(&judged_paths, mate_of, |place| line_hidden(rig, place));
        // How long a run was that only the tank's pressure tells is too uncertain.
        let wear: Vec<Wear> = deliveries
            .iter()
            .filter(|d| rig.channel_at(&d.place, Quantity::Running).is_some())
            .filter_map(explain_delivery)
            .collect();
        let mut findings = faults.findings(&leaks, &forecasts);
        findings.extend(air_findings(&patterns, &leaks, &forecasts, &at_rest));
        findings.extend(pressure_findings(
            leaks
                .iter()
                .filter(|l| is_relative(digest, l) && is_fault(&at_rest, &l.place))
                .filter(|l| faults.drifts.iter().all(|d| d.place != l.place)),
            FLOOR_KPA_PER_DAY / 24.0,
        ));
        findings.extend(path_findings(&slow_paths));
        findings.extend(wear.iter().map(wear_finding));
        findings.extend(duty_findings(&busiest_windows));
        let ledger = SpanLedger::of(digest, rig, &leaks);
        if let Ok(ledger) = &ledger {
            findings.extend(remainder_findings(&unexplained(ledger, &findings)));
        }
        // A leak makes a compressor run hot, not the other way round.
        let is_consequence = |f: &Finding| f.kind == FindingKind::ThermalCutOut;
        findings.sort_by_key(|f| (std::cmp::Reverse(f.severity), is_consequence(f)));
        let verdict = verdict(&findings, &at_rest, &leaks);
        Judgement {
            fits,
            unfitted_rests,
            leaks,
            forecasts,
            paths,
            judged_paths,
            deliveries,
            busiest_windows,
            at_rest,
            faults,
            patterns,
            slow_paths,
            wear,
            ledger,
            findings,
            verdict,
        }
    }
}

/// Volumes whose remainder differs from zero, but for those where another finding already
/// gives the cause: a sensor that drifts, or air that a leak lets out at another rate than
/// that of all rests; air that passes into another volume is in no ledger.
fn unexplained<'a>(ledger: &'a SpanLedger, findings: &[Finding]) -> Vec<&'a VolumeEntry> {
    let faults = || findings.iter().filter(|f| f.severity > Severity::Unknown);
    let passes = |f: &Finding| {
        matches!(
            f.kind,
            FindingKind::FillValvePassing | FindingKind::CrossLeak
        )
    };
    let is_cause =
        |f: &Finding| f.kind == FindingKind::SensorZeroDrift || f.kind.topic() == Topic::Air;
    let caused = |place: &str| faults().any(|f| passes(f) || (f.place == place && is_cause(f)));
    let mut unbalanced = ledger.unbalanced();
    unbalanced.retain(|v| !caused(&v.place));
    unbalanced
}

/// How the paths of moves seen by wired valves drift: where and for how long a
/// valve was open that was only told from pressures is too uncertain to accuse it.
fn wired_paths<'a>(
    digest: &Digest,
    all: &'a [MoveTrend],
    reference: &dyn Fn(&str, Direction) -> Option<f64>,
    mate_of: &dyn Fn(&str) -> Option<String>,
) -> Cow<'a, [MoveTrend]> {
    if digest.moves.iter().all(|m| m.wired) {
        return Cow::Borrowed(all);
    }
    let wired: Vec<Move> = digest.moves.iter().filter(|m| m.wired).cloned().collect();
    Cow::Owned(trends(&wired, reference, mate_of))
}

fn fits(digest: &Digest) -> (Vec<PlainRest>, usize) {
    let fit = |rest: &Rest| {
        let vessel = digest.vessel(&rest.place)?;
        let data = prepare(rest, vessel)?;
        plain_rest(rest, &data, vessel, digest.ambient_kpa_abs)
    };
    let fits = parallel::map(&digest.rests, parallel::processors(), fit);
    let out: Vec<PlainRest> = fits.into_iter().flatten().collect();
    let unfitted = digest.rests.len() - out.len();
    (out, unfitted)
}

/// Without a volume in the rig, losses cannot be set against each other as air.
fn is_relative(digest: &Digest, leak: &PooledLeak) -> bool {
    digest
        .vessel(&leak.place)
        .is_none_or(crate::analysis::air::Vessel::is_relative)
}

/// Whether the model names a loss there.
fn is_fault(at_rest: &AtRest, place: &str) -> bool {
    let volume = at_rest.volume(place);
    volume.is_some_and(|v| v.verdict == VolumeVerdict::Fault)
}

fn forecasts(digest: &Digest, leaks: &[PooledLeak], fits: &[PlainRest]) -> Vec<(String, Forecast)> {
    leaks
        .iter()
        .filter(|l| l.loss_l_per_s.interval_95().0 > 0.0)
        .filter_map(|l| {
            let vessel = digest.vessel(&l.place)?;
            let last = fits.iter().rfind(|f| f.place == l.place)?;
            let (kpa_abs, kelvin, mm) = last.end_state;
            let f = forecast(
                vessel,
                &l.loss_l_per_s,
                kpa_abs,
                digest.ambient_kpa_abs,
                kelvin,
                mm,
            )?;
            Some((l.place.clone(), f))
        })
        .collect()
}

fn busiest_windows(digest: &Digest, rig: &Rig) -> Vec<(Compressor, WindowDuty)> {
    rig.compressors
        .iter()
        .filter_map(|c| {
            let own = digest.compressors.iter().find(|d| d.place == c.name)?;
            Some((
                c.clone(),
                busiest_window(&own.timeline, c.rated_window_min * 60.0)?,
            ))
        })
        .collect()
}

/// The reference move of a path, L/bar; see [`reference_l_per_bar`].
fn reference(digest: &Digest, rig: &Rig, place: &str, direction: Direction) -> Option<f64> {
    let circuit = rig.circuit(place)?;
    let reference = ReferenceMove {
        tank_kpa_gauge: rig.limits.reference_tank_kpa_gauge,
        corner_kpa_gauge: circuit.reference_kpa_gauge,
        mm: circuit.reference_mm,
        critical_ratio: ASSUMED_CRITICAL_RATIO,
    };
    reference_l_per_bar(digest.vessel(place)?, &reference, direction)
}

/// The other circuit of an axle.
pub(crate) fn mate(rig: &Rig, place: &str) -> Option<String> {
    let axle = rig.circuit(place)?.axle.as_ref()?;
    rig.circuits
        .iter()
        .find(|c| c.name != place && c.axle.as_ref() == Some(axle))
        .map(|c| c.name.clone())
}

/// The same where the pressures of both are read at the same end of their lines.
pub(crate) fn comparable_mate(rig: &Rig, place: &str) -> Option<String> {
    mate(rig, place).filter(|other| line_hidden(rig, other) == line_hidden(rig, place))
}

/// True when the pressure of a circuit is read before its line.
pub(crate) fn line_hidden(rig: &Rig, place: &str) -> bool {
    rig.circuit(place)
        .is_some_and(|c| c.sensor_at == SensorAt::Manifold)
}
