//! A slow path, a late valve or a worn compressor against the limit the report
//! claims.

use crate::car::Car;
use crate::case::Case;
use crate::path::Judged;
use seep_report::analysis::diagnose::{
    late_seen_from_ms, partner_seen_from_percent, together_seen_from_percent,
    wear_seen_from_percent,
};
use seep_report::analysis::moves::{Direction, MoveTrend};
use seep_sample_logs::scenario::{Circuit, Fault, Scenario};
use seep_sample_logs::truth::{CompressorRun, Move, Truth};

/// A fault and the limit claimed, both in percent of loss or in ms.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Size {
    /// True size.
    pub size: f64,
    /// Limit claimed; `None` when the report claims none.
    pub limit: Option<f64>,
}

impl Size {
    /// Times the limit; 0 without one.
    pub(crate) fn ratio(&self) -> f64 {
        self.limit.map_or(0.0, |limit| self.size / limit)
    }
}

/// Size of the fault of a car that is no leak; `None` where no limit is claimed for
/// its kind.
pub(crate) fn of(car: &Car, judged: &Judged, truth: &Truth) -> Option<Size> {
    let fault = car.scenario.faults.first()?;
    let place = &truth.place;
    match car.case {
        Case::Line | Case::FillSlow | Case::DumpSlow | Case::Supply | Case::Exhaust => {
            path(car.case, place, fault, &car.scenario, judged, truth)
        }
        Case::Late => Some(late(place, judged, truth)),
        Case::Wear => Some(wear(place, judged, truth)),
        Case::ZeroDrift => {
            let hours = car.scenario.seconds() / 3600.0 - fault.from_h;
            Some(drift(place, fault.kpa_per_day * hours / 24.0, judged))
        }
        _ => None,
    }
}

/// The slow paths of a case. A cause that several paths share is told by them
/// together, by the mean of the logarithms of what is left.
fn path(
    case: Case,
    place: &str,
    fault: &Fault,
    car: &Scenario,
    judged: &Judged,
    truth: &Truth,
) -> Option<Size> {
    let directions: &[Direction] = match case {
        Case::FillSlow | Case::Supply => &[Direction::Fill],
        Case::DumpSlow | Case::Exhaust => &[Direction::Dump],
        _ => &[Direction::Fill, Direction::Dump],
    };
    let everywhere = matches!(case, Case::Supply | Case::Exhaust);
    let own = car
        .circuits
        .iter()
        .filter(|c| everywhere || c.name == place);
    let paths: Vec<(&Circuit, Direction)> = own
        .flat_map(|c| directions.iter().map(move |d| (c, *d)))
        .collect();
    if fault.full_h > 0.0 {
        return Some(developing(&paths, judged, truth));
    }
    // Slow from the start: only the partner tells.
    paths
        .iter()
        .map(|(circuit, direction)| throughout(circuit, *direction, car, judged, truth))
        .max_by(|a, b| a.ratio().total_cmp(&b.ratio()))
}

fn developing(paths: &[(&Circuit, Direction)], judged: &Judged, truth: &Truth) -> Size {
    let kept = |(circuit, direction): &(&Circuit, Direction)| {
        let moves = moves_of(truth, &circuit.name, *direction);
        outer_thirds(&moves, &|m| m.path_c_l_s_bar).map_or(1.0, |(first, last)| last / first)
    };
    let mean_ln = paths.iter().map(|p| kept(p).ln()).sum::<f64>() / paths.len() as f64;
    let trends: Option<Vec<&MoveTrend>> = paths
        .iter()
        .map(|(c, d)| trend_of(judged, &c.name, *d))
        .collect();
    Size {
        size: 100.0 * (1.0 - mean_ln.exp()),
        limit: trends.and_then(|t| together_seen_from_percent(&t)),
    }
}

fn throughout(
    circuit: &Circuit,
    direction: Direction,
    car: &Scenario,
    judged: &Judged,
    truth: &Truth,
) -> Size {
    let mut mates = car.circuits.iter().filter(|m| m.name != circuit.name);
    let mate = mates.find(|m| m.axle == circuit.axle);
    let partner = mate.and_then(|m| trend_of(judged, &m.name, direction));
    let sound = truth.parameters.circuits.get(&circuit.name);
    let sound = sound.map_or(f64::NAN, |p| match direction {
        Direction::Fill => p.fill_c_l_s_bar,
        Direction::Dump => p.dump_c_l_s_bar,
    });
    let moves = moves_of(truth, &circuit.name, direction);
    Size {
        size: 100.0 * (1.0 - middle(&moves, &|m| m.path_c_l_s_bar) / sound),
        limit: trend_of(judged, &circuit.name, direction)
            .zip(partner)
            .and_then(|(t, p)| partner_seen_from_percent(t, p)),
    }
}

fn moves_of<'a>(truth: &'a Truth, place: &str, direction: Direction) -> Vec<&'a Move> {
    let own = |m: &&Move| m.circuit == place && m.valve == direction.word();
    truth.moves.iter().filter(own).collect()
}

fn trend_of<'a>(judged: &'a Judged, place: &str, direction: Direction) -> Option<&'a MoveTrend> {
    let paths = &judged.judgement.judged_paths;
    paths
        .iter()
        .find(|t| t.place == place && t.direction == direction)
}

/// Growth of the lag of the valves of a circuit, ms.
fn late(place: &str, judged: &Judged, truth: &Truth) -> Size {
    let moves: Vec<&Move> = truth.moves.iter().filter(|m| m.circuit == place).collect();
    let (first, last) = outer_thirds(&moves, &|m| m.lag_ms).unwrap_or((0.0, 0.0));
    Size {
        size: last - first,
        limit: late_seen_from_ms(place, &judged.judgement.faults.lags),
    }
}

/// Loss of delivery of a compressor, percent.
fn wear(place: &str, judged: &Judged, truth: &Truth) -> Size {
    let runs: Vec<&CompressorRun> = truth
        .runs
        .iter()
        .filter(|r| r.compressor == place && r.end_ms - r.start_ms > 10_000)
        .collect();
    let rate = |r: &CompressorRun| r.delivered_anr_l / (r.end_ms - r.start_ms) as f64;
    let kept = outer_thirds(&runs, &rate).map_or(1.0, |(first, last)| last / first);
    let mut trends = judged.judgement.deliveries.iter();
    Size {
        size: 100.0 * (1.0 - kept),
        limit: trends
            .find(|d| d.place == place)
            .and_then(wear_seen_from_percent),
    }
}

/// Drift of a sensor over the log, kPa.
fn drift(place: &str, kpa: f64, judged: &Judged) -> Size {
    let mut limits = judged.judgement.faults.drift_limits.iter();
    Size {
        size: kpa.abs(),
        limit: limits.find(|l| l.0 == place).map(|l| l.1),
    }
}

/// Medians of the first and of the last third, in time order.
fn outer_thirds<T>(all: &[&T], value: &dyn Fn(&T) -> f64) -> Option<(f64, f64)> {
    let third = all.len() / 3;
    (third >= 2).then(|| {
        (
            middle(&all[..third], value),
            middle(&all[all.len() - third..], value),
        )
    })
}

fn middle<T>(all: &[&T], value: &dyn Fn(&T) -> f64) -> f64 {
    let mut values: Vec<f64> = all.iter().map(|v| value(v)).collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}
