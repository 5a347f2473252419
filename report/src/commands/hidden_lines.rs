//! Lines that no reading can judge: those behind a pressure sensor at the manifold.

use crate::findings::place_words;
use crate::judgement::line_hidden;
use seep_common::rig::Rig;

/// Circuits whose pressure is read at the manifold, as words; `None` without one.
fn places(rig: &Rig) -> Option<String> {
    let hidden = rig.circuits.iter().filter(|c| line_hidden(rig, &c.name));
    let words: Vec<String> = hidden.map(|c| place_words(&c.name)).collect();
    (!words.is_empty()).then(|| words.join(", "))
}

/// What follows "no path has become slower or lags behind its partner".
pub(super) fn all_well(rig: &Rig) -> String {
    match places(rig) {
        None => "no path has become slower or lags behind its partner.".into(),
        Some(places) => format!(
            "no valve has become slower or lags behind its partner. A slow line cannot be seen \
             at {places}: the pressure sensor sits at the manifold."
        ),
    }
}

/// What the conductances of such circuits are.
pub(super) fn note(rig: &Rig) -> Option<String> {
    let places = places(rig)?;
    Some(format!(
        "The pressure of {places} is read at the manifold (rig: sensor_at): conductances and times \
         there are those of the valves alone. A kinked line changes none of them; time a lift from \
         stop to stop by hand, or move the sensor to the bag."
    ))
}

/// Why a path shows no limit for its line.
pub(super) const HIDDEN: &str = "not to be seen: the sensor sits at the manifold";
