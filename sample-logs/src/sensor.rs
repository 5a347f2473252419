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
    /// Play between rising and falling values, in the sensor's unit.
    pub(crate) play: f64,
    /// Probability that it is wildly off, per reading.
    pub(crate) spike_chance: f64,
    /// Times per second that it gets stuck.
    pub(crate) stuck_per_s: f64,
    dropped: u32,
    felt: f64,
    stuck: Stuck,
    stream: Noise,
}

/// A sensor that repeats its last reading for hours.
#[derive(Debug, Clone, Copy, Default)]
struct Stuck {
    next_s: f64,
    until_s: f64,
    reading: Option<f64>,
}

/// It stays stuck for so long, s.
const STUCK_S: (f64, f64) = (3_600.0, 21_600.0);

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
            play: 0.0,
            spike_chance: 0.0,
            stuck_per_s: 0.0,
            dropped: 0,
            felt: f64::NAN,
            stuck: Stuck::default(),
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
        let value = self.feel(value);
        let zero = self.zero + self.zero_per_k * (celsius - 20.0) + self.zero_per_s * t_s;
        let raw = self.gain * value + zero + noise;
        let raw = raw + self.spike();
        let counted = (raw / self.count).round() * self.count;
        let reading = counted.clamp(self.range.0, self.range.1);
        Some(self.stick(reading, t_s))
    }

    /// The value behind the play.
    fn feel(&mut self, value: f64) -> f64 {
        if self.play <= 0.0 {
            return value;
        }
        let half = 0.5 * self.play;
        if self.felt.is_nan() {
            self.felt = value;
        }
        self.felt = self.felt.clamp(value - half, value + half);
        self.felt
    }

    /// Off by 1 to 30 % of the range, either way, now and then.
    fn spike(&mut self) -> f64 {
        if self.spike_chance <= 0.0 || !self.stream.chance(self.spike_chance) {
            return 0.0;
        }
        let size = (self.range.1 - self.range.0) * self.stream.between(0.01, 0.3);
        if self.stream.chance(0.5) { size } else { -size }
    }

    fn stick(&mut self, reading: f64, t_s: f64) -> f64 {
        if self.stuck_per_s <= 0.0 {
            return reading;
        }
        let stuck = &mut self.stuck;
        if stuck.next_s <= 0.0 {
            stuck.next_s = t_s - libm::log(1.0 - self.stream.uniform()) / self.stuck_per_s;
        }
        if t_s >= stuck.next_s {
            stuck.until_s = t_s + self.stream.between(STUCK_S.0, STUCK_S.1);
            stuck.next_s =
                stuck.until_s - libm::log(1.0 - self.stream.uniform()) / self.stuck_per_s;
            stuck.reading = Some(reading);
        }
        if t_s >= stuck.until_s {
            stuck.reading = None;
        }
        stuck.reading.unwrap_or(reading)
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
    fn play_holds_the_value_until_it_has_turned_far_enough() {
        let mut sensor = Sensor::new(Noise::new(1, "s"), 0.0, 0.001, (0.0, 1600.0));
        sensor.play = 1.0;
        let mut read = |value| sensor.read(value, 0.0, 20.0).expect("a reading");
        assert_eq!(read(500.0), 500.0);
        assert_eq!(read(500.4), 500.0);
        assert!((read(502.0) - 501.5).abs() < 1e-9);
        assert!((read(501.2) - 501.5).abs() < 1e-9);
        assert!((read(500.0) - 500.5).abs() < 1e-9);
    }

    #[test]
    fn gets_stuck_and_free_again_and_spikes() {
        let mut sensor = Sensor::new(Noise::new(4, "s"), 0.4, 0.1, (0.0, 1600.0));
        sensor.stuck_per_s = 7.0 / (7.0 * 86_400.0);
        let read: Vec<f64> = (0..20_160)
            .filter_map(|minute| sensor.read(500.0, 60.0 * f64::from(minute), 20.0))
            .collect();
        let repeated = read.windows(2).filter(|w| w[0] == w[1]).count() as f64;
        // Seven times a week 3.5 h are a seventh of the time.
        assert!(
            (repeated / read.len() as f64 - 0.2).abs() < 0.09,
            "{repeated}"
        );
        sensor.stuck_per_s = 0.0;
        sensor.spike_chance = 0.01;
        let wild = |v: &f64| (v - 500.0).abs() > 10.0;
        let n = (0..10_000).filter_map(|_| sensor.read(500.0, 0.0, 20.0));
        let spikes = n.filter(wild).count();
        assert!((60..140).contains(&spikes), "{spikes}");
    }

    #[test]
    fn mean_of_many_readings_is_finer_than_a_count() {
        let mut sensor = Sensor::new(Noise::new(2, "s"), 0.4, 0.390_625, (0.0, 1600.0));
        let n = 40_000;
        let sum: f64 = (0..n).filter_map(|_| sensor.read(456.78, 0.0, 20.0)).sum();
        assert!((sum / f64::from(n) - 456.78).abs() < 0.01);
    }
}
