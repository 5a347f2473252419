//! Rates against the truth file: what `seep` tells of a recorded car lies, with
//! its interval, around what the simulator knows.
//!
//! Every built-in scenario goes through the real recorder and the real report.
//! Cars of other seeds are scored by a share, for of honest 95 % intervals one
//! in twenty misses. `SEEP_RATES_SEEDS=401,402 cargo test -p seep-tests --test
//! e2e rates -- --nocapture` scores cars of your own seeds and prints it.

mod car;
mod duty;
mod leaks;
mod moves;

use car::Car;
use seep_sample_logs::scenario::{BUILTIN, builtin};

/// Seeds on which nothing was ever fitted or set.
const OTHER_SEEDS: [u64; 2] = [9_001, 9_002];

/// Hits and tries.
#[derive(Debug, Default, Clone, Copy)]
struct Score {
    hits: usize,
    tries: usize,
}

impl Score {
    fn count(&mut self, hit: bool) {
        self.hits += usize::from(hit);
        self.tries += 1;
    }

    fn add(&mut self, other: Score) {
        self.hits += other.hits;
        self.tries += other.tries;
    }

    fn percent(self) -> f64 {
        100.0 * self.hits as f64 / self.tries.max(1) as f64
    }
}

fn every_builtin() -> impl Iterator<Item = Car> {
    BUILTIN
        .iter()
        .map(|known| Car::of(&builtin(known.name).expect("built in")))
}

#[test]
fn every_leak_of_the_scenarios_lies_in_its_interval() {
    for car in every_builtin() {
        leaks::true_leaks_are_told(&car);
        leaks::tight_places_are_not_accused(&car);
    }
}

#[test]
fn conductances_of_the_scenarios_lie_in_their_intervals() {
    let mut all = Score::default();
    for car in every_builtin() {
        let one = moves::conductances(&car);
        println!("{}: {one:?}, {:.1} %", car.name, one.percent());
        all.add(one);
        moves::drift_has_the_right_sign(&car);
    }
    // The shares of a volume table's error in all moves of a path hang
    // together, so the share scatters more than that of as many coins.
    assert!(all.percent() >= 90.0 && all.tries > 200, "{all:?}");
}

#[test]
fn duty_and_delivery_of_the_scenarios_are_the_true_ones() {
    for car in every_builtin() {
        duty::run_hours_and_duty(&car);
        duty::worst_ten_minutes(&car);
        duty::delivery(&car);
    }
}

#[test]
fn intervals_hold_the_truth_for_cars_of_other_seeds() {
    let asked = std::env::var("SEEP_RATES_SEEDS").unwrap_or_default();
    let asked: Vec<u64> = asked
        .split(',')
        .filter_map(|s| s.trim().parse().ok())
        .collect();
    let seeds = if asked.is_empty() {
        OTHER_SEEDS.to_vec()
    } else {
        asked
    };
    let (mut leak, mut places, mut paths) = (Score::default(), Score::default(), Score::default());
    for seed in &seeds {
        for known in BUILTIN {
            let car = Car::of(&builtin(known.name).expect("built in").varied(*seed));
            let one = leaks::coverage(&car);
            leak.add(one.leaks);
            places.add(one.places);
            paths.add(moves::conductances(&car));
        }
    }
    println!(
        "seeds {seeds:?}: true leaks {leak:?} {:.1} %, all places {places:?} {:.1} %, moves {paths:?} {:.1} %",
        leak.percent(),
        places.percent(),
        paths.percent()
    );
    // 76 places at 95 %: fewer than 89 % of them have odds of about 1 in 50.
    assert!(places.percent() >= 89.0, "{places:?}");
    assert!(leak.percent() >= 80.0, "{leak:?}");
    assert!(paths.percent() >= 90.0, "{paths:?}");
}
