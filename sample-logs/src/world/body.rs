//! The body on its springs: anti-roll bars, twist, friction, bags that give way.

use super::World;

/// At rest a step is long: the corners of a stiff body are brought to balance one
/// after another until none moves further than this, m.
const SETTLED_M: f64 = 1e-7;
const MOST_ROUNDS: usize = 12;

/// Steps from here on are at rest, s.
const LONG_STEP_S: f64 = 0.2;

/// Sides of the diagonal, in the order front left, front right, rear left, rear
/// right.
const DIAGONAL: [f64; 4] = [1.0, -1.0, -1.0, 1.0];

impl World {
    /// Every spring moves until load and pressure balance.
    pub(super) fn step_springs(&mut self, dt_s: f64) {
        let twists = self.twist_n_m > 0.0;
        let rounds = if twists && dt_s >= LONG_STEP_S {
            MOST_ROUNDS
        } else {
            1
        };
        for _ in 0..rounds {
            let before: Vec<f64> = self.corners.iter().map(|c| c.height_m).collect();
            for i in 0..self.corners.len() {
                self.settle(i, dt_s);
            }
            let moved = |(c, h): (&super::Corner, f64)| (c.height_m - h).abs();
            if self
                .corners
                .iter()
                .zip(before)
                .map(moved)
                .all(|m| m < SETTLED_M)
            {
                break;
            }
        }
    }

    fn settle(&mut self, i: usize, dt_s: f64) {
        let shaken = self.road.kmh > 5.0;
        let slack = if shaken { self.shaken_friction } else { 1.0 };
        let outside_pa = self.weather.pa;
        let twist_m = self.corners[i]
            .partner
            .map_or(0.0, |p| self.corners[i].height_m - self.corners[p].height_m);
        let shifted_n = self.shifted_n(i);
        let twist_n_m = self.twist_n_m;
        let load_n = self.corners[i].weight_n() + self.anti_roll_n_m * twist_m + shifted_n;
        let c = &mut self.corners[i];
        let before_j = c.air.energy_j;
        let air = &mut c.air;
        c.height_m = c
            .spring
            .settle(air, c.height_m, load_n, twist_n_m, outside_pa, slack, dt_s);
        self.work_j += c.air.energy_j - before_j;
    }

    /// Load the twisted body shifts onto a corner, N: `s·k·Σ s·(h + ground)`.
    fn shifted_n(&self, i: usize) -> f64 {
        if self.twist_n_m <= 0.0 {
            return 0.0;
        }
        let corners = self.corners.iter().zip(DIAGONAL);
        let twist_m: f64 = corners
            .map(|(c, side)| side * (c.height_m + c.ground_m))
            .sum();
        DIAGONAL[i] * self.twist_n_m * twist_m
    }

    /// Bags give way under their pressure, doing the work of their air.
    pub(super) fn step_rubber(&mut self, dt_s: f64) {
        let outside_pa = self.weather.pa;
        for c in self.corners.iter_mut().filter(|c| c.rubber.gives()) {
            let swell = c.rubber.step(c.pa() - outside_pa, dt_s);
            let before_m3 = c.m3();
            c.spring.swell = swell;
            self.work_j += c.air.squeeze(before_m3, c.m3());
        }
    }
}
