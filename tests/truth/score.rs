//! One car scored: sound, with its fault, and with a leak exactly at the limit that
//! the report printed for it when it was sound.

use crate::car::{Car, case_of, healthy, with_fault};
use crate::case::Case;
use crate::claim::{Claim, claims};
use crate::class::Class;
use crate::cli::Options;
use crate::coverage::{Coverage, coverage, true_conductance};
use crate::expect::{is_consequence, is_of_air, is_right};
use crate::outcome::{reached_stop, share_in_12_h, tolerable_share, usual};
use crate::path;
use crate::size_limit::Size;
use crate::view::{View, view};
use seep_sample_logs::rng::Noise;
use seep_sample_logs::scenario::{Fault, FaultKind};
use seep_sample_logs::truth::Truth;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

/// One log, judged.
#[derive(Debug)]
pub(crate) struct Run {
    /// The car.
    pub car: Car,
    /// What was claimed, in the order of the report.
    pub claims: Vec<Claim>,
    /// What the report says of the air.
    pub view: View,
    /// Coverage of its intervals.
    pub coverage: Coverage,
    /// For a fault that is no leak: its size against the limit claimed.
    pub size: Option<Size>,
    /// Every fitted rest with its truth, as CSV.
    pub rests: String,
    /// Seconds for simulating and recording, and for judging.
    pub took_s: (f64, f64),
}

/// What a fault did, and what was said of it.
#[derive(Debug)]
pub(crate) struct FaultRun {
    /// The log.
    pub run: Run,
    /// True conductance over the rests, cm³/min, of the first fault's volume.
    pub conductance: Option<f64>,
    /// The limit that the report printed for that volume of the sound car.
    pub limit: Option<f64>,
    /// The corner came down to its stop.
    pub reached_stop: bool,
    /// Air lost in 12 h over what is tolerable.
    pub over_tolerable: f64,
}

impl FaultRun {
    /// A claim is right.
    pub(crate) fn is_right(&self, claim: &Claim) -> bool {
        is_right(self.run.car.case, &self.run.car.scenario.faults, claim)
    }

    /// Position of the first right claim.
    pub(crate) fn right_at(&self) -> Option<usize> {
        self.run.claims.iter().position(|c| self.is_right(c))
    }

    /// True size over the printed limit of the sound car.
    pub(crate) fn over_limit(&self) -> Option<f64> {
        Some(self.conductance?.abs() / self.limit?)
    }

    /// A plain leak above the printed limit.
    pub(crate) fn is_above_limit(&self) -> bool {
        self.run.car.case.is_plain() && self.over_limit().is_some_and(|r| r >= 1.0)
    }

    /// Claims that are neither right nor follow from it.
    pub(crate) fn wrong(&self) -> usize {
        let wrong = |c: &&Claim| !self.is_right(c) && !is_consequence(c);
        self.run.claims.iter().filter(wrong).count()
    }
}

/// A leak at the printed limit.
#[derive(Debug)]
pub(crate) struct LimitRun {
    /// Where.
    pub place: String,
    /// The limit, cm³/min.
    pub limit: f64,
    /// It was named there.
    pub named: bool,
    /// It was named first.
    pub first: bool,
}

/// One car.
#[derive(Debug)]
pub(crate) struct Scored {
    /// Sound.
    pub sound: Run,
    /// With its fault.
    pub fault: Option<FaultRun>,
    /// With a leak at the limit.
    pub limit: Option<LimitRun>,
}

impl Scored {
    /// Its class.
    pub(crate) fn class(&self) -> Class {
        self.sound.car.class
    }
}

/// Run every car, several at a time; the order of seeds is kept.
pub(crate) fn run(options: &Options) -> Vec<Scored> {
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
                    let scored = score(options.seed + i, i, options);
                    if options.verbose {
                        eprint!("{}", crate::table::lines(&scored));
                    }
                    done.lock().expect("no car panicked").push(scored);
                }
            });
        }
    });
    let mut all = done.into_inner().expect("no car panicked");
    all.sort_by_key(|c: &Scored| c.sound.car.seed);
    all
}

/// Every so many logs the printed report is compared with the judgement.
const PRINTED_EVERY: u64 = 20;

fn score(seed: u64, number: u64, options: &Options) -> Scored {
    let class = options.class.unwrap_or_else(|| Class::of_seed(seed));
    let car = healthy(seed, options.weeks, class, &options.without);
    let (sound, truth) = judged(car, "sound", number.is_multiple_of(PRINTED_EVERY), options);
    let limit = options
        .at_limit
        .then(|| at_limit(&sound, &truth, options))
        .flatten();
    let fault = options.faults.then(|| faulty(&sound, options));
    Scored {
        fault,
        limit,
        sound,
    }
}

fn judged(car: Car, name: &str, print: bool, options: &Options) -> (Run, Truth) {
    let begin = Instant::now();
    let scratch = tempfile::tempdir().expect("a scratch folder can be made");
    let key = format!("{}-{}-{name}", car.seed, options.weeks);
    let kept = |keep: &PathBuf| keep.join(key);
    let folder = options
        .keep
        .as_ref()
        .map_or_else(|| scratch.path().to_path_buf(), kept);
    let truth = path::logged(&car.scenario, &folder);
    let made_s = begin.elapsed().as_secs_f64();
    let run = read(car, &truth, &folder.join("trip.db"), made_s);
    if print {
        let printed = path::printed_findings(&folder.join("trip.db"), scratch.path());
        let asks = run.1;
        assert_eq!(printed.len(), asks, "seep trip");
    }
    (run.0, truth)
}

fn read(car: Car, truth: &Truth, log: &Path, made_s: f64) -> (Run, usize) {
    let begin = Instant::now();
    let judged = path::judge_log(log);
    let judged_s = begin.elapsed().as_secs_f64();
    let view = view(&judged);
    let run = Run {
        rests: crate::rests::lines(&car, &view, truth),
        claims: claims(&judged, truth),
        coverage: coverage(&view, truth),
        size: crate::size_limit::of(&car, &judged, truth),
        view,
        took_s: (made_s, judged_s),
        car,
    };
    (run, judged.judgement.findings.len())
}

fn faulty(sound: &Run, options: &Options) -> FaultRun {
    let seed = sound.car.seed;
    let case = options
        .only
        .unwrap_or_else(|| case_of(seed, sound.car.scenario.circuits.len()));
    let car = with_fault(&sound.car, case);
    let (run, truth) = judged(car, case.word(), false, options);
    let place = truth.place.clone();
    let conductance = true_conductance(&run.view, &place, &truth);
    let anr_l = usual(&truth, &place).map(|u| u.1);
    let share = conductance.zip(anr_l).map(|(c, l)| share_in_12_h(c, l));
    let tolerable = tolerable_share(&truth, &run.car.scenario, &place);
    FaultRun {
        conductance,
        limit: sound.view.limit(&place),
        reached_stop: reached_stop(&truth, &run.car.scenario, &place),
        over_tolerable: share.unwrap_or(0.0) / tolerable,
        run,
    }
}

/// Reference pressures of the simulator's leak sizes, kPa absolute.
const REFERENCE_KPA: [f64; 2] = [601.325, 1_101.325];

/// The sound car with a hole that passes, at the usual pressure, what the report
/// says it can just see.
fn at_limit(sound: &Run, truth: &Truth, options: &Options) -> Option<LimitRun> {
    let limits: Vec<(String, f64)> = sound
        .view
        .pooled
        .iter()
        .filter_map(|p| Some((p.place.clone(), p.limit?)))
        .collect();
    if limits.is_empty() {
        return None;
    }
    let mut draw = Noise::new(sound.car.seed, "limit");
    let at = (draw.uniform() * limits.len() as f64) as usize;
    let (place, limit) = limits[at].clone();
    let tank = place == "tank";
    let own = true_conductance(&sound.view, &place, truth)?;
    let kpa_abs = usual(truth, &place)?.0 + 100.0;
    // A choked hole passes in proportion to the absolute pressure.
    let size = (limit - own) * REFERENCE_KPA[usize::from(tank)] / kpa_abs;
    let kind = if tank {
        FaultKind::TankLeak
    } else {
        FaultKind::CornerLeak
    };
    let mut car = sound.car.clone();
    car.case = if tank {
        Case::TankLeak
    } else {
        Case::CornerLeak
    };
    car.scenario.faults = vec![Fault {
        b: 0.3,
        ..Fault::leak(kind, &place, size.max(0.01))
    }];
    let (run, _) = judged(car, &format!("limit-{place}-{limit:.4}"), false, options);
    let right = |c: &Claim| is_right(run.car.case, &run.car.scenario.faults, c);
    let air: Vec<&Claim> = run.claims.iter().filter(|c| is_of_air(c)).collect();
    Some(LimitRun {
        named: air.iter().any(|c| right(c)),
        first: air.first().is_some_and(|c| right(c)),
        place,
        limit,
    })
}
