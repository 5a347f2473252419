//! Several resistances as one: series and parallel rules of ISO 6358-3.

use super::{FlowPath, SUBSONIC_EXPONENT};

/// One path equivalent to paths side by side: `C = ΣCi`,
/// `C/√(1-b) = ΣCi/√(1-bi)`.
///
/// `None` for an empty list. Exponents and cracking pressures are not combined;
/// the result has exponent 0.5 and none.
///
/// **Source**: ISO 6358-3, from memory.
///
/// ```
/// use seep_common::physics::flow::{FlowPath, parallel};
/// let both = parallel(&[FlowPath::new(1.0, 0.3).unwrap(); 2]).unwrap();
/// assert!((both.c_l_per_s_bar - 2.0).abs() < 1e-15);
/// assert!((both.critical_ratio - 0.3).abs() < 1e-12);
/// ```
#[must_use]
pub fn parallel(paths: &[FlowPath]) -> Option<FlowPath> {
    let c: f64 = paths.iter().map(|p| p.c_l_per_s_bar).sum();
    let scaled: f64 = paths
        .iter()
        .map(|p| p.c_l_per_s_bar / (1.0 - p.critical_ratio).sqrt())
        .sum();
    let root = c / scaled;
    (c > 0.0).then(|| plain(c, 1.0 - root * root))
}

/// One path equivalent to paths one after the other, first one upstream.
///
/// Two at a time: with `α = C1/(b1·C2)`, `C12 = C1` for `α <= 1` (the first one
/// chokes alone), else
/// `C12 = C2·α·(α·b1 + (1-b1)·√(α² + ((1-b1)/b1)² - 1))/(α² + ((1-b1)/b1)²)`;
/// `b12 = 1 - C12²·((1-b1)/C1² + (1-b2)/C2²)`.
///
/// `None` for an empty list. The order matters: the same parts the other way
/// round choke elsewhere. Exponents and cracking pressures are not combined.
///
/// **Source**: ISO 6358-3, from memory; C12 agrees with the chained equations
/// of the two parts solved numerically.
///
/// ```
/// use seep_common::physics::flow::{FlowPath, series};
/// let valve = FlowPath::new(1.0, 0.3).unwrap();
/// let both = series(&[valve, valve]).unwrap();
/// assert!((both.c_l_per_s_bar - 0.757215550090).abs() < 1e-11);
/// ```
#[must_use]
pub fn series(paths: &[FlowPath]) -> Option<FlowPath> {
    let (first, rest) = paths.split_first()?;
    let start = plain(first.c_l_per_s_bar, first.critical_ratio);
    Some(rest.iter().fold(start, |up, down| pair(&up, down)))
}

fn pair(up: &FlowPath, down: &FlowPath) -> FlowPath {
    let (c1, b1) = (up.c_l_per_s_bar, up.critical_ratio);
    let (c2, b2) = (down.c_l_per_s_bar, down.critical_ratio);
    let c12 = if c1 <= b1 * c2 {
        c1
    } else {
        // The standard's formula multiplied by b1² above and below the line,
        // which keeps it finite at b1 = 0.
        let a = c1 / c2;
        let q = 1.0 - b1;
        c2 * a * (a * b1 + q * (a * a + q * q - b1 * b1).sqrt()) / (a * a + q * q)
    };
    let b12 = 1.0 - c12 * c12 * ((1.0 - b1) / (c1 * c1) + (1.0 - b2) / (c2 * c2));
    plain(c12, b12.max(0.0))
}

fn plain(c_l_per_s_bar: f64, critical_ratio: f64) -> FlowPath {
    FlowPath {
        c_l_per_s_bar,
        critical_ratio,
        exponent: SUBSONIC_EXPONENT,
        cracking_kpa: 0.0,
    }
}
