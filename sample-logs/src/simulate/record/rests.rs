//! Stretches at rest.

use super::{Recorder, leaked_kg, mass, places, rounded};
use crate::truth::{RestStretch, RestVolume};
use crate::world::ZERO_CELSIUS_K;
use crate::world::{Place, REFERENCE_K, REFERENCE_PA, World, anr_litres};

/// A shorter rest is not worth a row, ms.
const SHORTEST_MS: i64 = 20 * 60_000;

/// The world at the start of a rest.
#[derive(Debug)]
pub(super) struct Snapshot {
    t_ms: i64,
    off_ms: i64,
    outside_c: f64,
    volumes: Vec<Volume>,
}

/// A volume at a time.
#[derive(Debug, Clone, Copy)]
struct Volume {
    leaked_kg: f64,
    mass_kg: f64,
    kelvin: f64,
    m3: f64,
    kpa_gauge: f64,
    mm: Option<f64>,
}

fn volume(world: &World, place: Place) -> Volume {
    let (pa, kelvin) = world.state(place);
    let (m3, mm) = match place {
        Place::Corner(i) => {
            let c = &world.corners[i];
            (c.m3(), Some(c.height_m * 1000.0))
        }
        Place::Tank | Place::Outside => (world.tank.m3, None),
    };
    Volume {
        leaked_kg: leaked_kg(world, place),
        mass_kg: mass(world, place),
        kelvin,
        m3,
        kpa_gauge: (pa - world.weather.pa) / 1000.0,
        mm,
    }
}

impl Recorder {
    pub(super) fn watch_rest(&mut self, world: &World, t_ms: i64, at_rest: bool) {
        match (&self.rest, at_rest) {
            (None, true) => self.rest = Some(self.snapshot(world, t_ms)),
            (Some(_), false) => self.end_rest(world, t_ms),
            _ => {}
        }
    }

    fn snapshot(&self, world: &World, t_ms: i64) -> Snapshot {
        Snapshot {
            t_ms,
            off_ms: self.off_ms,
            outside_c: world.weather.kelvin - ZERO_CELSIUS_K,
            volumes: places(&self.names)
                .map(|(_, place)| volume(world, place))
                .collect(),
        }
    }

    pub(super) fn end_rest(&mut self, world: &World, t_ms: i64) {
        let Some(start) = self.rest.take() else {
            return;
        };
        if t_ms - start.t_ms < SHORTEST_MS {
            return;
        }
        let end = self.snapshot(world, t_ms);
        let hours = (t_ms - start.t_ms) as f64 / 3.6e6;
        let pairs = start.volumes.iter().zip(&end.volumes);
        let names = places(&self.names).map(|(name, _)| name);
        self.rests.push(RestStretch {
            start_ms: self.unix_ms(start.t_ms),
            end_ms: self.unix_ms(t_ms),
            power_off_h: rounded((end.off_ms - start.off_ms) as f64 / 3.6e6, 4),
            outside_c: [rounded(start.outside_c, 2), rounded(end.outside_c, 2)],
            volumes: names
                .zip(pairs.map(|(a, b)| rest_volume(a, b, hours)))
                .collect(),
        });
    }
}

fn rest_volume(a: &Volume, b: &Volume, hours: f64) -> RestVolume {
    let lost_l = anr_litres(b.leaked_kg - a.leaked_kg);
    let (m3, kelvin) = (0.5 * (a.m3 + b.m3), 0.5 * (a.kelvin + b.kelvin));
    let kpa_per_l = REFERENCE_PA / 1000.0 * 1e-3 / m3 * kelvin / REFERENCE_K;
    let pair = |x: f64, y: f64, decimals| [rounded(x, decimals), rounded(y, decimals)];
    RestVolume {
        leak_anr_cm3_min: rounded(lost_l * 1000.0 / (hours * 60.0), 4),
        leak_kpa_h: rounded(lost_l * kpa_per_l / hours, 4),
        kpa_gauge: pair(a.kpa_gauge, b.kpa_gauge, 3),
        air_c: pair(a.kelvin - ZERO_CELSIUS_K, b.kelvin - ZERO_CELSIUS_K, 3),
        mm: a.mm.zip(b.mm).map(|(x, y)| pair(x, y, 3)),
        anr_l: pair(anr_litres(a.mass_kg), anr_litres(b.mass_kg), 4),
    }
}
