//! A car with everything that disturbs a real one's readings.
//!
//! The ranges are those an engineer would give from experience: common practice,
//! no source, where none is named. None was chosen by looking at what a program
//! that reads the logs makes of them.

use super::{Circuit, Scenario, Warming};
use crate::rng::Noise;

/// Evenly over the logarithm between two bounds.
fn log_even(draw: &mut Noise, low: f64, high: f64) -> f64 {
    libm::exp(draw.between(libm::log(low), libm::log(high)))
}

impl Scenario {
    /// Draw every disturbance of [`super::Nuisance`] but ground and altitude, which
    /// belong to the stages, from this scenario's seed.
    ///
    /// ```
    /// use seep_sample_logs::scenario::builtin;
    /// let mut night = builtin("slow-leak-overnight").unwrap();
    /// night.disturb();
    /// assert!(night.circuits.iter().all(|c| c.creep_percent_decade >= 0.1));
    /// let mut again = builtin("slow-leak-overnight").unwrap();
    /// again.disturb();
    /// assert_eq!(night, again);
    /// ```
    pub fn disturb(&mut self) {
        let mut draw = Noise::new(self.seed, "disturb");
        self.warm(&mut draw);
        for circuit in &mut self.circuits {
            springs(circuit, &mut draw);
        }
        self.vehicle.twist_n_mm = if draw.chance(0.85) {
            log_even(&mut draw, 10.0, 120.0)
        } else {
            0.0
        };
        self.tank.wet = draw.chance(0.4);
        self.sensors(&mut draw);
        self.sky(&mut draw);
    }

    /// Engine in front (or, one in eight, behind), brakes at every wheel, sun.
    fn warm(&mut self, draw: &mut Noise) {
        let engine_k = draw.between(0.0, 15.0);
        let engine_behind = draw.chance(0.12);
        let engine_decay_h = log_even(draw, 0.7, 3.0);
        let brake_k = draw.between(0.0, 6.0);
        let brake_decay_h = log_even(draw, 0.3, 0.8);
        let sun_k = if draw.chance(0.6) {
            draw.between(0.0, 14.0)
        } else {
            0.0
        };
        let first = self.circuits.first().map(|c| c.axle.clone());
        let each = |near: f64, side_deg: f64, lit: f64, draw: &mut Noise| Warming {
            engine_k: engine_k * near * draw.between(0.6, 1.0),
            engine_decay_h: engine_decay_h * draw.between(0.8, 1.25),
            brake_k: brake_k * draw.between(0.5, 1.0),
            brake_decay_h,
            sun_k: sun_k * lit * draw.between(0.7, 1.0),
            side_deg,
        };
        for (i, circuit) in self.circuits.iter_mut().enumerate() {
            let in_front = Some(&circuit.axle) == first.as_ref();
            let near = if in_front == engine_behind { 0.25 } else { 1.0 };
            let side_deg = if i % 2 == 0 { 270.0 } else { 90.0 };
            circuit.warming = each(near, side_deg, 1.0, draw);
        }
        self.tank.warming = each(0.3, 180.0, 0.5, draw);
        let by_engine = draw.between(0.1, 1.0);
        self.watch.box_line.warming = each(by_engine, 270.0, 0.6, draw);
    }

    fn sensors(&mut self, draw: &mut Noise) {
        let full_scale: f64 = [1_000.0, 1_600.0][usize::from(draw.chance(0.7))];
        let pressure = &mut self.watch.pressure;
        pressure.full_scale_kpa = full_scale.max(self.controller.cut_out_kpa_gauge + 100.0);
        // 0 to 0.03 % of full scale per kelvin, as data sheets bound it.
        pressure.zero_kpa_per_k = draw.between(0.0, 0.015) / 100.0 * pressure.full_scale_kpa;
        pressure.at_bag = draw.chance(0.5);
        pressure.hysteresis_kpa = draw.between(0.0, 0.1) / 100.0 * pressure.full_scale_kpa;
        if draw.chance(0.2) {
            pressure.tank_count_kpa = 8.0;
        }
        if draw.chance(0.08) {
            pressure.count_kpa = [1.0, 2.0, 4.0][(draw.uniform() * 3.0) as usize];
        }
        self.watch.height.hysteresis_mm = draw.between(0.0, 0.5);
        let line = &mut self.watch.box_line;
        if draw.chance(0.3) {
            line.spike_chance = log_even(draw, 1e-5, 1e-3);
        }
        if draw.chance(0.1) {
            line.stuck_per_week = draw.between(0.2, 1.5);
        }
    }

    fn sky(&mut self, draw: &mut Noise) {
        let story = &mut self.surroundings;
        story.fronts_per_week = draw.between(0.0, 3.0);
        story.front_kpa = draw.between(1.0, 3.0);
        story.front_k = draw.between(1.0, 5.0);
        story.season_k_per_week = if draw.chance(0.25) {
            draw.between(-10.0, 10.0)
        } else {
            draw.between(-1.5, 1.5)
        };
        story.latitude_deg = draw.between(36.0, 60.0);
        story.horizon_deg = draw.between(3.0, 30.0);
    }
}

fn springs(c: &mut Circuit, draw: &mut Noise) {
    c.creep_percent_decade = log_even(draw, 0.1, 1.0);
    c.stretch_percent_bar = log_even(draw, 0.05, 0.6);
    c.sound_anr_cm3_min = log_even(draw, 0.01, 0.15);
    c.stick_ratio = draw.between(1.0, 1.4);
    c.friction_n *= log_even(draw, 0.5, 5.0);
    c.taper_percent = draw.between(-12.0, -2.0);
    c.curve_percent = draw.between(-1.0, 2.5);
}
