//! One car scored, and all of them together.

use crate::car::{Car, car};
use crate::case::Case;
use crate::claim::{Claim, claims};
use crate::cli::Options;
use crate::coverage::{Coverage, coverage};
use crate::expect::{Expected, condition, expected, is_right};
use crate::ideal::Efficiency;
use crate::path;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

/// One car.
#[derive(Debug)]
pub(crate) struct Scored {
    /// Seed, case and words.
    pub car: Car,
    /// What was claimed, in the order of the report.
    pub claims: Vec<Claim>,
    /// What should be found.
    pub expected: Option<Expected>,
    /// Coverage of its intervals.
    pub coverage: Coverage,
    /// Rests whose outside temperature fell by 15 K or more.
    pub cold_rests: u32,
    /// Every fitted rest with its truth, as CSV.
    pub rests: String,
    /// Seconds it took.
    pub took_s: f64,
}

impl Scored {
    /// Position of the first right claim.
    pub(crate) fn right_at(&self) -> Option<usize> {
        let expected = self.expected.as_ref()?;
        let right = |c: &Claim| is_right(self.car.case, expected, c);
        self.claims.iter().position(right)
    }

    /// The right fault comes first.
    pub(crate) fn is_right(&self) -> bool {
        self.right_at() == Some(0)
    }

    /// A conditional leak is named with its condition, in the first place.
    pub(crate) fn names_condition(&self) -> Option<bool> {
        let wanted = condition(self.car.case)?;
        let first = self.claims.first();
        Some(self.is_right() && first.is_some_and(|c| c.condition == wanted))
    }

    /// A conditional leak is above the limit claimed for naming its condition.
    pub(crate) fn can_be_named(&self) -> bool {
        let limit = self.expected.as_ref().and_then(|e| e.limit);
        limit.is_some_and(|l| l.can_be_named())
    }

    /// The log can show the fault.
    pub(crate) fn detectable(&self) -> bool {
        self.expected.as_ref().is_some_and(|e| e.detectable)
    }
}

/// All cars together.
#[derive(Debug)]
pub(crate) struct Summary<'a> {
    /// What was asked for.
    pub options: &'a Options,
    /// Each car.
    pub cars: &'a [Scored],
    /// Coverage over all cars.
    pub coverage: Coverage,
    /// Variance against the Cramér–Rao bound.
    pub efficiency: Efficiency,
    /// Weeks healthy cars were watched.
    pub healthy_weeks: u64,
    /// Claims about them.
    pub false_alarms: u64,
}

impl<'a> Summary<'a> {
    /// Of all cars.
    pub(crate) fn of(options: &'a Options, cars: &'a [Scored], efficiency: Efficiency) -> Self {
        let mut coverage = Coverage::default();
        for car in cars {
            coverage += car.coverage;
        }
        let healthy = || cars.iter().filter(|c| c.car.case == Case::None);
        Summary {
            options,
            cars,
            coverage,
            efficiency,
            healthy_weeks: healthy().count() as u64 * u64::from(options.weeks),
            false_alarms: healthy().map(|c| c.claims.len() as u64).sum(),
        }
    }

    /// False alarms per 100 healthy car-weeks.
    pub(crate) fn false_alarm_rate(&self) -> f64 {
        100.0 * self.false_alarms as f64 / (self.healthy_weeks.max(1)) as f64
    }

    /// Cars whose log can show their fault, and those whose fault comes first.
    pub(crate) fn named(&self) -> (usize, usize) {
        let all = self.cars.iter().filter(|c| c.detectable());
        (all.clone().count(), all.filter(|c| c.is_right()).count())
    }

    /// Conditional leaks large enough to be named, and those named with their
    /// condition.
    pub(crate) fn conditions(&self, case: Case) -> (usize, usize) {
        let of = |c: &&Scored| c.car.case == case && c.detectable() && c.can_be_named();
        let all = self.cars.iter().filter(of);
        let named = |c: &&Scored| c.names_condition() == Some(true);
        (all.clone().count(), all.filter(named).count())
    }

    /// Rests with 15 K fall of healthy cars, and leaks claimed on those cars.
    pub(crate) fn cold_falls(&self) -> (u32, usize) {
        let cold = |c: &&Scored| c.car.case == Case::None && c.cold_rests > 0;
        let cars = self.cars.iter().filter(cold);
        let rests = cars.clone().map(|c| c.cold_rests).sum();
        (rests, cars.map(|c| c.claims.len()).sum())
    }

    /// Corner leaks above the limit that fell in height while the pressure fell
    /// by less than 1 %, and those found.
    pub(crate) fn by_height(&self) -> (usize, usize) {
        let hidden = |c: &&Scored| {
            let limit = c.expected.as_ref().and_then(|e| e.limit);
            c.detectable()
                && matches!(c.car.case, Case::CornerLeak | Case::DumpValveLeak)
                && limit
                    .and_then(|l| l.pressure_fell_percent)
                    .is_some_and(|p| p < 1.0)
        };
        let all = self.cars.iter().filter(hidden);
        (all.clone().count(), all.filter(|c| c.is_right()).count())
    }
}

/// Run every car, several at a time; the order of seeds is kept.
pub(crate) fn run(options: &Options) -> Vec<Scored> {
    let only = options.only.as_deref().map(|word| {
        let known = std::iter::once(Case::None).chain(Case::FAULTS);
        let mut found = known.filter(|c| c.word() == word);
        found.next().unwrap_or_else(|| {
            eprintln!("truth-bench: --only {word}: no such fault");
            std::process::exit(2)
        })
    });
    let jobs = options
        .jobs
        .unwrap_or_else(|| std::thread::available_parallelism().map_or(1, std::num::NonZero::get));
    let next = AtomicU64::new(0);
    let done = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..jobs {
            scope.spawn(|| {
                loop {
                    let i = next.fetch_add(1, Ordering::Relaxed);
                    if i >= options.cars {
                        break;
                    }
                    let scored = score(car(options.seed + i, options.weeks, only), i, options);
                    if options.verbose {
                        eprintln!("{}", crate::table::line(&scored));
                    }
                    done.lock().expect("no car panicked").push(scored);
                }
            });
        }
    });
    let mut all = done.into_inner().expect("no car panicked");
    all.sort_by_key(|c: &Scored| c.car.seed);
    all
}

/// Every so many cars the printed report is compared with the judgement.
const PRINTED_EVERY: u64 = 20;

fn score(car: Car, number: u64, options: &Options) -> Scored {
    let begin = Instant::now();
    let scratch = tempfile::tempdir().expect("a scratch folder can be made");
    let kept = |keep: &PathBuf| keep.join(format!("{}-{}-{}", car.seed, options.weeks, car.case));
    let folder = options
        .keep
        .as_ref()
        .map_or_else(|| scratch.path().to_path_buf(), kept);
    let truth = &path::logged(&car.scenario, &folder);
    let log = folder.join("trip.db");
    let judged = path::judge_log(&log);
    if number.is_multiple_of(PRINTED_EVERY) {
        let printed = path::printed_findings(&log, scratch.path());
        assert_eq!(printed.len(), judged.judgement.findings.len(), "seep trip");
    }
    let fell = |r: &&seep_sample_logs::truth::RestStretch| r.outside_c[0] - r.outside_c[1] >= 15.0;
    Scored {
        rests: crate::rests::lines(car.seed, &judged, truth),
        claims: claims(&judged, truth),
        expected: expected(&car, &judged, truth),
        coverage: coverage(&judged, truth),
        cold_rests: truth.rests.iter().filter(fell).count() as u32,
        took_s: begin.elapsed().as_secs_f64(),
        car,
    }
}
