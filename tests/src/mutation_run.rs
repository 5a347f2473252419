//! `mutation-run TARGET MINUTES [SEED]`: seeded mutations of a target's corpus for
//! so many minutes, without coverage guidance. `mutation-run TARGET FILE…` runs
//! single inputs; `mutation-run TARGET words` prints the words of its language as
//! libFuzzer's dictionary. What is being run lies in the folder named at the start, so that
//! a crash, a hang or a want of memory leaves its input behind.

use seep_tests::fuzz::mutate::mutated;
use seep_tests::fuzz::{TARGETS, Target, corpus};
use seep_tests::seeded::Seeded;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// An input that takes longer has hung.
const HUNG: Duration = Duration::from_secs(60);

/// Address space the process may use, bytes: more is growth without bound.
const MOST_MEMORY: u64 = 4 << 30;

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let target = args.first().and_then(|name| known(name));
    let (Some(target), Some(second)) = (target, args.get(1)) else {
        let names: Vec<_> = TARGETS.iter().map(|t| t.name).collect();
        eprintln!(
            "usage: mutation-run TARGET MINUTES [SEED] | mutation-run TARGET FILE… | mutation-run TARGET words\ntargets: {}",
            names.join(", ")
        );
        return ExitCode::from(2);
    };
    if second == "words" {
        print!("{}", dictionary(target));
        return ExitCode::SUCCESS;
    }
    limit_memory();
    if let Ok(minutes) = second.parse::<f64>() {
        let seed = args.get(2).and_then(|s| s.parse().ok()).unwrap_or(1);
        return run_for(target, minutes, seed);
    }
    for file in &args[1..] {
        let began = Instant::now();
        (target.run)(&std::fs::read(file).expect("readable"));
        println!("{file}: {:.2} s", began.elapsed().as_secs_f64());
    }
    ExitCode::SUCCESS
}

fn known(name: &str) -> Option<&'static Target> {
    TARGETS.iter().find(|target| target.name == name)
}

/// One word per line, every byte escaped.
fn dictionary(target: &Target) -> String {
    let escaped = |word: &&str| -> String {
        let bytes: String = word.bytes().map(|b| format!("\\x{b:02X}")).collect();
        format!("\"{bytes}\"\n")
    };
    target.words.iter().map(escaped).collect()
}

fn limit_memory() {
    let limit = rustix::process::Rlimit {
        current: Some(MOST_MEMORY),
        maximum: Some(MOST_MEMORY),
    };
    rustix::process::setrlimit(rustix::process::Resource::As, limit).expect("a limit can be set");
}

fn run_for(target: &Target, minutes: f64, seed: u64) -> ExitCode {
    note_panics();
    let current = kept(target);
    println!(
        "{}: seed {seed}, inputs pass through {}",
        target.name,
        current.display()
    );
    let inputs = corpus(target.name);
    let mut seeded = Seeded::new(seed);
    let began = Instant::now();
    let (mut runs, mut bytes, mut slowest) = (0u64, 0u64, Duration::ZERO);
    watch(began);
    for input in &inputs {
        one(target, input, &current, began);
    }
    while began.elapsed().as_secs_f64() < minutes * 60.0 {
        let input = mutated(&inputs, target, &mut seeded);
        let took = one(target, &input, &current, began);
        runs += 1;
        bytes += input.len() as u64;
        if took > slowest {
            slowest = took;
            let name = current.with_extension("slowest");
            std::fs::write(name, &input).expect("written");
        }
    }
    let findings = FINDINGS.lock().expect("no panic while held").len();
    println!(
        "{}: {} inputs of the corpus, {runs} mutations, {bytes} bytes in {:.0} s; slowest {:.0} ms; at most {} of memory; {findings} findings",
        target.name,
        inputs.len(),
        began.elapsed().as_secs_f64(),
        slowest.as_secs_f64() * 1000.0,
        peak_memory()
    );
    if findings == 0 {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

fn one(target: &Target, input: &[u8], current: &Path, began: Instant) -> Duration {
    std::fs::write(current, input).expect("written");
    let start = Instant::now();
    STARTED_MS.store((start - began).as_millis() as u64 + 1, Ordering::SeqCst);
    let done = std::panic::catch_unwind(|| (target.run)(input));
    STARTED_MS.store(0, Ordering::SeqCst);
    if done.is_err() {
        keep_finding(input, current);
    }
    start.elapsed()
}

/// The place of the last panic and what it said.
static LAST_PANIC: Mutex<(String, String)> = Mutex::new((String::new(), String::new()));

/// Every place that has panicked, once.
static FINDINGS: Mutex<BTreeSet<String>> = Mutex::new(BTreeSet::new());

fn note_panics() {
    std::panic::set_hook(Box::new(|told| {
        let place = told.location().map(ToString::to_string).unwrap_or_default();
        if let Ok(mut last) = LAST_PANIC.lock() {
            *last = (place, told.to_string());
        }
    }));
}

/// One input for each place of a panic.
fn keep_finding(input: &[u8], current: &Path) {
    let (place, said) = LAST_PANIC.lock().expect("no panic while held").clone();
    let mut findings = FINDINGS.lock().expect("no panic while held");
    if findings.insert(place) {
        let name = current.with_extension(format!("finding-{}", findings.len()));
        std::fs::write(&name, input).expect("written");
        println!("FINDING {}: {said}", name.display());
    }
}

/// When the input being run was begun, ms since the start; 0 between two.
static STARTED_MS: AtomicU64 = AtomicU64::new(0);

fn watch(began: Instant) {
    std::thread::spawn(move || {
        loop {
            std::thread::sleep(Duration::from_secs(1));
            let started = STARTED_MS.load(Ordering::SeqCst);
            let now = began.elapsed().as_millis() as u64;
            if started > 0 && now.saturating_sub(started) > HUNG.as_millis() as u64 {
                eprintln!("this input takes more than {} s", HUNG.as_secs());
                std::process::abort();
            }
        }
    });
}

fn kept(target: &Target) -> PathBuf {
    let folder = std::env::temp_dir().join(format!("seep-mutation-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("made");
    folder.join(target.name)
}

fn peak_memory() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.map_or("unknown".into(), |l| l.trim().to_string())
}
