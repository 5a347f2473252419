//! The books of cars of the lift bench: what is left unexplained against zero.

use crate::cli::Options;
use crate::lifts::report_of;
use crate::stats::clopper_pearson_95;
use seep_sample_logs::rng::Noise;
use seep_tests::lift_bench::printed::rows;
use seep_tests::lift_bench::{Bench, Recorded, SensorErrors, lifted};

/// Share of remainders that hold zero.
const COVERAGE: (f64, f64) = (0.93, 0.97);

#[derive(Default)]
struct Score {
    held: u64,
    all: u64,
    named: u64,
    cars: u64,
}

/// Keep the books of so many cars, a third sound, a third with a leaking tank, a third with
/// a leaking corner; true when no bar is missed, by the exact interval of a share.
pub(crate) fn run(cars: u64, options: &Options) -> bool {
    println!("remainders of the ledger against zero; {cars} invented cars");
    let mut good = true;
    for (class, leaks) in ["sound", "tank leaks", "corner leaks"].iter().zip(0..) {
        let mut score = Score::default();
        for seed in (options.seed..options.seed + cars).filter(|s| s % 3 == leaks) {
            score.add(seed, leaks as usize, options);
        }
        good &= score.told(class);
    }
    good
}

/// A car that stands for most of half an hour between moves, with one leak or none,
/// L/(s·bar).
fn car(seed: u64, leaks: usize) -> Bench {
    let recorded = Recorded {
        wired: true,
        heights: true,
        raster_s: 0.1,
    };
    let mut car = Bench {
        moves: 5,
        round_s: 3_000.0,
        sensors: SensorErrors::USUAL,
        ..Bench::drawn(seed, recorded)
    };
    if leaks > 0 {
        let mut draw = Noise::new(seed, "leak");
        car.leaks[leaks - 1] = 1e-4 * draw.between(-1.5, 0.7).exp();
    }
    car
}

impl Score {
    fn add(&mut self, seed: u64, leaks: usize, options: &Options) {
        let car = lifted(&car(seed, leaks));
        let scratch = tempfile::tempdir().expect("a scratch folder can be made");
        let report = report_of(&car, scratch.path(), "duty");
        self.cars += 1;
        let findings = report["findings"].as_array().map_or(&[][..], Vec::as_slice);
        let named = findings.iter().any(|f| f["kind"] == "unexplained_air");
        self.named += u64::from(named);
        for row in rows(&report, "ledger") {
            let end = |key: &str| row[5][key].as_f64();
            let (Some(low), Some(high)) = (end("low"), end("high")) else {
                continue;
            };
            if options.verbose {
                println!("  {seed} {}: {low:.2} to {high:.2} L", row[0]["text"]);
            }
            self.all += 1;
            self.held += u64::from(low <= 0.0 && 0.0 <= high);
        }
    }

    fn told(&self, class: &str) -> bool {
        let (low, high) = clopper_pearson_95(self.held, self.all);
        println!(
            "{class:<13} {} cars: {} of {} remainders hold zero, {:.1} % ({:.0} to {:.0}); {} cars \
             with a finding",
            self.cars,
            self.held,
            self.all,
            100.0 * self.held as f64 / self.all.max(1) as f64,
            100.0 * low,
            100.0 * high,
            self.named
        );
        self.all > 0 && high >= COVERAGE.0 && low <= COVERAGE.1
    }
}
