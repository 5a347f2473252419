//! How often the tank can lift the car without the compressor.

use crate::analysis::air::Vessel;
use crate::analysis::stats::median;
use crate::digest::Digest;
use crate::findings::place_words;
use crate::judgement::Judgement;
use crate::model::{Measured, Unit};
use seep_common::physics::gas::{ANR_K, amount_anr_l};
use seep_common::rig::VolumeModel;

/// Full lifts that the tank still gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Lifts {
    /// From these heights to ride height, mm: lowest and highest over the corners.
    pub from_mm: (f64, f64),
    /// How many.
    pub count: Measured,
}

/// Ride height, mm: where heights are counted from.
const TO_MM: f64 = 0.0;

/// Lifts of every corner from the lowest height that the rig calls good enough (else its
/// lower stop) to ride height, with the air in the tank as it stood last.
///
/// Air for one lift: `p·(V(0) − V(from))` at the pressure that carried the corner last;
/// spare air: that of the tank above the highest corner pressure. A fill gets slow before
/// the pressures meet, so the last lift may not arrive.
///
/// # Errors
/// Why it cannot be said, as a phrase.
pub fn lifts_left(digest: &Digest, judgement: &Judgement) -> Result<Lifts, String> {
    let Some(VolumeModel::Fixed { volume_l }) = digest.vessel("tank").map(|v| v.volume.clone())
    else {
        return Err("the rig gives no tank volume".into());
    };
    let Some(rest) = judgement.fits.iter().rfind(|f| f.place == "tank") else {
        return Err("no rest of the tank was recorded".into());
    };
    let corners = digest.vessels.iter().filter(|v| v.place != "tank");
    let all: Vec<Corner> = corners
        .map(|v| corner(v, digest, judgement))
        .collect::<Result<_, _>>()?;
    let one_lift: f64 = all.iter().map(|c| c.anr_l).sum();
    if one_lift <= 0.0 {
        return Err("the rig names no corner to lift".into());
    }
    let error = all.iter().map(|c| c.error_l.powi(2)).sum::<f64>().sqrt();
    let over = |pick: fn(&Corner) -> f64, start: f64, take: fn(f64, f64) -> f64| {
        all.iter().map(pick).fold(start, take)
    };
    let highest = over(|c| c.kpa_abs, 0.0, f64::max);
    let (tank_kpa_abs, kelvin, _) = rest.end_state;
    let kelvin = if kelvin.is_nan() { ANR_K } else { kelvin };
    let spare = amount_anr_l((tank_kpa_abs - highest).max(0.0), volume_l, kelvin);
    let count = spare / one_lift;
    Ok(Lifts {
        from_mm: (
            over(|c| c.from_mm, f64::INFINITY, f64::min),
            over(|c| c.from_mm, f64::NEG_INFINITY, f64::max),
        ),
        count: Measured::plus_minus(count, 2.0 * count * error / one_lift, Unit::One),
    })
}

/// One corner's part of a lift.
struct Corner {
    from_mm: f64,
    kpa_abs: f64,
    anr_l: f64,
    /// One standard deviation.
    error_l: f64,
}

fn corner(vessel: &Vessel, digest: &Digest, judgement: &Judgement) -> Result<Corner, String> {
    let place = place_words(&vessel.place);
    if !vessel.volume.needs_height() {
        return Err(format!("the rig gives no volume by height for {place}"));
    }
    let from_mm = vessel
        .lowest_ok_mm
        .or(vessel.lower_stop_mm)
        .ok_or_else(|| {
            format!("the rig gives neither lowest_ok_mm nor lower_stop_mm for {place}")
        })?;
    let rest = judgement.fits.iter().rfind(|f| f.place == vessel.place);
    let rest = rest.ok_or_else(|| format!("no rest of {place} was recorded"))?;
    // What carried it while it stood off its stop, where that was seen.
    let own = digest.rests.iter().filter(|r| r.place == vessel.place);
    let off_stop: Vec<f64> = own
        .flat_map(|r| &r.points)
        .filter(|p| p.mm > from_mm)
        .map(|p| p.kpa_abs)
        .collect();
    let kpa_abs = median(&off_stop).unwrap_or(rest.end_state.0);
    let litres = vessel.volume_l(TO_MM) - vessel.volume_l(from_mm);
    let anr_l = amount_anr_l(kpa_abs, litres, ANR_K);
    Ok(Corner {
        from_mm,
        kpa_abs,
        anr_l,
        error_l: anr_l * vessel.volume_uncertainty,
    })
}
