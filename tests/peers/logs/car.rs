//! The invented car: what its air does from one row to the next.

use seep_common::rig::Rig;
use seep_common::tick::Tick;
use seep_common::time::LogMs;
use seep_sample_logs::rng::Noise;

/// Outside pressure of the altitude in the rig, kPa.
const OUTSIDE_KPA: f64 = 98.5;
/// Temperature the corner pressures below are meant at, K.
const REFERENCE_K: f64 = 293.15;
/// Corner pressures, kPa gauge: front left, front right, rear left, rear right.
const DRIVE_KPA: [f64; 4] = [520.0, 510.0, 430.0, 425.0];
/// The same, lowered for parking.
const PARKED_KPA: [f64; 4] = [380.0, 375.0, 310.0, 305.0];

pub(crate) const CORNERS: [&str; 4] = ["front_left", "front_right", "rear_left", "rear_right"];
pub(crate) const CUT_IN_KPA: f64 = 900.0;
pub(crate) const CUT_OUT_KPA: f64 = 1150.0;
/// What a compressor in good order adds to the tank, kPa/s.
pub(crate) const MADE_KPA_PER_S: f64 = 3.0;

/// Its state: absolute pressures at the reference temperature.
#[derive(Debug)]
pub(crate) struct Car {
    noise: Noise,
    steps: Vec<f64>,
    losses_per_s: [f64; 4],
    corners_kpa_abs: [f64; 4],
    pub(crate) tank_kpa: f64,
    pub(crate) running: bool,
    /// What the running compressor adds to the tank, kPa/s.
    pub(crate) made_kpa_per_s: f64,
}

impl Car {
    /// Lowered, with a full tank.
    pub(crate) fn new(rig: &Rig, seed: u64, leak_kpa_per_h: f64) -> Self {
        let share = |kpa_per_h: f64, i: usize| kpa_per_h / (PARKED_KPA[i] + OUTSIDE_KPA) / 3600.0;
        Car {
            noise: Noise::new(seed, "peer logs"),
            steps: rig.channels.iter().map(|c| c.resolution).collect(),
            losses_per_s: [
                share(leak_kpa_per_h, 0),
                share(0.3, 1),
                share(0.4, 2),
                share(0.2, 3),
            ],
            corners_kpa_abs: PARKED_KPA.map(|kpa| kpa + OUTSIDE_KPA),
            tank_kpa: 1100.0,
            running: false,
            made_kpa_per_s: MADE_KPA_PER_S,
        }
    }

    /// Let time pass: leaks always, the tank by what uses and fills it.
    pub(crate) fn pass(&mut self, seconds: f64, tank_kpa_per_s: f64) {
        for (kpa, loss) in self.corners_kpa_abs.iter_mut().zip(self.losses_per_s) {
            *kpa *= libm::exp(-loss * seconds);
        }
        self.tank_kpa += tank_kpa_per_s * seconds;
    }

    /// One corner on its way up or down: part of the way done.
    pub(crate) fn moved(&mut self, corner: usize, up: bool, part: f64) {
        let (low, high) = (PARKED_KPA[corner], DRIVE_KPA[corner]);
        let done = if up { part } else { 1.0 - part };
        self.corners_kpa_abs[corner] = low + (high - low) * done + OUTSIDE_KPA;
    }

    /// A row at this time.
    pub(crate) fn row(&mut self, t_ms: i64, kmh: f64) -> Tick {
        let celsius = 18.0 + 5.0 * libm::sin(t_ms as f64 / 13_750_987.0);
        let warm = (celsius + 273.15) / REFERENCE_K;
        let rough = if kmh > 0.0 { 6.0 } else { 0.15 };
        let mut values = Vec::with_capacity(12);
        let tank_kpa = (self.tank_kpa + OUTSIDE_KPA) * warm - OUTSIDE_KPA;
        values.push(tank_kpa + 0.3 * self.noise.normal());
        for kpa_abs in self.corners_kpa_abs {
            let kpa = kpa_abs * warm - OUTSIDE_KPA;
            values.push(kpa + rough * self.noise.normal());
        }
        for (kpa_abs, low) in self.corners_kpa_abs.iter().zip(PARKED_KPA) {
            let mm = (kpa_abs - OUTSIDE_KPA - low).max(0.0) * 0.4 - 40.0;
            values.push(mm + rough * 0.3 * self.noise.normal());
        }
        values.extend([kmh, celsius, f64::from(u8::from(self.running))]);
        let steps = values.iter().zip(&self.steps);
        let counts = steps.map(|(value, step)| Some((value / step).round() as i64));
        Tick {
            t_ms: LogMs(t_ms),
            counts: counts.collect(),
        }
    }
}

/// The rig of the car; the channels in the order of [`Car::row`].
pub(crate) fn rig(name: &str) -> String {
    let mut text = format!(
        "# Invented.\n[vehicle]\nname = \"{name}\"\naltitude_m = 237.0\n\
         [tank]\nvolume_l = 19.0\n\
         [limits]\ncut_in_kpa_gauge = {CUT_IN_KPA}\ncut_out_kpa_gauge = {CUT_OUT_KPA}\n\
         [[compressor]]\nname = \"compressor_1\"\nrated_duty_percent = 33\n\
         [[source]]\nname = \"box\"\nkind = \"nmea\"\n"
    );
    let mut channels = vec!["tank_kpa_gauge".to_string()];
    for corner in CORNERS {
        let axle = corner.split('_').next().unwrap_or_default();
        text += &format!("[[circuit]]\nname = \"{corner}\"\naxle = \"{axle}\"\nvolume_l = 3.0\n");
        channels.push(format!("{corner}_kpa_gauge"));
    }
    channels.extend(CORNERS.map(|corner| format!("{corner}_mm")));
    channels.extend(["vehicle_kmh", "ambient_c", "compressor_1_on"].map(String::from));
    for (i, channel) in channels.iter().enumerate() {
        text += &format!(
            "[[channel]]\nname = \"{channel}\"\nsource = \"box\"\ntransducer = \"C{i}\"\n"
        );
    }
    text
}
