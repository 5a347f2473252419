//! The air ledger of a digest: of the whole span, and of any window.

use crate::analysis::air::Vessel;
use crate::analysis::leak::PooledLeak;
use crate::analysis::ledger::{Ledger, LedgerInput, VolumeEntry, balance};
use crate::analysis::moves::Move;
use crate::analysis::stats::mean;
use crate::digest::{CompressorDigest, Digest, PlaceChannels};
use crate::findings::place_words;
use seep_common::channel::Quantity;
use seep_common::rig::Rig;
use std::collections::BTreeSet;

/// The ledger from the first to the last reading at rest, or why there is none.
#[derive(Debug, Clone)]
pub struct SpanLedger {
    /// Begin and end, log time s.
    pub span_s: (f64, f64),
    /// Its entries.
    pub ledger: Ledger,
    /// Air that openings without a measured amount may have moved, ANR L: their number times
    /// the mean amount of the measured moves.
    pub unmeasured_l: f64,
}

/// A remainder this many standard errors from zero is a finding: by chance one of a thousand.
const NAMED_AT: f64 = 3.3;

impl SpanLedger {
    /// Returns the ledger of the whole span.
    ///
    /// # Errors
    /// A sentence without its full stop: which reading or which value of the rig is missing.
    pub(super) fn of(digest: &Digest, rig: &Rig, leaks: &[PooledLeak]) -> Result<Self, String> {
        if let Some(missing) = missing(digest) {
            return Err(missing);
        }
        let span_s = rest_span_s(digest).ok_or("nothing stood still for long enough")?;
        let ledger = window_ledger(digest, rig, leaks, span_s);
        if ledger.volumes.iter().all(|v| v.place != "tank") {
            return Err("the tank needs two quiet moments".into());
        }
        Ok(SpanLedger {
            span_s,
            ledger,
            unmeasured_l: unmeasured_l(digest),
        })
    }

    /// Returns the volumes whose remainder differs from zero by more than openings without a
    /// measured amount may have moved.
    #[must_use]
    pub fn unbalanced(&self) -> Vec<&VolumeEntry> {
        let off = |v: &&VolumeEntry| {
            let remainder = &v.unexplained;
            remainder.se > 0.0
                && remainder.value.abs() - self.unmeasured_l > NAMED_AT * remainder.se
        };
        self.ledger.volumes.iter().filter(off).collect()
    }
}

fn unmeasured_l(digest: &Digest) -> f64 {
    let amounts: Vec<f64> = digest.moves.iter().map(|m| m.amount_anr_l.abs()).collect();
    digest.unmeasured_moves as f64 * mean(&amounts).unwrap_or(0.0)
}

/// Returns the ledger of a window, log time s.
pub(crate) fn window_ledger(
    digest: &Digest,
    rig: &Rig,
    leaks: &[PooledLeak],
    window_s: (f64, f64),
) -> Ledger {
    let of_all = |c: &CompressorDigest| {
        let measured = c.runs.iter().map(|r| (r.from_ms, r.to_ms));
        c.timeline
            .runs()
            .iter()
            .copied()
            .chain(measured)
            .collect::<Vec<_>>()
    };
    let runs_ms: Vec<(i64, i64)> = digest.compressors.iter().flat_map(of_all).collect();
    balance(&LedgerInput {
        vessels: &digest.vessels,
        rests: &digest.rests,
        moves: &digest.moves,
        runs_ms: &runs_ms,
        leaks,
        own_thermometers: &own_thermometers(digest, rig),
        window_s,
    })
}

fn own_thermometers(digest: &Digest, rig: &Rig) -> Vec<String> {
    let has_own = |place: &String| {
        let channel = rig.channel_at(place, Quantity::Temperature);
        let used = PlaceChannels::of(rig, place).temperature;
        channel.is_some_and(|c| Some(&c.name) == used.as_ref())
    };
    let places = digest.vessels.iter().map(|v| v.place.clone());
    places.filter(has_own).collect()
}

/// From the first to the last reading at rest, log time s.
fn rest_span_s(digest: &Digest) -> Option<(f64, f64)> {
    let times = || digest.rests.iter().flat_map(|r| &r.points).map(|p| p.t_s);
    Some((times().reduce(f64::min)?, times().reduce(f64::max)?))
}

/// What is missing for a ledger.
fn missing(digest: &Digest) -> Option<String> {
    let blind = |place: &str| {
        let own = |m: &&Move| m.place == place;
        let follows = digest.vessel(place).is_some_and(Vessel::follows_height);
        digest.moves.iter().any(|m| own(&m))
            && (!follows || digest.moves.iter().any(|m| own(&m) && m.mm.is_none()))
    };
    let tank = digest.vessel("tank");
    if tank.is_none_or(Vessel::is_relative) {
        return Some("the rig gives no volume of the tank".into());
    }
    let unwired = digest.moves.iter().filter(|m| !m.wired);
    let unwired: BTreeSet<String> = unwired.map(|m| place_words(&m.place)).collect();
    if !unwired.is_empty() {
        return Some(format!(
            "without the valve coils of {} moves too small for pressure and height to tell are in no book",
            unwired.into_iter().collect::<Vec<_>>().join(", ")
        ));
    }
    let places = digest.vessels.iter().map(|v| v.place.as_str());
    let blind: Vec<String> = places
        .filter(|p| *p != "tank" && blind(p))
        .map(place_words)
        .collect();
    (!blind.is_empty()).then(|| {
        format!(
            "how much air lifts {} is not known without a height and the volume by height",
            blind.join(", ")
        )
    })
}
