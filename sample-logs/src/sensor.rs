//! Sensors: gain, zero, drift, noise, quantisation, dropouts.

use crate::rng::Noise;

/// One sensor on a converter.
#[derive(Debug, Clone)]
pub(crate) struct Sensor {
    /// Gain, 1 when perfect.
    pub(crate) gain: f64,
    /// Zero offset, in the sensor's unit.
    pub(crate) zero: f64,
    /// Change of the zero per kelvin from 20 °C.
    pub(crate) zero_per_k: f64,
    /// Change of the zero per second.
    pub(crate) zero_per_s: f64,
    /// Noise of one reading, one standard deviation.
    pub(crate) noise: f64,
    /// Size of one count of the converter.
    pub(crate) count: f64,
    /// Lowest and highest reading.
    pub(crate) range: (f64, f64),
    /// Probability that it drops out, per reading.
    pub(crate) dropout_chance: f64,
    dropped: u32,
    stream: Noise,
}

impl Sensor {
    /// A perfect sensor but for noise and counts.
    #[must_use]
    pub(crate) fn new(stream: Noise, noise: f64, count: f64, range: (f64, f64)) -> Self {
        Sensor {
            gain: 1.0,
            zero: 0.0,
            zero_per_k: 0.0,
            zero_per_s: 0.0,
            noise,
            count,
            range,
            dropout_chance: 0.0,
            dropped: 0,
            stream,
        }
    }

    /// Read a true value at a time and a temperature; `None` while it has dropped out.
    pub(crate) fn read(&mut self, value: f64, t_s: f64, celsius: f64) -> Option<f64> {
        let noise = self.noise * self.stream.normal();
        if self.dropped > 0 {
            self.dropped -= 1;
            return None;
        }
        if self.dropout_chance > 0.0 && self.stream.chance(self.dropout_chance) {
            self.dropped = 1 + (self.stream.uniform() * 6.0) as u32;
            return None;
        }
        let zero = self.zero + self.zero_per_k * (celsius - 20.0) + self.zero_per_s * t_s;
        let raw = self.gain * value + zero + noise;
        let counted = (raw / self.count).round() * self.count;
        Some(counted.clamp(self.range.0, self.range.1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_counts_within_range_and_says_nothing_while_dropped_out() {
        let mut sensor = Sensor::new(Noise::new(1, "s"), 0.4, 0.390_625, (0.0, 1600.0));
        sensor.zero_per_s = 0.001;
        let value = sensor.read(500.0, 1000.0, 20.0).expect("not dropped out");
        assert!((value - 501.0).abs() < 2.0, "{value}");
        let counts = value / 0.390_625;
        assert!((counts - counts.round()).abs() < 1e-9);
        assert_eq!(sensor.read(2000.0, 0.0, 20.0), Some(1600.0));
        sensor.dropout_chance = 1.0;
        assert_eq!(sensor.read(500.0, 0.0, 20.0), None);
    }

    #[test]
    fn mean_of_many_readings_is_finer_than_a_count() {
        let mut sensor = Sensor::new(Noise::new(2, "s"), 0.4, 0.390_625, (0.0, 1600.0));
        let n = 40_000;
        let sum: f64 = (0..n).filter_map(|_| sensor.read(456.78, 0.0, 20.0)).sum();
        assert!((sum / f64::from(n) - 456.78).abs() < 0.01);
    }
}
