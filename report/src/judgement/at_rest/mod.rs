//! From the model of a car at rest to what the report says of it.

mod by_hand;
mod model;
mod named;

use crate::analysis::at_rest::AtRest;
use crate::analysis::leak::PlainRest;
use crate::analysis::rest_model::{Car, RestModelFit, Settings, fit};
use crate::cache::{Cache, EntryKind};
use crate::digest::Digest;
use model::RestJudge;

/// Fits the model to the rests of a log.
pub(super) fn assess(digest: &Digest, fits: &[PlainRest], cache: &Cache) -> AtRest {
    let car = &digest.reduced.car;
    let fit = fit_once(car, cache);
    let model = RestJudge {
        digest,
        car,
        fit: &fit,
        single: fits,
    };
    AtRest {
        volumes: by_hand::merged(fit.volumes.iter().map(|v| model.volume(v)).collect()),
        parks: fit.rests.iter().map(|p| model.park(p)).collect(),
        patterns: model.patterns(),
        conditionals: model.conditionals(),
        unread_nights: model.unread_nights(),
        by_hand: digest.reduced.by_hand.clone(),
        apart: fit.longest_parks,
    }
}

/// The fit depends on the car alone: the settings are those of this build.
fn fit_once(car: &Car, cache: &Cache) -> RestModelFit {
    let settings = Settings::default();
    if !cache.is_somewhere() {
        return fit(car, &settings);
    }
    let Ok(input) = postcard::to_stdvec(car) else {
        return fit(car, &settings);
    };
    if let Some(kept) = cache.get(EntryKind::RestModelFit, &[&input]) {
        return kept;
    }
    let fit = fit(car, &settings);
    cache.put(EntryKind::RestModelFit, &[&input], &fit);
    fit
}
