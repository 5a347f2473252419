//! Conditions that may separate leaking rests from tight ones.

use super::super::segment::LastMove;
use super::super::stats::{median, quantile};
use super::RestLoss;

/// A condition under which a volume leaks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Condition {
    /// Colder than a temperature, °C.
    Colder(f64),
    /// Warmer than a temperature, °C.
    Warmer(f64),
    /// The valve moved last was the dump valve.
    AfterDump,
    /// The valve moved last was the fill valve.
    AfterFill,
    /// Pressure above a value, kPa absolute.
    PressureAbove(f64),
    /// Height above a value, mm.
    HeightAbove(f64),
    /// Height below a value, mm.
    HeightBelow(f64),
}

/// Quantiles of the temperatures at which a limit is tried.
const LIMITS: [f64; 7] = [0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9];

/// Families of conditions that are looked at; each is one test, whatever limits
/// it tries.
///
/// The tank is warmed by every compressor run and has no dump of its own, so
/// only the cold is a condition for it.
pub(super) fn families(place: &str, rests: &[RestLoss]) -> Vec<Vec<Condition>> {
    let celsius: Vec<f64> = rests
        .iter()
        .flat_map(|r| r.celsius.iter().copied())
        .collect();
    let heights: Vec<f64> = rests.iter().map(|r| r.mm).filter(|m| !m.is_nan()).collect();
    let pressures: Vec<f64> = rests.iter().map(|r| r.kpa_abs).collect();
    let limits: Vec<f64> = LIMITS
        .iter()
        .filter_map(|q| quantile(&celsius, *q))
        .collect();
    let colder: Vec<Condition> = limits.iter().map(|c| Condition::Colder(*c)).collect();
    if place == "tank" {
        return vec![colder];
    }
    let mut out = vec![vec![Condition::AfterDump], vec![Condition::AfterFill]];
    // Without a temperature nights look like losses, and a car lies as low or as
    // high at night as its owner leaves it: height and pressure would be blamed.
    if limits.is_empty() {
        return out;
    }
    out.push(colder);
    out.push(limits.iter().map(|c| Condition::Warmer(*c)).collect());
    if let Some(kpa) = median(&pressures) {
        out.push(vec![Condition::PressureAbove(kpa)]);
    }
    if let Some(mm) = median(&heights) {
        out.push(vec![Condition::HeightAbove(mm)]);
        out.push(vec![Condition::HeightBelow(mm)]);
    }
    out
}

impl Condition {
    /// Colder than half of the time at rest; `None` without a temperature.
    pub(super) fn colder_half(rests: &[RestLoss]) -> Option<Condition> {
        let celsius: Vec<f64> = rests
            .iter()
            .flat_map(|r| r.celsius.iter().copied())
            .collect();
        median(&celsius).map(Condition::Colder)
    }

    /// Seals that harden in the cold and dump valves that hang are what is met
    /// most; common practice, no source.
    pub(super) fn is_usual(&self) -> bool {
        matches!(self, Condition::Colder(_) | Condition::AfterDump)
    }

    /// Share of a rest over which it held, 0 to 1; `None` when it is not known.
    #[must_use]
    pub fn share(&self, rest: &RestLoss) -> Option<f64> {
        let of = |holds: bool| Some(f64::from(u8::from(holds)));
        let part = |holds: &dyn Fn(f64) -> bool| {
            let n = rest.celsius.len();
            let held = rest.celsius.iter().filter(|c| holds(**c)).count();
            (n > 0).then(|| held as f64 / n as f64)
        };
        match *self {
            Condition::Colder(limit) => part(&|c| c < limit),
            Condition::Warmer(limit) => part(&|c| c > limit),
            Condition::AfterDump | Condition::AfterFill if rest.after == LastMove::Unknown => None,
            Condition::AfterDump => of(rest.after == LastMove::Dump),
            Condition::AfterFill => of(rest.after == LastMove::Fill),
            Condition::PressureAbove(kpa) => of(rest.kpa_abs > kpa),
            Condition::HeightAbove(mm) => (!rest.mm.is_nan())
                .then_some(())
                .and_then(|()| of(rest.mm > mm)),
            Condition::HeightBelow(mm) => (!rest.mm.is_nan())
                .then_some(())
                .and_then(|()| of(rest.mm < mm)),
        }
    }
}
