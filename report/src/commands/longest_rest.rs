//! The parked period that shows most.

use crate::analysis::rest_model::{Car, RestParts};

/// The longest rest of a place that was taken apart.
pub(super) fn longest<'a>(car: &Car, apart: &'a [RestParts], place: &str) -> Option<&'a RestParts> {
    let length = |p: &RestParts| car.rests[p.rest].end_s - car.rests[p.rest].start_s;
    let of_place = |p: &&RestParts| car.volumes[car.rests[p.rest].volume].name == place;
    let own = apart.iter().filter(of_place);
    own.max_by(|a, b| length(a).total_cmp(&length(b)).then(b.rest.cmp(&a.rest)))
}
