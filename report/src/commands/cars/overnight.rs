//! What a car loses in a night.

use crate::analysis::leak::PooledLeak;
use crate::findings::{NIGHT_H, measured, place_words};
use crate::judgement::Judgement;
use crate::model::{Measured, Unit};

/// What one car loses in ten parked hours.
#[derive(Debug, Clone, Default)]
pub(super) struct Overnight {
    /// The place in question.
    pub place: String,
    /// Its fall of height, mm.
    pub value: Option<Measured>,
    /// The falls of the other places, mm.
    pub others: Vec<f64>,
}

/// The loss of the place in question, and of the others with a height.
pub(super) fn overnight(judgement: &Judgement) -> Overnight {
    let by_height = || judgement.leaks.iter().filter(|l| l.mm_per_h.is_some());
    let asked = crate::commands::night::place_in_question(judgement);
    let value = |l: &PooledLeak| l.mm_per_h.map(|m| m.scaled(NIGHT_H).value);
    let highest = || {
        by_height().max_by(|a, b| {
            let of = |l: &PooledLeak| value(l).unwrap_or(f64::NEG_INFINITY);
            of(a).total_cmp(&of(b))
        })
    };
    let named = by_height().find(|l| Some(l.place.as_str()) == asked);
    let Some(own) = named.or_else(highest) else {
        return Overnight::default();
    };
    Overnight {
        place: place_words(&own.place),
        value: own.mm_per_h.map(|m| measured(&m.scaled(NIGHT_H), Unit::Mm)),
        others: by_height()
            .filter(|l| l.place != own.place)
            .filter_map(value)
            .collect(),
    }
}
