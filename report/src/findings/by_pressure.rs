//! Findings about volumes whose size the rig does not give: pressure is all
//! there is, so no balance of air can be drawn with the others.

use super::{AIR_CAUTION, loss, measured, place_words};
use crate::analysis::leak::PooledLeak;
use crate::analysis::stats::student_t_two_sided_p;
use crate::conclusion::Conclusion;
use crate::model::{Cell, Finding, Severity, Unit};
use crate::render::capital_words;
use crate::text;

/// One finding per volume that surely loses more than `floor_kpa_per_h`.
///
/// The certainty is that of the loss being above the floor: one-sided Student's t.
#[must_use]
pub fn pressure_findings<'a>(
    leaks: impl IntoIterator<Item = &'a PooledLeak>,
    floor_kpa_per_h: f64,
) -> Vec<Finding> {
    leaks
        .into_iter()
        .filter(|l| l.kpa_per_h.interval_95().0 > floor_kpa_per_h)
        .map(|l| finding(l, floor_kpa_per_h))
        .collect()
}

fn finding(leak: &PooledLeak, floor_kpa_per_h: f64) -> Finding {
    let rate = &leak.kpa_per_h;
    let t = (rate.value - floor_kpa_per_h) / rate.se;
    let probability = 1.0 - student_t_two_sided_p(t, rate.degrees_of_freedom.max(1.0)) / 2.0;
    let is_tank = leak.place == "tank";
    let (conclusion, what, key, check) = if is_tank {
        (
            Conclusion::TankLeak,
            "the tank".to_string(),
            "[tank]",
            "Shut off everything the tank feeds and compare. The loss stops: a consumer, or a fill \
             valve that passes; it goes on: check valve, drain, tank fittings or supply line. Soap them.",
        )
    } else {
        (
            Conclusion::CornerLeak {
                place: leak.place.clone(),
            },
            format!("the {} corner", place_words(&leak.place)),
            "its [[circuit]]",
            "Soap its bag, its fitting and both ends of its line; then isolate the line at the \
             manifold overnight. The loss stops: the dump valve or manifold side leaks.",
        )
    };
    let sentence = text![
        capital_words(&what),
        " loses pressure at rest, ",
        measured(rate, Unit::KpaPerHour),
        "; the rig gives no volume for it, so how much air that is and where it goes stay open."
    ];
    Finding::new(&conclusion, Severity::Watch, probability, &sentence)
        .with_evidence("fall of pressure at rest", loss(rate, Unit::KpaPerHour))
        .with_evidence("rests used", Cell::count(leak.rests as u64))
        .with_evidence("length of these rests", Cell::duration(leak.seconds))
        .with_next_check(
            &format!(
                "{check} Measure the volume too and write it as volume_l under {key} in the rig: the \
                 loss is then told as air and set against what the others gain."
            ),
            Some(AIR_CAUTION),
        )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::estimate::Estimate;
    use crate::conclusion::FindingKind;
    use crate::render::units::DisplayUnits;

    fn leak(place: &str, kpa_per_h: f64, se: f64) -> PooledLeak {
        let of = |value, se| Estimate {
            value,
            se,
            degrees_of_freedom: 20.0,
        };
        PooledLeak {
            place: place.into(),
            loss_l_per_s: of(0.0, 1.0),
            between_sd_l_per_s: 0.0,
            kpa_per_h: of(kpa_per_h, se),
            mm_per_h: None,
            per_s: of(0.0, 1.0),
            equivalent_conductance: of(0.0, 1.0),
            rests: 3,
            seconds: 4_380.0,
            lower_bound: false,
        }
    }

    #[test]
    fn a_sure_loss_is_told_and_a_doubtful_one_is_not() {
        let leaks = [leak("tank", 336.0, 2.0), leak("rear_left", 1.0, 0.6)];
        let found = pressure_findings(&leaks, 0.2);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].kind, FindingKind::TankLeak);
        let sentence = crate::render::text_in(&found[0].sentence, DisplayUnits::default());
        assert!(
            sentence.starts_with("The tank loses pressure at rest, 336\u{a0}±\u{a0}4\u{a0}kPa/h;"),
            "{sentence}"
        );
    }
}
