//! Conductances by class: cars of the lift bench through recorder and report, each path's
//! printed figure against its truth.

use crate::cli::Options;
use crate::stats::clopper_pearson_95;
use seep_tests::lift_bench::printed::{Printed, conductances};
use seep_tests::lift_bench::{Bench, Lifted, Recorded, SensorErrors, lifted};
use std::ffi::OsString;
use std::path::Path;

/// Rasters of the readings, s.
const RASTERS_S: [f64; 2] = [0.02, 0.1];

/// Bars of a class that is told with an interval.
const RATIO: (f64, f64) = (0.97, 1.03);
const COVERAGE: (f64, f64) = (0.93, 0.97);

#[derive(Default)]
struct Score {
    ratios: Vec<f64>,
    held: u64,
    bounds: Vec<f64>,
    missing: u64,
}

/// Lift so many cars of each class; true when no bar is missed: those of a share by its
/// exact interval.
pub(crate) fn run(cars: u64, options: &Options) -> bool {
    let mut good = true;
    println!("conductance of paths against the truth; invented cars, {cars} of each class");
    for wired in [true, false] {
        for heights in [true, false] {
            for raster_s in RASTERS_S {
                let class = Recorded {
                    wired,
                    heights,
                    raster_s,
                };
                let score = score(class, cars, options);
                let (met, line) = score.told();
                let words = [
                    if wired { "wired" } else { "not wired" },
                    if heights { "heights" } else { "no heights" },
                ];
                println!(
                    "{:<9} {:<10} {:>3.0} Hz: {line}",
                    words[0],
                    words[1],
                    1.0 / raster_s
                );
                good &= met;
            }
        }
    }
    good
}

fn score(class: Recorded, cars: u64, options: &Options) -> Score {
    let mut out = Score::default();
    for seed in options.seed..options.seed + cars {
        let bench = Bench {
            sensors: SensorErrors::USUAL,
            ..Bench::drawn(seed, class)
        };
        let lifted = lifted(&bench);
        let scratch = tempfile::tempdir().expect("a scratch folder can be made");
        let kept = options.keep.as_ref().map(|keep| {
            let Recorded {
                wired,
                heights,
                raster_s,
            } = class;
            keep.join(format!("{seed}-{wired}-{heights}-{raster_s}"))
        });
        let folder = kept.as_deref().unwrap_or(scratch.path());
        let report = report_of(&lifted, folder, "moves");
        let printed = conductances(&report);
        for (path, truth) in &lifted.truth.conductance {
            let own = printed.iter().find(|p| p.0 == *path).map(|p| p.1);
            if options.verbose {
                println!("  {seed} {path}: {truth:.4} {own:?}");
            }
            match own.unwrap_or(Printed::Missing) {
                Printed::Interval(value, low, high) => {
                    out.ratios.push(value / truth);
                    out.held += u64::from(low <= *truth && *truth <= high);
                }
                Printed::AtLeast(bound) => out.bounds.push(bound / truth),
                Printed::Missing => out.missing += 1,
            }
        }
    }
    out
}

/// What a command of `seep` prints of a bench, through the recorder.
pub(crate) fn report_of(lifted: &Lifted, folder: &Path, command: &str) -> serde_json::Value {
    let at = |name: &str| folder.join(name);
    std::fs::create_dir_all(folder).expect("a folder can be made");
    std::fs::write(at("rig.toml"), &lifted.rig).expect("written");
    std::fs::write(at("bench.csv"), &lifted.csv).expect("written");
    let _ = std::fs::remove_file(at("trip.db"));
    let words = |words: &[&str]| words.iter().map(OsString::from).collect::<Vec<_>>();
    let mut args = words(&["seepd", "replay", "--rig"]);
    args.extend([at("rig.toml").into(), "--log".into(), at("trip.db").into()]);
    args.push(at("bench.csv").into());
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = seep_daemon::main_with(args.into_iter(), &mut out, &mut err);
    assert_eq!(code, 0, "seepd: {}", String::from_utf8_lossy(&err));
    let mut args = words(&["seep", command, "--format", "json", "--log"]);
    args.extend([
        at("trip.db").into(),
        "--out".into(),
        at("report.json").into(),
    ]);
    assert_eq!(seep_report::run(args), 0, "seep {command}");
    let text = std::fs::read_to_string(at("report.json")).expect("the report was written");
    serde_json::from_str(&text).expect("JSON")
}

impl Score {
    fn told(&self) -> (bool, String) {
        let n = self.ratios.len() as u64;
        let mut parts = Vec::new();
        let mut met = true;
        if n > 0 {
            let mean = self.ratios.iter().sum::<f64>() / n as f64;
            let squares: f64 = self.ratios.iter().map(|r| (r - mean).powi(2)).sum();
            let se = (squares / n.max(2) as f64 / n as f64).sqrt();
            let (low, high) = clopper_pearson_95(self.held, n);
            met &= mean + 2.0 * se >= RATIO.0 && mean - 2.0 * se <= RATIO.1;
            met &= high >= COVERAGE.0 && low <= COVERAGE.1;
            parts.push(format!(
                "{n} paths, ratio {mean:.3} ± {:.3} (single ones by {:.3}), held {:.1} % ({:.0} to {:.0})",
                2.0 * se,
                (squares / n.max(2) as f64).sqrt(),
                100.0 * self.held as f64 / n as f64,
                100.0 * low,
                100.0 * high
            ));
        }
        if !self.bounds.is_empty() {
            let n = self.bounds.len() as u64;
            let true_ones = self.bounds.iter().filter(|b| **b <= 1.0).count() as u64;
            let mut sorted = self.bounds.clone();
            sorted.sort_by(f64::total_cmp);
            met &= clopper_pearson_95(true_ones, n).1 >= 0.95;
            parts.push(format!(
                "{n} bounds, {true_ones} of them true, the middle one at {:.2} of the truth",
                sorted[sorted.len() / 2]
            ));
        }
        parts.push(format!("{} without a figure", self.missing));
        (met, parts.join("; "))
    }
}
