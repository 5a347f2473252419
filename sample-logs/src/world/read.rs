//! What sensors could see of the world.

use super::World;
use super::air::HEAT_RATIO;

impl World {
    /// Movement the road gives the body at a circuit now, m.
    fn shaken_m(&self, corner: usize) -> f64 {
        self.road_m * self.road.shake(corner)
    }

    /// Height at a circuit with the road's part, mm.
    #[must_use]
    pub fn height_mm(&self, corner: usize) -> f64 {
        1000.0 * (self.corners[corner].height_m + self.shaken_m(corner))
    }

    /// Pressure in a circuit with the road's part, kPa against the outside now.
    #[must_use]
    pub fn corner_kpa_gauge(&self, corner: usize) -> f64 {
        let c = &self.corners[corner];
        let (pa, m3) = (c.pa(), c.m3());
        let squeezed = -HEAT_RATIO * pa * c.spring.area(c.height_m) / m3 * self.shaken_m(corner);
        (pa + squeezed - self.weather.pa) / 1000.0
    }

    /// Pressure in the tank, kPa against the outside now.
    #[must_use]
    pub fn tank_kpa_gauge(&self) -> f64 {
        (self.tank.pa() - self.weather.pa) / 1000.0
    }

    /// Pressure in a circuit without the road's part, kPa against the outside now.
    #[must_use]
    pub fn still_kpa_gauge(&self, corner: usize) -> f64 {
        (self.corners[corner].pa() - self.weather.pa) / 1000.0
    }
}
