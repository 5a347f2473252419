//! Laminar seep through a long narrow gap: a thread, a seal, porous rubber.

/// Relative excess over outside, `(p - p_a)/(p + p_a)`; decays exponentially.
fn excess(kpa_abs: f64, outside_kpa_abs: f64) -> f64 {
    (kpa_abs - outside_kpa_abs) / (kpa_abs + outside_kpa_abs)
}

/// Pressure after a time of laminar seep,
/// `dp/dt = -a·(p² - p_a²)`:
/// `(p - p_a)/(p + p_a) = (p_i - p_a)/(p_i + p_a)·exp(-2·a·p_a·t)`.
///
/// Works from below outside too. Into vacuum (`p_a = 0`) it is
/// `p_i/(1 + a·p_i·t)`.
///
/// **Units**: kPa absolute, 1/(kPa·s), s. **Source**: compressible laminar flow
/// in a capillary (mass flow as p1² - p2²), isothermal; exact solution.
///
/// ```
/// use seep_common::physics::discharge::laminar_kpa_abs;
/// let p = laminar_kpa_abs(700.0, 100.0, 1e-7, 36_000.0);
/// assert!(p < 700.0 && p > 100.0);
/// assert_eq!(laminar_kpa_abs(100.0, 100.0, 1e-7, 36_000.0), 100.0);
/// ```
#[must_use]
pub fn laminar_kpa_abs(
    start_kpa_abs: f64,
    outside_kpa_abs: f64,
    a_per_kpa_s: f64,
    elapsed_s: f64,
) -> f64 {
    if outside_kpa_abs <= 0.0 {
        return start_kpa_abs / (1.0 + a_per_kpa_s * start_kpa_abs * elapsed_s);
    }
    let fall = libm::exp(-2.0 * a_per_kpa_s * outside_kpa_abs * elapsed_s);
    let e = excess(start_kpa_abs, outside_kpa_abs) * fall;
    outside_kpa_abs * (1.0 + e) / (1.0 - e)
}

/// Time of laminar seep between two pressures; the inverse of
/// [`laminar_kpa_abs`].
///
/// **Units**: kPa absolute, 1/(kPa·s); s out. `None` when the target is never
/// reached (outside itself, beyond it, or against the flow).
///
/// ```
/// use seep_common::physics::discharge::{laminar_kpa_abs, laminar_time_s};
/// let p = laminar_kpa_abs(700.0, 100.0, 1e-7, 5000.0);
/// assert!((laminar_time_s(700.0, p, 100.0, 1e-7).unwrap() - 5000.0).abs() < 1e-6);
/// assert_eq!(laminar_time_s(700.0, 100.0, 100.0, 1e-7), None);
/// ```
#[must_use]
pub fn laminar_time_s(
    from_kpa_abs: f64,
    to_kpa_abs: f64,
    outside_kpa_abs: f64,
    a_per_kpa_s: f64,
) -> Option<f64> {
    if outside_kpa_abs <= 0.0 {
        let t = (1.0 / to_kpa_abs - 1.0 / from_kpa_abs) / a_per_kpa_s;
        return (t >= 0.0 && t.is_finite()).then_some(t);
    }
    let ratio = excess(from_kpa_abs, outside_kpa_abs) / excess(to_kpa_abs, outside_kpa_abs);
    if !(ratio.is_finite() && ratio >= 1.0) {
        return None;
    }
    Some(libm::log(ratio) / (2.0 * a_per_kpa_s * outside_kpa_abs))
}
