//! Openings of valves.

use super::{Recorder, rounded, whole_paths};
use crate::truth::Move;
use crate::world::{SI_PER_L_S_BAR, World, anr_litres};

/// A valve that has been driven and has not closed yet.
#[derive(Debug)]
pub(super) struct Opening {
    start_ms: i64,
    end_ms: Option<i64>,
    mm: f64,
    kpa_gauge: f64,
    tank_kpa_gauge: f64,
    moved_kg: f64,
    unit_kg: f64,
}

const VALVES: [&str; 2] = ["fill", "dump"];

impl Recorder {
    pub(super) fn watch_moves(&mut self, world: &World, t_ms: i64) {
        for i in 0..self.open.len() {
            for valve in 0..VALVES.len() {
                self.watch_valve(world, t_ms, i, valve);
            }
        }
    }

    fn watch_valve(&mut self, world: &World, t_ms: i64, i: usize, valve: usize) {
        let c = &world.corners[i];
        let (coil, stocks) = match valve {
            0 => (&c.fill, (c.filled_kg, c.fill_unit_kg)),
            _ => (&c.dump, (c.dumped_kg, c.dump_unit_kg)),
        };
        let Some(opening) = &mut self.open[i][valve] else {
            if coil.driven {
                self.open[i][valve] = Some(Opening {
                    start_ms: t_ms,
                    end_ms: None,
                    mm: world.corners[i].height_m * 1000.0,
                    kpa_gauge: world.still_kpa_gauge(i),
                    tank_kpa_gauge: world.tank_kpa_gauge(),
                    moved_kg: stocks.0,
                    unit_kg: stocks.1,
                });
            }
            return;
        };
        if !coil.driven && opening.end_ms.is_none() {
            opening.end_ms = Some(t_ms);
        }
        if coil.is_shut() {
            self.close(world, t_ms, i, valve, stocks);
        }
    }

    fn close(&mut self, world: &World, t_ms: i64, i: usize, valve: usize, stocks: (f64, f64)) {
        let Some(opening) = self.open[i][valve].take() else {
            return;
        };
        let moved_kg = stocks.0 - opening.moved_kg;
        let paths = whole_paths(world, i);
        let path = if valve == 0 { paths.0 } else { paths.1 };
        let unit_kg = stocks.1 - opening.unit_kg;
        self.moves.push(Move {
            circuit: self.names[i].clone(),
            valve: VALVES[valve].into(),
            start_ms: self.unix_ms(opening.start_ms),
            end_ms: self.unix_ms(opening.end_ms.unwrap_or(t_ms)),
            from_mm: rounded(opening.mm, 2),
            to_mm: rounded(world.corners[i].height_m * 1000.0, 2),
            from_kpa_gauge: rounded(opening.kpa_gauge, 2),
            to_kpa_gauge: rounded(world.still_kpa_gauge(i), 2),
            tank_kpa_gauge: rounded(opening.tank_kpa_gauge, 2),
            moved_anr_l: rounded(anr_litres(moved_kg), 4),
            path_c_l_s_bar: rounded(path.c / SI_PER_L_S_BAR, 5),
            effective_c_l_s_bar: rounded(
                if unit_kg > 0.0 {
                    moved_kg / unit_kg
                } else {
                    0.0
                },
                5,
            ),
            lag_ms: rounded(world.corners[i].fill.lag_s * 1000.0, 1),
        });
    }
}
