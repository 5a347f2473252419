//! What readings by hand say of a place, beside what its sensors say.

use crate::analysis::at_rest::{VolumeAtRest, VolumeVerdict};

/// One entry per place. Readings by hand tell a corner's whole loss where the sensors
/// only bound it, so they stand for the place unless a fault is seen by the sensors
/// alone.
pub(super) fn merged(volumes: Vec<VolumeAtRest>) -> Vec<VolumeAtRest> {
    let (by_hand, mut out): (Vec<_>, Vec<_>) = volumes.into_iter().partition(|v| v.by_hand);
    for read in by_hand {
        let is_fault = |v: &VolumeAtRest| v.verdict == VolumeVerdict::Fault;
        match out.iter_mut().find(|v| v.place == read.place) {
            Some(sensed) if is_fault(sensed) && !is_fault(&read) => {}
            // A full set of sensors that call it fine is not undone by a coarse tape.
            Some(sensed)
                if sensed.verdict == VolumeVerdict::Fine
                    && read.verdict == VolumeVerdict::NotEnoughEvidence => {}
            Some(sensed) => *sensed = read,
            None => out.push(read),
        }
    }
    out
}
