//! Another car of the same kind.

use super::Scenario;
use crate::rng::Noise;

impl Scenario {
    /// The same story with another seed and another car: dimensions, valves,
    /// heat and weather differ by some percent, as from car to car. Volumes
    /// in the rig follow the new car.
    #[must_use]
    pub fn varied(&self, seed: u64) -> Scenario {
        let mut car = self.clone();
        car.seed = seed;
        let mut noise = Noise::new(seed, "car");
        let mut vary = |value: &mut f64, percent: f64| {
            *value *= libm::exp(percent / 100.0 * noise.normal().clamp(-2.5, 2.5));
        };
        let stated = car.tank.stated_volume_l / car.tank.volume_l;
        vary(&mut car.tank.volume_l, 8.0);
        car.tank.stated_volume_l = car.tank.volume_l * stated;
        vary(&mut car.tank.heat_s, 25.0);
        vary(&mut car.tank.shell_s, 25.0);
        for c in &mut car.circuits {
            vary(&mut c.mass_kg, 4.0);
            vary(&mut c.area_cm2, 3.0);
            vary(&mut c.volume_l, 8.0);
            vary(&mut c.friction_n, 25.0);
            for conductance in [&mut c.fill_c, &mut c.dump_c, &mut c.line_c] {
                vary(conductance, 10.0);
            }
            vary(&mut c.valve_lag_ms, 15.0);
            vary(&mut c.heat_s, 25.0);
            vary(&mut c.skin_s, 25.0);
        }
        for c in &mut car.compressors {
            vary(&mut c.free_air_l_min, 8.0);
        }
        vary(&mut car.surroundings.swing_k, 25.0);
        vary(&mut car.watch.pressure.noise_kpa, 20.0);
        vary(&mut car.watch.height.noise_mm, 20.0);
        car.surroundings.mean_c += 4.0 * noise.normal();
        car
    }
}
