//! What a drawing shows, for those who hear the page.

use crate::model::{Measured, Unit};
use crate::render::number;
use crate::render::units::DisplayUnits;

/// `falls from 512 kPa to 498 kPa`, `steady at 512 kPa`, as the figures are printed.
pub(super) fn trend(first: f64, last: f64, unit: Unit, units: DisplayUnits) -> String {
    let [from, to] = [first, last].map(|v| figure(v, unit, units));
    if from == to {
        return format!("steady at {to}");
    }
    let does = if last < first { "falls" } else { "rises" };
    format!("{does} from {from} to {to}")
}

/// `between −1.1 mm and 0.5 mm`; nothing of no values.
pub(super) fn range(
    values: impl Iterator<Item = f64> + Clone,
    unit: Unit,
    units: DisplayUnits,
) -> Option<String> {
    let finite = values.filter(|v| v.is_finite());
    let low = finite.clone().reduce(f64::min)?;
    let high = finite.reduce(f64::max)?;
    let [low, high] = [low, high].map(|v| figure(v, unit, units));
    Some(format!("between {low} and {high}"))
}

/// To three digits, which is more than an ear keeps.
fn figure(value: f64, unit: Unit, units: DisplayUnits) -> String {
    let shown = units.shown(unit);
    let digits = (2.0 - shown.apply(value).abs().max(1e-3).log10().floor()).max(0.0);
    let step = 10_f64.powf(-digits) / shown.factor.abs();
    number::phrase(&Measured::exact((value / step).round() * step, unit), units)
}

#[cfg(test)]
mod tests {
    use super::{range, trend};
    use crate::model::Unit;
    use crate::render::units::DisplayUnits;

    fn plain(text: &str) -> String {
        text.replace('\u{a0}', " ")
    }

    #[test]
    fn what_changes_is_said_and_what_does_not_is_steady() {
        let units = DisplayUnits::default();
        let said = |a, b| plain(&trend(a, b, Unit::Mm, units));
        assert_eq!(said(412.04, 398.2), "falls from 412 mm to 398 mm");
        assert_eq!(said(398.2, 398.4), "steady at 398 mm");
        let values = [0.51, -1.12, f64::NAN];
        let between = range(values.into_iter(), Unit::Mm, units).unwrap();
        assert_eq!(plain(&between), "between −1.12 mm and 0.51 mm");
        assert_eq!(range(std::iter::empty(), Unit::Mm, units), None);
    }
}
