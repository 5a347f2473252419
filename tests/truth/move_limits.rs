//! Faults of moves made exactly as large as the report of the sound car says it would have
//! seen: each must be found in 95 % of cases, ± 3 %.

use crate::cli::Options;
use crate::lifts::report_of;
use crate::stats::clopper_pearson_95;
use seep_tests::lift_bench::printed::rows;
use seep_tests::lift_bench::{Bench, Corner, Recorded, lifted};
use serde_json::Value;

/// Share of faults at the printed limit that are found.
const POWER: (f64, f64) = (0.92, 0.98);

/// The noise of the log with the fault is another one.
const OTHER_NOISE: u64 = 50_000;

/// Half of the moves of a path are sound.
const SOUND_MOVES: usize = 6;

/// Every so many openings of twelve: two of them stick.
const STICKS_EVERY: usize = 5;

#[derive(Debug, Clone, Copy, PartialEq)]
enum MoveFault {
    Fill,
    Dump,
    Line,
    Late,
    StickingFill,
    StickingDump,
}

const ALL: [MoveFault; 6] = [
    MoveFault::Fill,
    MoveFault::Dump,
    MoveFault::Line,
    MoveFault::Late,
    MoveFault::StickingFill,
    MoveFault::StickingDump,
];

/// Faults of the first and of the second corner of each log.
const LOGS: [[MoveFault; 2]; 6] = [
    [MoveFault::Fill, MoveFault::Dump],
    [MoveFault::Dump, MoveFault::Fill],
    [MoveFault::Line, MoveFault::Late],
    [MoveFault::Late, MoveFault::Line],
    [MoveFault::StickingFill, MoveFault::StickingDump],
    [MoveFault::StickingDump, MoveFault::StickingFill],
];

#[derive(Default)]
struct Score {
    found: u64,
    all: u64,
    sizes: Vec<f64>,
}

/// Score so many cars; true when no bar is missed, by the exact interval of a share.
pub(crate) fn run(cars: u64, options: &Options) -> bool {
    println!("faults of moves at their printed limits; {cars} invented cars");
    let mut scores: Vec<(MoveFault, Score)> = ALL.iter().map(|f| (*f, Score::default())).collect();
    for seed in options.seed..options.seed + cars {
        for (fault, size, found) in of_car(&sound(seed), options.verbose) {
            let score = scores.iter_mut().find(|s| s.0 == fault);
            let (_, score) = score.expect("each fault has its score");
            score.all += 1;
            score.found += u64::from(found);
            score.sizes.push(size);
        }
    }
    let missed = scores.iter().filter(|(fault, score)| !score.print(*fault));
    missed.count() == 0
}

/// A sound car; readings at 50 Hz or at 10 Hz.
fn sound(seed: u64) -> Bench {
    let recorded = Recorded {
        wired: true,
        heights: true,
        raster_s: if seed.is_multiple_of(2) { 0.02 } else { 0.1 },
    };
    Bench {
        longest_s: 10.0,
        moves: 2 * SOUND_MOVES,
        apart_s: 7_200.0,
        ..Bench::drawn(seed, recorded)
    }
}

/// Each fault with its size and whether it was found.
fn of_car(sound: &Bench, verbose: bool) -> Vec<(MoveFault, f64, bool)> {
    let limits = judged(sound);
    let mut out = Vec::new();
    for faults in LOGS {
        let mut car = sound.clone();
        car.seed += OTHER_NOISE;
        let mut made = Vec::new();
        for (corner, fault) in car.corners.iter_mut().zip(faults) {
            if let Some(size) = limit(&limits, corner.name, fault) {
                fault.make(corner, size);
                made.push((fault, corner.name, size));
            }
        }
        let report = judged(&car);
        for (fault, place, size) in made {
            let found = fault.is_found(&report, place);
            if verbose {
                println!("  {} {place} {fault:?} of {size:.3}: {found}", sound.seed);
            }
            out.push((fault, size, found));
        }
    }
    out
}

fn judged(car: &Bench) -> Value {
    let scratch = tempfile::tempdir().expect("a scratch folder can be made");
    report_of(&lifted(car), scratch.path(), "moves")
}

/// The printed limit: a share of the flow, or s.
fn limit(report: &Value, place: &str, fault: MoveFault) -> Option<f64> {
    let words = place.replace('_', " ");
    let cell = |table: &str, row: &str, column: usize| {
        let row = rows(report, table).iter().find(|r| r[0]["text"] == row)?;
        row[column]["value"].as_f64()
    };
    let percent = |column| Some(cell("path-limits", &words, column)? / 100.0);
    match fault {
        MoveFault::Fill => percent(1),
        MoveFault::Dump => percent(2),
        MoveFault::Line => percent(3),
        MoveFault::Late => cell("path-limits", &words, 4),
        MoveFault::StickingFill => cell("sticking", &format!("{words} fill"), 3),
        MoveFault::StickingDump => cell("sticking", &format!("{words} dump"), 3),
    }
}

impl MoveFault {
    fn make(self, corner: &mut Corner, size: f64) {
        let narrows = |left| Some((SOUND_MOVES, left));
        match self {
            MoveFault::Fill => corner.narrows = narrows([1.0 - size, 1.0]),
            MoveFault::Dump => corner.narrows = narrows([1.0, 1.0 - size]),
            MoveFault::Line => corner.narrows = narrows([1.0 - size; 2]),
            MoveFault::Late => corner.late = narrows([size; 2]),
            MoveFault::StickingFill => corner.sticks[0] = Some((STICKS_EVERY, size)),
            MoveFault::StickingDump => corner.sticks[1] = Some((STICKS_EVERY, size)),
        }
    }

    /// A finding of its kind at its place.
    fn is_found(self, report: &Value, place: &str) -> bool {
        let kind = match self {
            MoveFault::Fill => "fill_slow",
            MoveFault::Dump => "dump_slow",
            MoveFault::Line => "line_restricted",
            MoveFault::Late => "valve_lag_growing",
            MoveFault::StickingFill | MoveFault::StickingDump => "valve_sticking",
        };
        let findings = report["findings"].as_array().map_or(&[][..], Vec::as_slice);
        let own = |f: &&Value| f["kind"] == kind && f["place"] == place;
        findings.iter().any(|f| own(&f))
    }
}

impl Score {
    fn print(&self, fault: MoveFault) -> bool {
        let (low, high) = clopper_pearson_95(self.found, self.all);
        let mut sizes = self.sizes.clone();
        sizes.sort_by(f64::total_cmp);
        println!(
            "{:<13} {} of {} found, {:.1} % ({:.0} to {:.0}); the middle limit {:.3}",
            format!("{fault:?}"),
            self.found,
            self.all,
            100.0 * self.found as f64 / self.all.max(1) as f64,
            100.0 * low,
            100.0 * high,
            sizes.get(sizes.len() / 2).copied().unwrap_or(f64::NAN)
        );
        self.all > 0 && high >= POWER.0 && low <= POWER.1
    }
}
