//! Heat of engine, exhaust, brakes and sun at a place.

use crate::scenario::Warming;

/// What the warming of all places depends on now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Heating {
    /// Speed, while there is a driver, km/h.
    pub kmh: Option<f64>,
    /// Where the nose points, rad from north.
    pub heading: f64,
    /// The sun.
    pub sun: super::sun::Sun,
    /// The sun stands behind something below this, degrees.
    pub horizon_deg: f64,
    /// Share of the beam the clouds leave.
    pub clear: f64,
}

/// Heat stored near one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Warmth {
    rule: Warming,
    engine: f64,
    brakes: f64,
}

/// An engine gets warm with this time constant, s (10 to 15 minutes; common
/// practice, no source).
const ENGINE_WARMS_S: f64 = 700.0;

/// Brakes in town, s (common practice, no source).
const BRAKES_WARM_S: f64 = 400.0;

/// Share of the heat that is felt at a place in the wind of the drive, and at a
/// walking pace.
const IN_THE_WIND: f64 = 0.3;

impl Warmth {
    pub(super) fn new(rule: Warming) -> Self {
        Warmth {
            rule,
            engine: 0.0,
            brakes: 0.0,
        }
    }

    /// Let `dt_s` pass; returns how much warmer the place's surroundings are than
    /// the weather, K.
    pub(super) fn step(&mut self, now: &Heating, dt_s: f64) -> f64 {
        let towards = |value: &mut f64, goal: f64, time_s: f64| {
            *value = goal + (*value - goal) * libm::exp(-dt_s / time_s);
        };
        let rule = self.rule;
        match now.kmh {
            Some(_) => {
                towards(&mut self.engine, 1.0, ENGINE_WARMS_S);
                towards(&mut self.brakes, 1.0, BRAKES_WARM_S);
            }
            None => {
                towards(&mut self.engine, 0.0, rule.engine_decay_h * 3600.0);
                towards(&mut self.brakes, 0.0, rule.brake_decay_h * 3600.0);
            }
        }
        let wind = now.kmh.map_or(0.0, |kmh| (kmh / 50.0).min(1.0));
        let felt = 1.0 - (1.0 - IN_THE_WIND) * wind;
        let facing = now.heading + rule.side_deg.to_radians();
        let sun = now.clear * now.sun.on_side(facing, now.horizon_deg);
        felt * (rule.engine_k * self.engine + rule.brake_k * self.brakes + rule.sun_k * sun)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::sun::Sun;

    #[test]
    fn rises_when_the_car_stops_and_decays_with_its_time() {
        let rule = Warming {
            engine_k: 10.0,
            engine_decay_h: 1.0,
            ..Warming::default()
        };
        let mut warmth = Warmth::new(rule);
        let mut now = Heating {
            kmh: Some(60.0),
            heading: 0.0,
            sun: Sun::at(0.0, 48.0),
            horizon_deg: 8.0,
            clear: 1.0,
        };
        let driven = (0..3600).map(|_| warmth.step(&now, 1.0)).next_back();
        now.kmh = None;
        let stopped = warmth.step(&now, 1.0);
        assert!(
            stopped > 3.0 * driven.unwrap_or(f64::NAN) - 1e-9,
            "{stopped}"
        );
        let later = warmth.step(&now, 3600.0);
        assert!((later / stopped - (-1.0_f64).exp()).abs() < 1e-6);
    }
}
