//! Flow through the open valves: a common supply and a common exhaust.

use super::World;
use super::corner::UNIT;
use super::flow::{Restriction, joint_pressure};

/// An open path from the manifold to a circuit.
struct Open {
    corner: usize,
    path: Restriction,
    share: f64,
}

impl World {
    /// Move the air of all open valves for `dt_s`.
    pub(super) fn pass_valves(&mut self, dt_s: f64) {
        let (mut fills, mut dumps) = (Vec::new(), Vec::new());
        for (corner, c) in self.corners.iter_mut().enumerate() {
            let share = c.fill.step(dt_s);
            if share > 0.0 {
                let path = c.paths.fill.opened(share).then(c.paths.line);
                fills.push(Open {
                    corner,
                    path,
                    share,
                });
            }
            let share = c.dump.step(dt_s);
            if share > 0.0 {
                let path = c.paths.line.then(c.paths.dump.opened(share));
                dumps.push(Open {
                    corner,
                    path,
                    share,
                });
            }
        }
        if !fills.is_empty() {
            self.pass_fills(&fills, dt_s);
        }
        if !dumps.is_empty() {
            self.pass_dumps(&dumps, dt_s);
        }
    }

    /// Tank → supply line → gallery → fill valves → lines → springs.
    fn pass_fills(&mut self, fills: &[Open], dt_s: f64) {
        let (tank_pa, tank_k) = (self.tank.pa(), self.tank.air.kelvin());
        let state = |open: &Open| {
            let c = &self.corners[open.corner];
            (c.pa(), c.air.kelvin())
        };
        let states: Vec<(f64, f64)> = fills.iter().map(state).collect();
        let low = states.iter().fold(tank_pa, |low, s| low.min(s.0));
        let high = states.iter().fold(tank_pa, |high, s| high.max(s.0));
        let gallery_pa = joint_pressure(low, high, |pa| {
            let mut surplus = self.supply.flow(tank_pa, tank_k, pa, tank_k);
            for (open, (corner_pa, corner_k)) in fills.iter().zip(&states) {
                surplus -= open.path.flow(pa, tank_k, *corner_pa, *corner_k);
            }
            surplus
        });
        for (open, (corner_pa, corner_k)) in fills.iter().zip(&states) {
            let kg = dt_s * open.path.flow(gallery_pa, tank_k, *corner_pa, *corner_k);
            let from_k = if kg >= 0.0 { tank_k } else { *corner_k };
            let c = &mut self.corners[open.corner];
            let alone = self.supply.then(c.paths.fill).then(c.paths.line);
            let unit = Restriction {
                c: UNIT,
                b: alone.b,
            };
            c.fill_unit_kg += dt_s * open.share * unit.flow(tank_pa, tank_k, *corner_pa, *corner_k);
            c.air.put(kg, from_k);
            c.filled_kg += kg;
            self.tank.air.put(-kg, from_k);
            self.wet_fill(open.corner, kg);
        }
    }

    /// Springs → lines → dump valves → exhaust → outside.
    fn pass_dumps(&mut self, dumps: &[Open], dt_s: f64) {
        let (outside_pa, outside_k) = (self.weather.pa, self.weather.kelvin);
        let state = |open: &Open| {
            let c = &self.corners[open.corner];
            (c.pa(), c.air.kelvin())
        };
        let states: Vec<(f64, f64)> = dumps.iter().map(state).collect();
        let low = states.iter().fold(outside_pa, |low, s| low.min(s.0));
        let high = states.iter().fold(outside_pa, |high, s| high.max(s.0));
        let mean_k = states.iter().map(|s| s.1).sum::<f64>() / states.len() as f64;
        let exhaust_pa = joint_pressure(low, high, |pa| {
            let mut surplus = -self.exhaust.flow(pa, mean_k, outside_pa, outside_k);
            for (open, (corner_pa, corner_k)) in dumps.iter().zip(&states) {
                surplus += open.path.flow(*corner_pa, *corner_k, pa, mean_k);
            }
            surplus
        });
        for (open, (corner_pa, corner_k)) in dumps.iter().zip(&states) {
            let kg = dt_s * open.path.flow(*corner_pa, *corner_k, exhaust_pa, mean_k);
            let from_k = if kg >= 0.0 { *corner_k } else { mean_k };
            let c = &mut self.corners[open.corner];
            let alone = c.paths.line.then(c.paths.dump).then(self.exhaust);
            let unit = Restriction {
                c: UNIT,
                b: alone.b,
            };
            c.dump_unit_kg +=
                dt_s * open.share * unit.flow(*corner_pa, *corner_k, outside_pa, outside_k);
            c.air.put(-kg, from_k);
            c.dumped_kg += kg;
            self.vented_j += kg * from_k * super::air::HEAT_AT_PRESSURE;
        }
    }
}
