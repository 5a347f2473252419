//! Listening without a rig: which lines and buses there are, and what they say.
//! Nothing is ever sent.

mod bus;
mod line;
mod places;

#[cfg(test)]
mod tests;

pub(crate) use places::{interfaces, ports};

use crate::heard::{BusSurvey, Heard, LineSurvey};
use seep_common::codec::dbc::Database;
use std::sync::{Arc, Mutex, PoisonError};
use tokio::time::Instant;

/// What is listened to, each with what was heard so far.
pub(crate) struct Survey {
    begun: Instant,
    lines: Vec<Arc<Mutex<LineSurvey>>>,
    buses: Vec<Arc<Mutex<BusSurvey>>>,
}

impl Survey {
    /// Start listening; must be called inside a tokio runtime.
    pub(crate) fn start(
        ports: &[String],
        interfaces: &[String],
        databases: &Arc<Vec<Database>>,
    ) -> Self {
        let begun = Instant::now();
        let lines = ports.iter().map(|port| {
            let survey = LineSurvey::new(port.clone(), true);
            let shared = Arc::new(Mutex::new(survey));
            tokio::spawn(line::listen(port.clone(), shared.clone(), begun));
            shared
        });
        let buses = interfaces.iter().map(|name| {
            let survey = BusSurvey::new(name.clone(), name.clone(), true, databases.clone());
            let shared = Arc::new(Mutex::new(survey));
            tokio::spawn(bus::listen(name.clone(), shared.clone(), begun));
            shared
        });
        Survey {
            begun,
            lines: lines.collect(),
            buses: buses.collect(),
        }
    }

    /// What was heard so far.
    pub(crate) fn heard(&self) -> Heard {
        let lines = self.lines.iter().map(|l| lock(l).heard()).collect();
        let buses = self.buses.iter().map(|b| lock(b).heard()).collect();
        Heard::new(self.begun.elapsed().as_secs_f64(), lines, buses)
    }
}

fn lock<T>(shared: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}
