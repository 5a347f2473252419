//! The store's whole life, cut.

use super::disk::{Disk, LOSSES};
use super::promise::Promise;
use super::trace::{Deed, Trace};
use crate::shim::{preload, shim};
use seep_tests::scratch::scratch;
use seep_tests::seeded::Seeded;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Cuts of the test run; each is rebuilt under every kind of loss.
const CUTS: usize = 2_000;

/// What a power cut may cost at most: one commit, s.
const BOUND_S: f64 = 2.0;

fn old_log() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/logs/schema-1.db")
}

/// The ticks in it, as its recipe says.
const OLD_TICKS: [(i64, i64); 2] = [(10_000, 209_900), (400_000, 599_900)];

/// Live through all phases under the shim.
fn life(shim: &Path) -> Trace {
    let folder = scratch();
    let inside = folder.path().join("logs");
    std::fs::create_dir(&inside).expect("made");
    let trace = folder.path().join("trace");
    for phase in ["record", "killed", "retention", "migration", "set-aside"] {
        let mut command = Command::new(env!("CARGO_BIN_EXE_store-steps"));
        command.arg(&inside).arg(phase);
        if phase == "migration" {
            command.arg(old_log());
        }
        preload(&mut command, shim, &inside, ("SEEP_SHIM_TRACE", &trace));
        let done = command.output().expect("runs");
        let said = String::from_utf8_lossy(&done.stderr);
        assert!(done.status.success(), "{phase}: {said}");
    }
    Trace::parse(std::fs::read(&trace).expect("a trace"))
}

/// Moments to cut at: as many in each phase, however short.
fn moments(trace: &Trace, cuts: usize, random: &mut Seeded) -> Vec<(usize, u64)> {
    let starts: Vec<usize> = (0..trace.records.len())
        .filter(|i| trace.text_of_mark(*i).contains(" phase "))
        .collect();
    let mut out: Vec<(usize, u64)> = (0..cuts)
        .map(|i| {
            let phase = i % starts.len();
            let until = starts
                .get(phase + 1)
                .copied()
                .unwrap_or(trace.records.len());
            let at = starts[phase] + random.below(until - starts[phase]);
            (at, random.bits())
        })
        .collect();
    out.sort_unstable();
    out
}

impl Trace {
    fn text_of_mark(&self, i: usize) -> &str {
        let record = &self.records[i];
        if record.name == "marks" {
            self.text(record)
        } else {
            ""
        }
    }

    /// The same program on a disk whose syncs do nothing.
    fn without_syncs(mut self) -> Self {
        let is_sync = |d: &Deed| matches!(d, Deed::Sync | Deed::SyncFolder);
        self.records.retain(|r| !is_sync(&r.deed));
        self
    }
}

#[derive(Debug, Default)]
struct Sum {
    images: usize,
    damaged: Vec<String>,
    lost_ticks: usize,
    worst_loss_s: f64,
    by_phase: BTreeMap<String, usize>,
}

/// Cut at these moments and look at what is left.
fn cut(trace: &Trace, moments: &[(usize, u64)]) -> Sum {
    let folder = scratch();
    let mut sum = Sum::default();
    let mut disk = Disk::default();
    let mut promise = Promise::default();
    let mut done = 0;
    for (at, seed) in moments {
        for i in done..*at {
            disk.apply(trace, &trace.records[i]);
            for line in trace.text_of_mark(i).lines() {
                promise.take(line, &OLD_TICKS);
            }
        }
        done = *at;
        for loss in LOSSES {
            let mut random = Seeded::new(*seed);
            let image = disk.after_cut(trace, loss, &mut random);
            let here = folder.path().join("image");
            let _ = std::fs::remove_dir_all(&here);
            std::fs::create_dir(&here).expect("made");
            for (name, bytes) in image.iter().filter(|(name, _)| *name != "marks") {
                std::fs::write(here.join(name), bytes).expect("written");
            }
            let found = promise.check(&here);
            let where_ = format!("{} at {at}, {loss:?}, seed {seed}", promise.phase);
            sum.damaged
                .extend(found.damaged.iter().map(|d| format!("{where_}: {d}")));
            if found.lost_ticks > 0 && sum.lost_ticks == 0 {
                println!("{where_}: {} acknowledged ticks lost", found.lost_ticks);
            }
            sum.images += 1;
            sum.lost_ticks += found.lost_ticks;
            sum.worst_loss_s = sum.worst_loss_s.max(found.loss_s);
            *sum.by_phase.entry(promise.phase.clone()).or_default() += 1;
        }
    }
    sum
}

/// Two halves at once: the moments are sorted, so each thread replays from the start.
fn cut_on_two_threads(trace: &Trace, moments: &[(usize, u64)]) -> Sum {
    let half = |n: usize| {
        moments
            .iter()
            .copied()
            .skip(n)
            .step_by(2)
            .collect::<Vec<_>>()
    };
    let (one, two) = (half(0), half(1));
    let mut sums = std::thread::scope(|scope| {
        let other = scope.spawn(|| cut(trace, &two));
        [cut(trace, &one), other.join().expect("no panic")]
    })
    .into_iter();
    let mut sum = sums.next().expect("two");
    for more in sums {
        sum.images += more.images;
        sum.damaged.extend(more.damaged);
        sum.lost_ticks += more.lost_ticks;
        sum.worst_loss_s = sum.worst_loss_s.max(more.worst_loss_s);
        for (phase, n) in more.by_phase {
            *sum.by_phase.entry(phase).or_default() += n;
        }
    }
    sum
}

#[test]
fn no_power_cut_damages_a_log_or_takes_what_was_acknowledged() {
    let Some(shim) = shim("no_power_cut_damages_a_log_or_takes_what_was_acknowledged") else {
        return;
    };
    let asked = std::env::var("SEEP_POWER_CUTS").ok();
    let cuts = asked.map_or(CUTS, |n| n.parse().expect("a number of cuts"));
    let trace = life(shim);
    let moments = moments(&trace, cuts, &mut Seeded::new(0x5ee9));
    let sum = cut_on_two_threads(&trace, &moments);
    println!(
        "store: {} records, {cuts} cuts x {} kinds of loss = {} images: {} damaged, {} acknowledged ticks lost, largest loss {} s; {:?}",
        trace.records.len(),
        LOSSES.len(),
        sum.images,
        sum.damaged.len(),
        sum.lost_ticks,
        sum.worst_loss_s,
        sum.by_phase,
    );
    let first: Vec<_> = sum.damaged.iter().take(20).collect();
    assert!(sum.damaged.is_empty(), "{first:#?}");
    assert_eq!(sum.lost_ticks, 0);
    assert!(sum.worst_loss_s <= BOUND_S, "{} s", sum.worst_loss_s);
    assert!(
        sum.worst_loss_s > 0.0,
        "no cut ever cost anything: nothing was cut"
    );
}

/// Would it be noticed? The same life on a disk whose syncs do nothing.
#[test]
fn without_syncs_the_replay_finds_loss() {
    let Some(shim) = shim("without_syncs_the_replay_finds_loss") else {
        return;
    };
    let trace = life(shim).without_syncs();
    let moments = moments(&trace, 40, &mut Seeded::new(7));
    let sum = cut(&trace, &moments);
    println!(
        "control, syncs do nothing: {} images: {} damaged, {} acknowledged ticks lost",
        sum.images,
        sum.damaged.len(),
        sum.lost_ticks
    );
    assert!(sum.lost_ticks > 1_000 && !sum.damaged.is_empty());
}
