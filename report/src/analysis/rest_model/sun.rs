//! Hour of the sun from the outside temperature.

use std::f64::consts::TAU;

const DAY_S: f64 = 86_400.0;

/// Returns the seconds from log time to solar time: the outside is warmest at about
/// 15 h. Zero without four days of outside temperature, or where the clock of the log
/// is within 3 h.
///
/// **Source**: daily maximum at 14 to 16 h solar time, common practice.
pub(super) fn clock_to_sun_s(outside_c: &[(f64, f64)]) -> f64 {
    let (Some(first), Some(last)) = (outside_c.first(), outside_c.last()) else {
        return 0.0;
    };
    if last.0 - first.0 < 4.0 * DAY_S {
        return 0.0;
    }
    let mean = outside_c.iter().map(|p| p.1).sum::<f64>() / outside_c.len() as f64;
    let (mut cosine, mut sine) = (0.0, 0.0);
    for (t, c) in outside_c {
        let angle = TAU * t / DAY_S;
        cosine += (c - mean) * angle.cos();
        sine += (c - mean) * angle.sin();
    }
    let warmest_h = (sine.atan2(cosine) / TAU * 24.0).rem_euclid(24.0);
    let shift_h = (15.0 - warmest_h + 12.0).rem_euclid(24.0) - 12.0;
    if shift_h.abs() < 3.0 {
        0.0
    } else {
        shift_h * 3600.0
    }
}

#[cfg(test)]
mod tests {
    use super::clock_to_sun_s;

    fn days(warmest_h: f64) -> Vec<(f64, f64)> {
        (0..7 * 1440)
            .map(|i| {
                let t = f64::from(i) * 60.0;
                let hour = (t / 3600.0 - warmest_h) / 24.0;
                (t, 10.0 + 5.0 * (std::f64::consts::TAU * hour).cos())
            })
            .collect()
    }

    #[test]
    fn a_clock_of_another_zone_is_turned_to_the_sun() {
        let shift = clock_to_sun_s(&days(5.0));
        assert!((shift - 10.0 * 3600.0).abs() < 120.0, "{shift}");
        assert_eq!(clock_to_sun_s(&days(14.0)), 0.0);
        assert_eq!(clock_to_sun_s(&days(5.0)[..1440]), 0.0);
    }
}
