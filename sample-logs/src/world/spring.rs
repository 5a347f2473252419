//! The air spring: force and volume against height, stops, friction.

use super::air::{Air, HEAT_RATIO};

/// One air spring (or a pair that shares a circuit, added up).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spring {
    /// Effective area at height 0, m².
    pub area_m2: f64,
    /// Relative change of the area per metre of height.
    pub taper_per_m: f64,
    /// Relative change of that slope, 1/m².
    pub curve_per_m2: f64,
    /// Volume at height 0 with line and fittings, m³.
    pub volume_m3: f64,
    /// Height of the lower stop under the car's weight, m.
    pub lower_stop_m: f64,
    /// Height at which it is fully extended, m.
    pub upper_stop_m: f64,
    /// Weight the lower stop is made for, N.
    pub stop_load_n: f64,
    /// Coulomb friction of joints and bushes, N.
    pub friction_n: f64,
    /// Static over sliding friction.
    pub stick_ratio: f64,
    /// Damper, N·s/m.
    pub damping_n_s_m: f64,
    /// Volume over that of a bag that does not give way.
    pub swell: f64,
}

/// A bump stop is touched this far above its rest height, m.
const STOP_DEPTH_M: f64 = 0.012;

impl Spring {
    /// Effective area at a height, m².
    #[must_use]
    pub fn area(&self, h: f64) -> f64 {
        self.area_m2 * (1.0 + self.taper_per_m * h + self.curve_per_m2 * h * h)
    }

    /// Volume at a height, m³: `dV/dh` is the effective area (virtual work).
    #[must_use]
    pub fn volume(&self, h: f64) -> f64 {
        let integral = h + self.taper_per_m * h * h / 2.0 + self.curve_per_m2 * h * h * h / 3.0;
        (self.volume_m3 + self.area_m2 * integral).max(0.05 * self.volume_m3) * self.swell
    }

    /// Upward force of the lower stop and downward force of the upper one, N,
    /// with its slope, N/m.
    fn stops(&self, h: f64) -> (f64, f64) {
        let rate = self.stop_load_n / STOP_DEPTH_M;
        let into_lower = self.lower_stop_m + STOP_DEPTH_M - h;
        if into_lower > 0.0 {
            // Rubber: half the load from the linear part, half from the cubic.
            let x = into_lower / STOP_DEPTH_M;
            let force = self.stop_load_n * 0.5 * (x + x * x * x);
            return (force, -0.5 * rate * (1.0 + 3.0 * x * x));
        }
        let into_upper = h - self.upper_stop_m;
        if into_upper > 0.0 {
            return (-6.0 * rate * into_upper, -6.0 * rate);
        }
        (0.0, 0.0)
    }

    /// Force on the body at height `h` when the air that had `pa` in `m3` is
    /// brought there without heat, N, and its slope, N/m.
    fn force(&self, h: f64, pa: f64, m3: f64, outside_pa: f64) -> (f64, f64) {
        let (area, volume) = (self.area(h), self.volume(h));
        let now = pa * libm::pow(m3 / volume, HEAT_RATIO);
        let area_slope = self.area_m2 * (self.taper_per_m + 2.0 * self.curve_per_m2 * h);
        let (stop, stop_slope) = self.stops(h);
        let slope = -HEAT_RATIO * now * area * area / volume + (now - outside_pa) * area_slope;
        ((now - outside_pa) * area + stop, slope + stop_slope)
    }

    /// Height at which the pressure carries the load, stops included, friction
    /// not: where a fresh simulation starts.
    #[must_use]
    pub fn pressure_for(&self, h: f64, load_n: f64, outside_pa: f64) -> f64 {
        let (stop, _) = self.stops(h);
        outside_pa + ((load_n - stop) / self.area(h)).max(0.0)
    }

    /// Let the body move for `dt_s` under load, friction and damper; the air is
    /// squeezed without heat. Backward Euler, so a long step ends at rest.
    /// `slack` is the share of friction that is left (road shaking breaks it).
    /// `load_n` is the load at `h`, and it grows by `load_n_m` with the height (a
    /// body that resists twist). Returns the new height, m.
    #[expect(clippy::too_many_arguments, reason = "one law of motion")]
    pub fn settle(
        &self,
        air: &mut Air,
        h: f64,
        load_n: f64,
        load_n_m: f64,
        outside_pa: f64,
        slack: f64,
        dt_s: f64,
    ) -> f64 {
        let volume = self.volume(h);
        let pa = air.pa(volume);
        let friction = self.friction_n * slack;
        let (force, _) = self.force(h, pa, volume, outside_pa);
        let net = force - load_n;
        if net.abs() <= friction * self.stick_ratio {
            return h;
        }
        let held = load_n + friction.copysign(net);
        let drag = self.damping_n_s_m / dt_s;
        let mut next = h;
        for _ in 0..30 {
            let (force, slope) = self.force(next, pa, volume, outside_pa);
            let stiff = drag + load_n_m;
            let step = (force - held - stiff * (next - h)) / (stiff - slope).max(stiff);
            // A stop is stiff: never jump far past its edge in one go.
            let step = step.clamp(-0.02, 0.02);
            next += step;
            if step.abs() < 1e-10 {
                break;
            }
        }
        air.squeeze(volume, self.volume(next));
        next
    }
}
