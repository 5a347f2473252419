//! Commits: rare while nothing moves, the usual ones at once when something
//! does; and what a power cut takes in either state. All data invented.

use super::bench::set_synced;
use crate::clock::{Clock, VirtualClock};
use crate::run::live_session::LiveSession;
use crate::session::StorageCommand;
use crate::source::live::SourceEvent;
use crate::source::{Item, Payload};
use seep_common::rig::Rig;
use seep_common::sample::ChannelIndex;
use seep_common::time::{BootMs, WallMs};
use std::sync::Arc;

const RIG: &str = r#"
[vehicle]
name = "invented"
[[circuit]]
name = "front_left"
[[source]]
name = "box"
kind = "nmea"
device = "/dev/null"
[[channel]]
name = "front_left_kpa_gauge"
source = "box"
transducer = "P"
[[channel]]
name = "front_left_fill"
source = "box"
transducer = "F"
[[channel]]
name = "vehicle_kmh"
source = "box"
transducer = "V"
"#;

/// What a cut takes at most, s: a commit, two held back, one row.
const AWAKE_S: f64 = 2.0 + 2.0 + 1.0;
const AT_REST_S: f64 = 300.0 + 2.0 + 1.0;

/// A looks-every-second may add one.
const LOOK_S: f64 = 1.0;

struct RestBench {
    clock: Arc<VirtualClock>,
    session: LiveSession,
    /// When something was ordered to be stored, and the last row in it, s.
    stored: Vec<(f64, f64)>,
    start_ms: BootMs,
}

fn is_synced() -> bool {
    true
}

impl RestBench {
    fn new() -> Self {
        set_synced(true);
        let start_ms = BootMs(50_000);
        let clock = Arc::new(VirtualClock::at(start_ms, WallMs(1_790_000_000_000)));
        let rig = Rig::parse(RIG).expect("valid");
        let session = LiveSession::begin(&rig, clock.clone(), is_synced, &mut |_| ());
        RestBench {
            clock,
            session,
            stored: vec![(0.0, 0.0)],
            start_ms,
        }
    }

    fn now_s(&self) -> f64 {
        self.clock.boot_ms().since(self.start_ms) as f64 / 1000.0
    }

    /// Ten readings a second; returns the most that a cut would have taken, s.
    fn say(&mut self, seconds: u32, kpa: f64, fill: f64, kmh: f64) -> f64 {
        let mut worst_s = 0.0_f64;
        for tenth in 0..seconds * 10 {
            self.clock.pass(100);
            let t_ms = self.clock.boot_ms();
            let values = [kpa, fill, kmh];
            let items = values.iter().enumerate().map(|(i, v)| Item {
                t_ms,
                payload: Payload::Reading(ChannelIndex(i as u16), *v),
            });
            let (now_s, start_ms) = (self.now_s(), self.start_ms);
            let stored = &mut self.stored;
            let mut command = |command| {
                if let StorageCommand::Store(batch) = command
                    && let Some(last) = batch.ticks.last()
                {
                    stored.push((now_s, last.t_ms.since(start_ms) as f64 / 1000.0));
                }
            };
            self.session
                .take(SourceEvent::Items(items.collect()), &mut command);
            if tenth % 10 == 9 {
                self.session.pass(&mut command);
            }
            let (_, last_s) = self.stored[self.stored.len() - 1];
            worst_s = worst_s.max(now_s - last_s);
        }
        worst_s
    }

    /// Commits of the last so many seconds.
    fn commits(&self, of_last_s: f64) -> usize {
        let from_s = self.now_s() - of_last_s;
        self.stored.iter().filter(|s| s.0 > from_s).count()
    }
}

#[test]
fn commits_are_rare_only_after_nothing_has_moved_for_five_minutes() {
    let mut bench = RestBench::new();
    // The start counts as movement: whoever starts the car is about to drive.
    let worst_s = bench.say(299, 500.0, 0.0, 0.0);
    assert!(worst_s <= AWAKE_S, "{worst_s} s");
    assert!((145..=150).contains(&bench.commits(298.0)));
    bench.say(10, 500.0, 0.0, 0.0);
    let worst_s = bench.say(3_600, 500.0, 0.0, 0.0);
    assert!((11..=13).contains(&bench.commits(3_600.0)));
    assert!(worst_s > AWAKE_S, "or the rest would be no rest");
    assert!(worst_s <= AT_REST_S + LOOK_S, "{worst_s} s");
}

#[test]
fn whatever_moves_brings_the_usual_commits_back_at_once() {
    let mut bench = RestBench::new();
    for (kpa, fill, kmh) in [(500.0, 1.0, 0.0), (560.0, 0.0, 0.0), (500.0, 0.0, 12.0)] {
        bench.say(900, 500.0, 0.0, 0.0);
        assert!(bench.commits(550.0) <= 3, "at rest");
        // Half a minute into a rest that was not committed yet.
        let first_s = bench.say(1, kpa, fill, kmh);
        assert!(first_s <= AT_REST_S + LOOK_S, "{first_s} s");
        assert!(
            bench.commits(1.0) >= 1,
            "what waited is stored with the first move"
        );
        bench.say(5, kpa, fill, kmh);
        let worst_s = bench.say(100, 500.0, 0.0, 0.0);
        assert!(worst_s <= AWAKE_S, "{worst_s} s");
        assert!(bench.commits(100.0) >= 49);
    }
}

#[test]
fn a_notice_is_not_kept_waiting_by_rest() {
    let mut bench = RestBench::new();
    bench.say(800, 500.0, 0.0, 0.0);
    let before = bench.stored.len();
    bench.say(5, 500.0, 0.0, 0.0);
    bench.session.note("something worth knowing".into());
    bench.say(3, 500.0, 0.0, 0.0);
    assert!(bench.stored.len() > before);
}
