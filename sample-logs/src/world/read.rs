//! What sensors could see of the world.

use super::World;
use super::air::HEAT_RATIO;
use super::water::{saturated_pa, vapour_pa};

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
        (pa + squeezed - self.weather.pa + self.vapour_pa(corner)) / 1000.0
    }

    /// Pressure in the tank, kPa against the outside now.
    #[must_use]
    pub fn tank_kpa_gauge(&self) -> f64 {
        (self.tank.pa() - self.weather.pa + self.tank_vapour_pa()) / 1000.0
    }

    /// Pressure in a circuit without the road's part, kPa against the outside now.
    #[must_use]
    pub fn still_kpa_gauge(&self, corner: usize) -> f64 {
        (self.corners[corner].pa() - self.weather.pa + self.vapour_pa(corner)) / 1000.0
    }

    fn tank_vapour_pa(&self) -> f64 {
        if self.tank.wet {
            saturated_pa(self.tank.air.kelvin())
        } else {
            0.0
        }
    }

    fn vapour_pa(&self, corner: usize) -> f64 {
        let c = &self.corners[corner];
        vapour_pa(c.vapour_share, c.pa(), c.air.kelvin())
    }

    /// At the start every circuit holds what the tank would give it now.
    pub(super) fn wet_circuits(&mut self) {
        let share = self.tank_vapour_pa() / self.tank.pa();
        self.corners.iter_mut().for_each(|c| c.vapour_share = share);
    }

    /// A fill brings the tank's vapour, in proportion to the air it brings.
    pub(super) fn wet_fill(&mut self, corner: usize, kg: f64) {
        let share = self.tank_vapour_pa() / self.tank.pa();
        let c = &mut self.corners[corner];
        let part = (kg / c.air.mass_kg).clamp(0.0, 1.0);
        c.vapour_share += part * (share - c.vapour_share);
    }
}
