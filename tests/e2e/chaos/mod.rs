//! Whatever happens to a running recorder, in an order that a seed chooses, every
//! reading sent is in exactly one of: stored once at the right time, counted as
//! lost with a cause that is true, or younger than the promise.
//!
//! The wall clock is not stepped: the recorder asks the kernel directly, so that
//! no preloaded library can answer, and a step of the machine's clock would hit
//! other programs. Steps are tested with a virtual clock in the daemon itself.

mod deeds;
mod history;
mod judge;
mod sender;

use deeds::{Deed, Stage};
use seep_tests::seeded::Seeded;
use std::time::{Duration, Instant};

/// Length of the test run; the long form is asked for by `SEEP_CHAOS_SECONDS=600`.
const SECONDS: u64 = 60;

fn asked(name: &str, usual: u64) -> u64 {
    let text = std::env::var(name);
    text.map_or(usual, |n| n.parse().expect("a number"))
}

#[test]
fn every_reading_is_stored_once_or_counted_with_a_true_cause_or_young() {
    let seed = asked("SEEP_CHAOS_SEED", 1);
    let until = Instant::now() + Duration::from_secs(asked("SEEP_CHAOS_SECONDS", SECONDS));
    let mut random = Seeded::new(seed);
    let mut stage = Stage::new();
    while Instant::now() < until && stage.trouble.is_none() {
        std::thread::sleep(Duration::from_millis(random.below(2_500) as u64));
        let deed = Deed::choose(&mut random);
        stage.carry_out(&deed, &mut random);
    }
    let (bench, history, sent) = stage.end();
    let verdict = judge::judge(&bench, &history, &sent);
    println!("seed {seed}: {verdict}");
    assert!(
        verdict.is_sound(),
        "SEEP_CHAOS_SEED={seed} makes it again: {verdict}\n{}\nwhat happened:\n{history}",
        verdict.complaints()
    );
}
