//! Whatever happens to a running recorder, in an order that a seed chooses, every
//! reading sent is in exactly one of: stored once at the right time, counted as
//! lost with a cause that is true, or younger than the promise.
//!
//! The wall clock that is stepped is one that the recorder alone sees.

mod deck;
mod deeds;
mod history;
mod judge;
mod sender;

use deck::Deck;
use deeds::Stage;
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
    let mut deck = Deck::default();
    // However short, every kind of deed is done.
    while (Instant::now() < until || deck.rounds() == 0) && stage.trouble.is_none() {
        let most_ms = if deck.rounds() == 0 { 1_500 } else { 2_500 };
        std::thread::sleep(Duration::from_millis(random.below(most_ms) as u64));
        let deed = deck.deal(&mut random);
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
