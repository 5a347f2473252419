//! From the model of a car at rest to what the report says of it.

mod by_hand;
mod model;
mod named;

use crate::analysis::at_rest::AtRest;
use crate::analysis::leak::PlainRest;
use crate::analysis::rest_model::{Settings, fit};
use crate::digest::Digest;
use model::RestJudge;

/// Fits the model to the rests of a log.
pub(super) fn assess(digest: &Digest, fits: &[PlainRest]) -> AtRest {
    let car = &digest.reduced.car;
    let fit = fit(car, &Settings::default());
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
