//! Charging a volume from a supply that holds its pressure.

/// Share of the subsonic range gone, 0 at the critical ratio, 1 at the supply.
fn subsonic_share(kpa_abs: f64, supply_kpa_abs: f64, b: f64) -> f64 {
    ((kpa_abs / supply_kpa_abs - b) / (1.0 - b)).clamp(0.0, 1.0)
}

/// Time to charge a volume between two pressures.
///
/// Choked up to `b·p_s`: `τ·Δp/p_s`. Above it `τ·(1-b)·(asin x2 - asin x1)`,
/// `x = (p/p_s - b)/(1-b)`. τ is
/// [`choked_time_constant_s`](super::choked_time_constant_s), so the time goes
/// as 1/C: a path that lost a tenth of its conductance takes 11.1 % longer.
///
/// **Units**: s, kPa absolute. `None` when the target is above the supply or
/// below the start. **Domain**: pressures above 0, `0 <= b < 1`; isothermal, supply at the
/// temperature of the volume. **Source**: mass balance with ISO 6358-1.
///
/// ```
/// use seep_common::physics::discharge::charge_time_s;
/// let t = charge_time_s(10.0, 0.3, 800.0, 300.0, 600.0).unwrap();
/// assert!((t - 4.136114900825).abs() < 1e-11);
/// assert_eq!(charge_time_s(10.0, 0.3, 800.0, 300.0, 801.0), None);
/// ```
#[must_use]
pub fn charge_time_s(
    tau_s: f64,
    b: f64,
    supply_kpa_abs: f64,
    from_kpa_abs: f64,
    to_kpa_abs: f64,
) -> Option<f64> {
    if to_kpa_abs > supply_kpa_abs || to_kpa_abs < from_kpa_abs {
        return None;
    }
    let knee = b * supply_kpa_abs;
    let choked = (to_kpa_abs.min(knee) - from_kpa_abs.min(knee)) / supply_kpa_abs;
    let x1 = subsonic_share(from_kpa_abs, supply_kpa_abs, b);
    let x2 = subsonic_share(to_kpa_abs, supply_kpa_abs, b);
    Some(tau_s * (choked + (1.0 - b) * (libm::asin(x2) - libm::asin(x1))))
}

/// Pressure after charging for a time; the inverse of [`charge_time_s`].
///
/// **Units**: s, kPa absolute. Reaches the supply in finite time and stays.
///
/// ```
/// use seep_common::physics::discharge::charged_kpa_abs;
/// let p = charged_kpa_abs(10.0, 0.3, 800.0, 300.0, 4.136114900825);
/// assert!((p - 600.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn charged_kpa_abs(
    tau_s: f64,
    b: f64,
    supply_kpa_abs: f64,
    from_kpa_abs: f64,
    elapsed_s: f64,
) -> f64 {
    if from_kpa_abs >= supply_kpa_abs {
        return from_kpa_abs;
    }
    let knee = b * supply_kpa_abs;
    let mut left = elapsed_s / tau_s;
    let choked = (knee - from_kpa_abs).max(0.0) / supply_kpa_abs;
    if left <= choked {
        return from_kpa_abs + left * supply_kpa_abs;
    }
    left -= choked;
    let start = libm::asin(subsonic_share(from_kpa_abs, supply_kpa_abs, b));
    let angle = (start + left / (1.0 - b)).min(std::f64::consts::FRAC_PI_2);
    supply_kpa_abs * (b + (1.0 - b) * libm::sin(angle))
}
