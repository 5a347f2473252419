//! Where the sun stands, and how much of it falls on a side of the car.

use std::f64::consts::{PI, TAU};

/// Place of the sun in the sky.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sun {
    /// Elevation, rad.
    pub elevation: f64,
    /// Azimuth from north by east, rad.
    pub azimuth: f64,
}

impl Sun {
    /// The sun at a Unix time (longitude 0) and a latitude.
    ///
    /// Declination `23.45°·sin(2π(284 + n)/365)`; hour angle 15° per hour from
    /// noon. **Source**: P. I. Cooper, Solar Energy 12 (1969); spherical
    /// trigonometry of any handbook on solar engineering.
    pub(super) fn at(unix_s: f64, latitude_deg: f64) -> Sun {
        let day = (unix_s / 86_400.0) % 365.25;
        let declination = 23.45_f64.to_radians() * libm::sin(TAU * (284.0 + day) / 365.0);
        let hour = unix_s / 3600.0 % 24.0;
        let angle = (hour - 12.0) * PI / 12.0;
        let latitude = latitude_deg.to_radians();
        let (sin_l, cos_l) = (libm::sin(latitude), libm::cos(latitude));
        let (sin_d, cos_d) = (libm::sin(declination), libm::cos(declination));
        let up = sin_l * sin_d + cos_l * cos_d * libm::cos(angle);
        let east = -cos_d * libm::sin(angle);
        let north = cos_l * sin_d - sin_l * cos_d * libm::cos(angle);
        Sun {
            elevation: libm::asin(up.clamp(-1.0, 1.0)),
            azimuth: libm::atan2(east, north),
        }
    }

    /// Share of the full beam on an upright side that faces an azimuth, with a
    /// tenth of it scattered from the sky.
    ///
    /// Air takes its part by `0.7^(m^0.678)`, m = 1/sin(elevation). **Source**:
    /// A. B. Meinel and M. P. Meinel, Applied Solar Energy (1976), as quoted in
    /// textbooks (from memory, unverified).
    pub(super) fn on_side(self, facing: f64, horizon_deg: f64) -> f64 {
        if self.elevation <= 0.0 {
            return 0.0;
        }
        let mass = 1.0 / libm::sin(self.elevation).max(0.02);
        let beam = libm::pow(0.7, libm::pow(mass, 0.678));
        let free = self.elevation > horizon_deg.to_radians();
        let straight = libm::cos(self.elevation) * libm::cos(self.azimuth - facing);
        let direct = if free { straight.max(0.0) } else { 0.0 };
        beam * (direct + 0.1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LATITUDE_DEG: f64 = 48.0;

    /// Noon of the equinox: elevation 90° − latitude, in the south.
    #[test]
    fn stands_as_the_handbook_says() {
        let equinox_s = 80.0 * 86_400.0 + 12.0 * 3600.0;
        let sun = Sun::at(equinox_s, LATITUDE_DEG);
        assert!((sun.elevation.to_degrees() - 42.0).abs() < 1.0, "{sun:?}");
        assert!((sun.azimuth.abs().to_degrees() - 180.0).abs() < 0.5);
        let solstice = Sun::at(171.0 * 86_400.0 + 12.0 * 3600.0, LATITUDE_DEG);
        assert!((solstice.elevation.to_degrees() - 65.45).abs() < 0.3);
        let rises = Sun::at(equinox_s - 6.0 * 3600.0, LATITUDE_DEG);
        assert!(rises.elevation.abs().to_degrees() < 1.5, "{rises:?}");
        assert!((rises.azimuth.to_degrees() - 90.0).abs() < 2.0);
    }

    #[test]
    fn warms_the_side_it_shines_on() {
        let morning = Sun::at(80.0 * 86_400.0 + 8.5 * 3600.0, LATITUDE_DEG);
        let (east, west) = (0.5 * PI, 1.5 * PI);
        assert!(morning.on_side(east, 8.0) > 5.0 * morning.on_side(west, 8.0));
        assert!(morning.on_side(east, 60.0) < 0.2 * morning.on_side(east, 8.0));
        let night = Sun::at(80.0 * 86_400.0, LATITUDE_DEG);
        assert_eq!(night.on_side(east, 8.0), 0.0);
    }
}
