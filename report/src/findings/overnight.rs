//! A loss of air as what a person sees of it in the morning.

use super::{NIGHT_H, rounded};
use crate::analysis::estimate::Estimate;
use crate::analysis::leak::{CM3_MIN_PER_L_S, PooledLeak};
use crate::model::{Measured, MeasuredKind, Text, Unit};
use crate::text;

/// `5 mm in ten hours`: what a loss of `l_per_s` (ANR L/s) does to a place, as height
/// where it is recorded, else as pressure. As air where the place is not known.
///
/// **Equation**: fall over ten hours = loss · (fall per hour / loss of the place) · 10 h,
/// at the pressure and height that the place had.
pub(crate) fn overnight(l_per_s: f64, place: &str, leaks: &[PooledLeak]) -> Text {
    let leak = leaks.iter().find(|l| l.place == place);
    let seen = leak.and_then(|l| fall(l_per_s, l));
    match seen {
        Some((value, unit)) => {
            let rounded = rounded(value).parse().unwrap_or(value);
            let value = Measured {
                low: None,
                high: None,
                kind: MeasuredKind::Exact,
                ..Measured::exact(rounded, unit)
            };
            text![value, " in ten hours"]
        }
        None => format!("{} cm³/min of free air", rounded(l_per_s * CM3_MIN_PER_L_S)).into(),
    }
}

/// The fall over a night and its unit.
fn fall(l_per_s: f64, leak: &PooledLeak) -> Option<(f64, Unit)> {
    let (per_h, unit) = match &leak.mm_per_h {
        Some(mm) => (mm, Unit::Mm),
        None => (&leak.kpa_per_h, Unit::KpaDifference),
    };
    let per_loss = ratio(per_h, &leak.loss_l_per_s)?;
    Some((l_per_s * per_loss * NIGHT_H, unit))
}

/// Both are the same estimate in two units, and so their errors stand in the same ratio;
/// a value near nought has no ratio of its own.
fn ratio(a: &Estimate, b: &Estimate) -> Option<f64> {
    let ratio = a.se / b.se;
    (ratio.is_finite() && ratio > 0.0).then_some(ratio)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::text_in;
    use crate::render::units::DisplayUnits;

    fn printed(text: &Text) -> String {
        text_in(text, DisplayUnits::default())
    }

    fn estimate(value: f64, se: f64) -> Estimate {
        Estimate {
            value,
            se,
            degrees_of_freedom: 9.0,
        }
    }

    fn leak(mm_per_h: Option<Estimate>) -> PooledLeak {
        PooledLeak {
            place: "rear_left".into(),
            loss_l_per_s: estimate(0.0, 1e-6),
            between_sd_l_per_s: 0.0,
            kpa_per_h: estimate(0.0, 0.2),
            mm_per_h,
            per_s: estimate(0.0, 1e-8),
            equivalent_conductance: estimate(0.0, 1e-7),
            rests: 4,
            seconds: 1e5,
            lower_bound: false,
        }
    }

    /// By hand: 1e-6 L/s stand for 0.05 mm/h, so that 1e-5 L/s are 0.5 mm/h and 5 mm in
    /// ten hours; as pressure 0.2 kPa/h and 20 kPa.
    #[test]
    fn a_loss_is_told_as_height_else_as_pressure() {
        let by_height = leak(Some(estimate(0.0, 0.05)));
        let of = |l: &PooledLeak| printed(&overnight(1e-5, "rear_left", std::slice::from_ref(l)));
        assert_eq!(of(&by_height), "5\u{a0}mm in ten hours");
        assert_eq!(of(&leak(None)), "20\u{a0}kPa in ten hours");
        let unknown = printed(&overnight(1e-5, "tank", &[by_height]));
        assert_eq!(unknown, "0.60 cm³/min of free air");
    }
}
