//! What several tests of the logs need.

// Each test crate uses its own part of this.
#![allow(dead_code, unreachable_pub)]

use seep_common::codec::nmea::{Item, Lexer, transducers};
use seep_sample_logs::scenario::{BUILTIN, Scenario, builtin};
use seep_sample_logs::{Logs, generate};
use std::sync::OnceLock;

/// One reading of the serial line.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Unix ms.
    pub t_ms: i64,
    /// Transducer.
    pub name: String,
    /// Value in the unit it was sent in.
    pub value: Option<f64>,
}

/// Every reading of a log, in order.
pub fn readings(nmea: &[u8]) -> Vec<Reading> {
    let mut all = Vec::new();
    Lexer::new().push(nmea, &mut |item| {
        if let Item::Sentence(sentence) = item {
            all.extend(transducers(&sentence).map(|t| Reading {
                t_ms: sentence.tag_ms.expect("a time").0,
                name: t.name.into(),
                value: t.value,
            }));
        }
    });
    all
}

/// Every scenario that comes with the project and its logs, run once.
pub fn builtin_logs() -> &'static [(Scenario, Logs)] {
    static ALL: OnceLock<Vec<(Scenario, Logs)>> = OnceLock::new();
    ALL.get_or_init(|| {
        let run = |name| {
            let scenario = builtin(name).expect(name);
            let logs = generate(&scenario);
            (scenario, logs)
        };
        BUILTIN.iter().map(|known| run(known.name)).collect()
    })
}

/// Check every one of them.
pub fn each_builtin(check: impl Fn(&Scenario, &Logs)) {
    for (scenario, logs) in builtin_logs() {
        check(scenario, logs);
    }
}

/// The logs of one of them.
pub fn logs_of(name: &str) -> &'static Logs {
    let found = builtin_logs().iter().find(|(s, _)| s.name == name);
    &found.expect(name).1
}
