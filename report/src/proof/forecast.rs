//! Where the car will stand, and how often it can still move.

use crate::analysis::moves::Direction;
use crate::analysis::stats::{mean, sd};
use crate::digest::Digest;
use crate::findings::measured;
use crate::judgement::Judgement;
use crate::model::{Measured, Unit};
use seep_common::physics::gas::{ANR_K, amount_anr_l};
use seep_common::rig::VolumeModel;

/// One place after some hours at the loss measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Ahead {
    /// Circuit, or `tank`.
    pub place: String,
    /// Height at the end of the last rest, mm, where recorded.
    pub mm_now: Option<f64>,
    /// Height after the hours.
    pub mm_then: Option<Measured>,
    /// Gauge pressure at the end of the last rest, kPa.
    pub kpa_now: f64,
    /// Gauge pressure after the hours: falling where the volume is fixed,
    /// carried by the load where the height gives way.
    pub kpa_then: Measured,
}

/// Every place after `hours`, at a constant rate: the safe side for a leak
/// that slows down as the pressure falls.
#[must_use]
pub fn ahead(digest: &Digest, judgement: &Judgement, hours: f64) -> Vec<Ahead> {
    judgement
        .leaks
        .iter()
        .filter_map(|leak| {
            let last = judgement.fits.iter().rfind(|f| f.place == leak.place)?;
            let (kpa_abs, _, mm) = last.end_state;
            let kpa_now = kpa_abs - digest.ambient_kpa_abs;
            let fall = |per_h: &crate::analysis::estimate::Estimate, now: f64, unit| {
                let mut then = per_h.scaled(-hours);
                then.value += now;
                measured(&then, unit)
            };
            let mm_then = leak
                .mm_per_h
                .filter(|_| !mm.is_nan())
                .map(|r| fall(&r, mm, Unit::Mm));
            let kpa_then = if mm_then.is_some() {
                Measured::exact(kpa_now, Unit::KpaGauge)
            } else {
                fall(&leak.kpa_per_h, kpa_now, Unit::KpaGauge)
            };
            Some(Ahead {
                place: leak.place.clone(),
                mm_now: (!mm.is_nan()).then_some(mm),
                mm_then,
                kpa_now,
                kpa_then,
            })
        })
        .collect()
}

/// Rounds of one fill of every circuit left in the tank as it stood last,
/// without the compressor; or why that cannot be said.
///
/// Air above the highest corner pressure, over the mean air of a round. A fill
/// gets slow before the pressures meet, so the last round may not arrive.
///
/// # Errors
/// The reason, as a phrase.
pub fn cycles_left(digest: &Digest, judgement: &Judgement) -> Result<Measured, String> {
    let Some(VolumeModel::Fixed { volume_l }) = digest.vessel("tank").map(|v| v.volume.clone())
    else {
        return Err("the rig gives no tank volume".into());
    };
    let Some(rest) = judgement.fits.iter().rfind(|f| f.place == "tank") else {
        return Err("no rest of the tank was recorded".into());
    };
    let (tank_kpa_abs, kelvin, _) = rest.end_state;
    let mut per_round = 0.0;
    let mut variance = 0.0;
    let mut highest_kpa_abs: f64 = 0.0;
    for vessel in digest.vessels.iter().filter(|v| v.place != "tank") {
        let fills: Vec<_> = digest
            .moves
            .iter()
            .filter(|m| m.place == vessel.place && m.direction == Direction::Fill)
            .collect();
        let air: Vec<f64> = fills.iter().map(|m| m.amount_anr_l).collect();
        let (Some(usual), Some(spread)) = (mean(&air), sd(&air)) else {
            return Err(format!(
                "fewer than two fills of {} were recorded",
                crate::findings::place_words(&vessel.place)
            ));
        };
        per_round += usual;
        variance += spread * spread / air.len() as f64;
        highest_kpa_abs = fills
            .iter()
            .map(|m| m.kpa_abs.1)
            .fold(highest_kpa_abs, f64::max);
    }
    if per_round <= 0.0 {
        return Err("no fill moved any air".into());
    }
    let kelvin = if kelvin.is_nan() { ANR_K } else { kelvin };
    let spare = amount_anr_l((tank_kpa_abs - highest_kpa_abs).max(0.0), volume_l, kelvin);
    let relative = 2.0 * variance.sqrt() / per_round;
    let rounds = spare / per_round;
    Ok(Measured::plus_minus(rounds, rounds * relative, Unit::One))
}
