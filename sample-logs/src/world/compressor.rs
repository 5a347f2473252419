//! A small electric compressor: delivery, heat, thermal cut-out.

use super::air::REFERENCE_DENSITY;
use super::constants::ZERO_CELSIUS_K;

/// One compressor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compressor {
    /// Free air delivery at no back pressure, 13.5 V and 100 kPa outside, m³/s.
    pub free_air_m3_s: f64,
    /// Back pressure at which it delivers nothing, Pa gauge.
    pub stall_pa_gauge: f64,
    /// What wear has left of the delivery, 0 to 1.
    pub health: f64,
    /// What dirt has left of the cooling, 0 to 1.
    pub airing: f64,
    /// Loss heating the motor, W.
    pub loss_w: f64,
    /// Heat of the motor for one kelvin, J/K.
    pub motor_j_k: f64,
    /// Motor to the outside, W/K.
    pub cooling_w_k: f64,
    /// The thermal switch opens here, K.
    pub trip_k: f64,
    /// And closes again here, K.
    pub reset_k: f64,
    /// The controller asks for it.
    pub wanted: bool,
    /// The thermal switch is open.
    pub tripped: bool,
    /// Motor temperature, K.
    pub motor_k: f64,
}

/// Voltage the free air delivery is told at, V; common practice, no source.
const RATED_V: f64 = 13.5;

impl Compressor {
    /// It turns.
    #[must_use]
    pub fn running(&self) -> bool {
        self.wanted && !self.tripped
    }

    /// Mass flow into the tank, kg/s, and the temperature it comes with, K.
    ///
    /// Delivery falls linearly with back pressure (clearance volume and
    /// leakage past the rings) and nearly linearly with speed, hence voltage; it takes in
    /// thinner air at altitude and in the heat. The hose cools the air to well
    /// below the discharge valve's temperature.
    #[must_use]
    pub fn delivery(
        &self,
        tank_pa: f64,
        outside_pa: f64,
        outside_k: f64,
        supply_v: f64,
    ) -> (f64, f64) {
        if !self.running() {
            return (0.0, outside_k);
        }
        let back = ((tank_pa - outside_pa) / self.stall_pa_gauge).clamp(0.0, 1.0);
        let speed = (supply_v / RATED_V).max(0.0);
        let density = REFERENCE_DENSITY * (outside_pa / 100e3) * (293.15 / outside_k);
        let kg_s = self.free_air_m3_s * (1.0 - back) * speed * self.health * density;
        let warm_k = 0.4 * (self.motor_k - outside_k).max(0.0);
        (kg_s, outside_k + 25.0 + warm_k)
    }

    /// Warm or cool the motor for `dt_s` and work the thermal switch.
    pub fn step(&mut self, outside_k: f64, dt_s: f64) {
        let loss_w = if self.running() { self.loss_w } else { 0.0 };
        let cooling_w_k = self.cooling_w_k * self.airing;
        let end_k = outside_k + loss_w / cooling_w_k;
        let keep = libm::exp(-dt_s * cooling_w_k / self.motor_j_k);
        self.motor_k = end_k + (self.motor_k - end_k) * keep;
        if self.motor_k >= self.trip_k {
            self.tripped = true;
        } else if self.motor_k <= self.reset_k {
            self.tripped = false;
        }
    }

    /// Motor temperature, °C.
    #[must_use]
    pub fn motor_c(&self) -> f64 {
        self.motor_k - ZERO_CELSIUS_K
    }
}
