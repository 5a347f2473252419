//! Venting a volume to outside, through the critical ratio.
//!
//! Below choking `dp/dt = -(p/τ)·√(1 - x²)` with `x = (p_a/p - b)/(1-b)`. With
//! `x = sin θ` and `u = tan(θ/2)` the time is an elementary integral of
//! `dθ/(b + (1-b)·sin θ)`; its difference form below has no cancellation and no
//! special case but the one at b = 1/2.

/// `u = tan(½·asin x)` of a pressure; 0 at and above the knee, 1 at outside.
fn half_angle(kpa_abs: f64, outside_kpa_abs: f64, b: f64) -> f64 {
    let x = ((outside_kpa_abs / kpa_abs - b) / (1.0 - b)).clamp(0.0, 1.0);
    x / (1.0 + ((1.0 - x) * (1.0 + x)).sqrt())
}

/// Width of `1 - 2b` below which the limit form is used.
const NEAR_HALF: f64 = 1e-9;

/// Time from choking on, in units of τ, from u1 to u2.
fn subsonic_time(b: f64, u1: f64, u2: f64) -> f64 {
    if u2 <= u1 {
        return 0.0;
    }
    let a = 1.0 - b;
    let q = (u2 - u1) / (b * u1 * u2 + a * (u1 + u2) + b);
    let d2 = 1.0 - 2.0 * b;
    let d = d2.abs().sqrt();
    let g = if d2.abs() < NEAR_HALF {
        q
    } else if d2 > 0.0 {
        libm::atanh(d * q) / d
    } else {
        libm::atan(d * q) / d
    };
    2.0 * a * g
}

/// Where u stands after a time (in units of τ) from u1; at most 1.
fn subsonic_reach(b: f64, u1: f64, time: f64) -> f64 {
    let a = 1.0 - b;
    let g = time / (2.0 * a);
    let d2 = 1.0 - 2.0 * b;
    let d = d2.abs().sqrt();
    let q = if d2.abs() < NEAR_HALF {
        g
    } else if d2 > 0.0 {
        libm::tanh(d * g) / d
    } else if d * g >= std::f64::consts::FRAC_PI_2 {
        return 1.0;
    } else {
        libm::tan(d * g) / d
    };
    let below = 1.0 - q * (b * u1 + a);
    if below <= 0.0 {
        return 1.0;
    }
    ((u1 + q * (a * u1 + b)) / below).min(1.0)
}

/// Time in units of τ while choked: from above the knee down to it at most.
fn choked_time(from_kpa_abs: f64, to_kpa_abs: f64, knee_kpa_abs: f64) -> f64 {
    if from_kpa_abs <= knee_kpa_abs {
        0.0
    } else {
        libm::log(from_kpa_abs / to_kpa_abs.max(knee_kpa_abs))
    }
}

/// Time to vent a volume between two pressures, choked and then not.
///
/// **Units**: s (τ is
/// [`choked_time_constant_s`](super::choked_time_constant_s)), kPa absolute.
/// `None` when the target is below outside or above the start. **Domain**:
/// `0 <= b < 1` (with `b = 0` it never chokes); isothermal, exponent 0.5. **Source**: mass balance with
/// ISO 6358-1, integrated in closed form.
///
/// ```
/// use seep_common::physics::discharge::vent_time_s;
/// // leaves choking at 337.75 kPa, so it takes longer than 10·ln 3 = 10.986 s
/// let t = vent_time_s(10.0, 0.3, 101.325, 600.0, 200.0).unwrap();
/// assert!((t - 11.05527444).abs() < 1e-8);
/// ```
#[must_use]
pub fn vent_time_s(
    tau_s: f64,
    b: f64,
    outside_kpa_abs: f64,
    from_kpa_abs: f64,
    to_kpa_abs: f64,
) -> Option<f64> {
    if to_kpa_abs < outside_kpa_abs || to_kpa_abs > from_kpa_abs {
        return None;
    }
    let knee = outside_kpa_abs / b;
    let choked = choked_time(from_kpa_abs, to_kpa_abs, knee);
    let u1 = half_angle(from_kpa_abs, outside_kpa_abs, b);
    let u2 = half_angle(to_kpa_abs, outside_kpa_abs, b);
    Some(tau_s * (choked + subsonic_time(b, u1, u2)))
}

/// Pressure after venting for a time; the inverse of [`vent_time_s`].
///
/// **Units**: s, kPa absolute. Reaches outside in finite time and stays.
///
/// ```
/// use seep_common::physics::discharge::vented_kpa_abs;
/// let p = vented_kpa_abs(10.0, 0.3, 101.325, 600.0, 11.05527444);
/// assert!((p - 200.0).abs() < 1e-6);
/// assert_eq!(vented_kpa_abs(10.0, 0.3, 101.325, 600.0, 1e3), 101.325);
/// ```
#[must_use]
pub fn vented_kpa_abs(
    tau_s: f64,
    b: f64,
    outside_kpa_abs: f64,
    from_kpa_abs: f64,
    elapsed_s: f64,
) -> f64 {
    if from_kpa_abs <= outside_kpa_abs {
        return from_kpa_abs;
    }
    let knee = outside_kpa_abs / b;
    let mut left = elapsed_s / tau_s;
    let choked = choked_time(from_kpa_abs, outside_kpa_abs, knee);
    if left < choked {
        return from_kpa_abs * libm::exp(-left);
    }
    left -= choked;
    let u = subsonic_reach(b, half_angle(from_kpa_abs, outside_kpa_abs, b), left);
    let x = 2.0 * u / (1.0 + u * u);
    outside_kpa_abs / (b + (1.0 - b) * x)
}
