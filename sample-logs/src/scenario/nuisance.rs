//! What disturbs a sound car's readings, each with a switch.

use super::{Scenario, Warming};
use std::fmt;

/// One disturbance that [`Scenario::leave_out`] can switch off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Nuisance {
    /// Engine, exhaust and brakes warm the places after drives.
    Soak,
    /// Sun on one side.
    Sun,
    /// Slow growth of the springs under pressure.
    Creep,
    /// Growth of the springs with pressure at once.
    Stretch,
    /// Air that a sound circuit loses.
    Permeation,
    /// Static friction above sliding friction.
    StickSlip,
    /// Friction of joints and bushes altogether.
    Friction,
    /// A body that resists twist.
    Twist,
    /// Uneven ground.
    Ground,
    /// Effective area that changes with height.
    Taper,
    /// Zero of the pressure sensors against temperature.
    SensorTemperature,
    /// Play of the sensors.
    Hysteresis,
    /// Coarse counts.
    CoarseCounts,
    /// Wild readings.
    Spikes,
    /// Hours of a repeated reading.
    Stuck,
    /// Weather fronts.
    Fronts,
    /// Change of the mean temperature.
    Season,
    /// Drives to another altitude.
    Altitude,
    /// Water in the tank.
    Humidity,
}

impl Nuisance {
    /// Every disturbance.
    pub const ALL: [Nuisance; 19] = [
        Nuisance::Soak,
        Nuisance::Sun,
        Nuisance::Creep,
        Nuisance::Stretch,
        Nuisance::Permeation,
        Nuisance::StickSlip,
        Nuisance::Friction,
        Nuisance::Twist,
        Nuisance::Ground,
        Nuisance::Taper,
        Nuisance::SensorTemperature,
        Nuisance::Hysteresis,
        Nuisance::CoarseCounts,
        Nuisance::Spikes,
        Nuisance::Stuck,
        Nuisance::Fronts,
        Nuisance::Season,
        Nuisance::Altitude,
        Nuisance::Humidity,
    ];

    /// Word for the command line.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Nuisance::Soak => "soak",
            Nuisance::Sun => "sun",
            Nuisance::Creep => "creep",
            Nuisance::Stretch => "stretch",
            Nuisance::Permeation => "permeation",
            Nuisance::StickSlip => "stick-slip",
            Nuisance::Friction => "friction",
            Nuisance::Twist => "twist",
            Nuisance::Ground => "ground",
            Nuisance::Taper => "taper",
            Nuisance::SensorTemperature => "sensor-temperature",
            Nuisance::Hysteresis => "hysteresis",
            Nuisance::CoarseCounts => "coarse-counts",
            Nuisance::Spikes => "spikes",
            Nuisance::Stuck => "stuck",
            Nuisance::Fronts => "fronts",
            Nuisance::Season => "season",
            Nuisance::Altitude => "altitude",
            Nuisance::Humidity => "humidity",
        }
    }

    /// The disturbance of a word.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|n| n.word() == word)
    }
}

impl fmt::Display for Nuisance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

impl Scenario {
    /// Switch a disturbance off.
    ///
    /// ```
    /// use seep_sample_logs::scenario::{Nuisance, builtin};
    /// let mut night = builtin("slow-leak-overnight").unwrap();
    /// night.leave_out(Nuisance::Permeation);
    /// assert_eq!(night.circuits[0].sound_anr_cm3_min, 0.0);
    /// ```
    pub fn leave_out(&mut self, nuisance: Nuisance) {
        let pressure = &mut self.watch.pressure;
        match nuisance {
            Nuisance::Soak => self.each_warming(|w| (w.engine_k, w.brake_k) = (0.0, 0.0)),
            Nuisance::Sun => self.each_warming(|w| w.sun_k = 0.0),
            Nuisance::Creep => self.each_circuit(|c| c.creep_percent_decade = 0.0),
            Nuisance::Stretch => self.each_circuit(|c| c.stretch_percent_bar = 0.0),
            Nuisance::Permeation => self.each_circuit(|c| c.sound_anr_cm3_min = 0.0),
            Nuisance::StickSlip => self.each_circuit(|c| c.stick_ratio = 1.0),
            Nuisance::Friction => self.each_circuit(|c| c.friction_n = 0.0),
            Nuisance::Twist => self.vehicle.twist_n_mm = 0.0,
            Nuisance::Ground => self.stages.iter_mut().for_each(|s| s.ground_mm = None),
            Nuisance::Taper => {
                self.each_circuit(|c| (c.taper_percent, c.curve_percent) = (0.0, 0.0));
            }
            Nuisance::SensorTemperature => pressure.zero_kpa_per_k = 0.0,
            Nuisance::Hysteresis => {
                pressure.hysteresis_kpa = 0.0;
                self.watch.height.hysteresis_mm = 0.0;
            }
            Nuisance::CoarseCounts => {
                (pressure.count_kpa, pressure.tank_count_kpa, pressure.bits) = (0.0, 0.0, 14);
            }
            Nuisance::Spikes => self.watch.box_line.spike_chance = 0.0,
            Nuisance::Stuck => self.watch.box_line.stuck_per_week = 0.0,
            Nuisance::Fronts => self.surroundings.fronts_per_week = 0.0,
            Nuisance::Season => self.surroundings.season_k_per_week = 0.0,
            Nuisance::Altitude => self.stages.iter_mut().for_each(|s| s.to_altitude_m = None),
            Nuisance::Humidity => self.tank.wet = false,
        }
    }

    fn each_circuit(&mut self, change: impl FnMut(&mut super::Circuit)) {
        self.circuits.iter_mut().for_each(change);
    }

    fn each_warming(&mut self, mut change: impl FnMut(&mut Warming)) {
        self.circuits
            .iter_mut()
            .for_each(|c| change(&mut c.warming));
        change(&mut self.tank.warming);
        change(&mut self.watch.box_line.warming);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_is_read_back() {
        for nuisance in Nuisance::ALL {
            assert_eq!(Nuisance::parse(nuisance.word()), Some(nuisance));
        }
        assert_eq!(Nuisance::parse("moon"), None);
    }
}
