//! A hundred random histories of a machine without a clock battery.

use super::bench::{TestRecorder, set_synced};
use crate::clock::{Clock, VirtualClock};
use seep_common::rig::Rig;
use seep_common::store::{ClockMap, ClockState, Reader};
use seep_common::time::{BootMs, LogMs, WallMs};
use std::sync::Arc;

const RIG: &str = r#"
[vehicle]
name = "invented"
[recorder]
commit_s = 5
[[source]]
name = "box"
kind = "nmea"
device = "/dev/null"
[[channel]]
name = "tank_kpa_gauge"
source = "box"
transducer = "TANK"
"#;

const HISTORIES: u64 = 100;

/// 2026-01-01, ms.
const TRUTH_START_MS: i64 = 1_767_225_600_000;

const YEAR_MS: i64 = 365 * 86_400_000;

/// Small and seeded (xorshift, Marsaglia 2003); the same in every run.
struct Dice(u64);

impl Dice {
    fn upto(&mut self, n: i64) -> i64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % n as u64) as i64
    }

    fn one_in(&mut self, n: i64) -> bool {
        self.upto(n) == 0
    }
}

/// What really was, for each session.
struct TrueSession {
    /// True wall time minus boot time, ms.
    epoch_ms: i64,
    /// The clock was right at the end of the boot.
    synced: bool,
}

fn history(seed: u64, log: &std::path::Path) -> Vec<TrueSession> {
    let mut dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
    let rig = Rig::parse(RIG).expect("valid");
    let mut sessions: Vec<TrueSession> = Vec::new();
    let mut true_ms = TRUTH_START_MS + dice.upto(1_000_000_000);
    for boot in 0..2 + dice.upto(3) {
        let boot_ms = dice.upto(60_000);
        let epoch_ms = true_ms - boot_ms;
        let wrong_ms = match dice.upto(4) {
            0 => 0,
            // A repeated minute: the time saved before the cut.
            1 => -dice.upto(90_000_000),
            2 => -dice.upto(50 * YEAR_MS),
            _ => dice.upto(50 * YEAR_MS),
        };
        let clock = Arc::new(VirtualClock::at(
            BootMs(boot_ms),
            WallMs(true_ms + wrong_ms),
        ));
        let mut error_ms = wrong_ms;
        set_synced(false);
        let first = sessions.len();
        let mut synced = false;
        for _ in 0..1 + dice.upto(2) {
            let mut recorder = TestRecorder::start(log, &format!("boot-{boot}"), &rig, &clock);
            sessions.push(TrueSession {
                epoch_ms,
                synced: false,
            });
            for _ in 0..15 + dice.upto(25) {
                clock.pass(1_000);
                recorder.say(&[800.0]);
                recorder.pass();
                if !synced && dice.one_in(30) {
                    // Somebody sets the clock by hand, a little wrong.
                    let by_hand = dice.upto(60_000) - 30_000;
                    clock.step_wall(by_hand - error_ms);
                    error_ms = by_hand;
                } else if !synced && dice.one_in(25) {
                    clock.step_wall(-error_ms);
                    error_ms = 0;
                    synced = true;
                    set_synced(true);
                } else if synced && dice.one_in(40) {
                    // The network is away; the crystal drifts.
                    set_synced(false);
                    synced = false;
                    error_ms = dice.upto(600) - 300;
                    clock.step_wall(error_ms);
                }
            }
            recorder.pass();
            if dice.one_in(3) {
                recorder.cut();
            } else {
                recorder.stop();
            }
            clock.pass(dice.upto(30_000));
        }
        for session in &mut sessions[first..] {
            session.synced = synced;
        }
        true_ms = epoch_ms + clock.boot_ms().0 + dice.upto(10 * 86_400_000);
    }
    sessions
}

#[test]
fn log_time_rises_and_dates_are_right_once_the_clock_is() {
    let (mut rows, mut dated) = (0, 0);
    for seed in 1..=HISTORIES {
        let folder = tempfile::tempdir().expect("scratch");
        let log = folder.path().join("a.db");
        let truth = history(seed, &log);
        let reader = Reader::open(&log).expect("a log");
        let sessions = reader.sessions().expect("read");
        assert_eq!(sessions.len(), truth.len(), "seed {seed}");
        let clock = ClockMap::new(&reader.clock_rows().expect("read"));
        let mut last_t_ms = i64::MIN;
        for (session, truth) in sessions.iter().zip(&truth) {
            let start_boot_ms = session.start.start_boot_ms.expect("live");
            let t = reader
                .columns(
                    &["tank_kpa_gauge"],
                    session.start.t_ms,
                    session.end_t_ms.plus(1),
                )
                .expect("read")
                .t_ms;
            for t_ms in t {
                assert!(t_ms > last_t_ms, "seed {seed}: log time went back");
                last_t_ms = t_ms;
                rows += 1;
                let since_start_ms = LogMs(t_ms).since(session.start.t_ms);
                let true_ms = truth.epoch_ms + start_boot_ms.plus(since_start_ms).0;
                if truth.synced {
                    let told_ms = clock.wall_ms(t_ms).expect("dated");
                    assert!(
                        (told_ms - true_ms).abs() <= 1_000,
                        "seed {seed}: {told_ms} instead of {true_ms}"
                    );
                    assert_ne!(clock.state(t_ms), Some(ClockState::Unsynced), "seed {seed}");
                    dated += 1;
                }
            }
        }
    }
    println!("{HISTORIES} histories, {rows} rows, {dated} of them in boots that synced");
    assert!(dated * 4 > rows, "the histories must not all be hopeless");
}
