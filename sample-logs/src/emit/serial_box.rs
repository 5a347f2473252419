//! The small microcontroller box on the serial line.

use super::short_names;
use crate::rng::Noise;
use crate::scenario::{FaultKind, PressureUnit, Scenario};
use crate::sensor::Sensor;
use crate::world::World;
use seep_common::codec::nmea::{XdrReading, append_sentence, append_xdr};
use seep_common::units::{ICE_POINT_K, KPA_PER_PSI};

/// A sensor and the name it goes by on the line.
#[derive(Debug)]
struct Named {
    name: String,
    sensor: Sensor,
}

/// The box, its sensors and what it has sent.
#[derive(Debug)]
pub(crate) struct SerialBox {
    out: Vec<u8>,
    tank: Named,
    pressures: Vec<Named>,
    heights: Vec<Named>,
    ambient: Named,
    tank_shell: Named,
    supply: Named,
    switches: Vec<(String, bool)>,
    has_temperatures: bool,
    unit: PressureUnit,
    drift_from_s: f64,
}

/// Talker of transducers in NMEA 0183.
const TALKER: &str = "YX";

const SENDS: &str =
    "names are short, values finite and times far from 1973, so every sentence can be written";

impl SerialBox {
    /// The box of a car; its first sentence says what the log is.
    #[must_use]
    pub(crate) fn new(scenario: &Scenario, unix_ms: i64) -> Self {
        let mut out = Vec::new();
        let notice = format!(
            "{TALKER}TXT,01,01,00,invented data - simulated - {}",
            scenario.name
        );
        append_sentence(&mut out, Some(unix_ms), &notice[..notice.len().min(76)]).expect(SENDS);
        let places: Vec<&str> = scenario.circuits.iter().map(|c| c.name.as_str()).collect();
        let short = short_names(&places);
        let pressure = |place: &str, name: &str| Named {
            name: format!("{name}P"),
            sensor: pressure_sensor(scenario, place),
        };
        let height = |place: &str, name: &str| Named {
            name: format!("{name}H"),
            sensor: height_sensor(scenario, place),
        };
        let plain = |name: &str, noise, count, range| Named {
            name: name.into(),
            sensor: Sensor::new(Noise::new(scenario.seed, name), noise, count, range),
        };
        let watch = &scenario.watch;
        let drift = |f: &&crate::scenario::Fault| f.kind == FaultKind::SensorZeroDrift;
        SerialBox {
            out,
            tank: pressure("tank", "TK"),
            pressures: places
                .iter()
                .zip(&short)
                .map(|(p, s)| pressure(p, s))
                .collect(),
            heights: places
                .iter()
                .zip(&short)
                .filter(|_| watch.heights)
                .map(|(p, s)| height(p, s))
                .collect(),
            ambient: plain("AMB", 0.04, 0.0625, (-55.0, 125.0)),
            tank_shell: plain("TKT", 0.04, 0.0625, (-55.0, 125.0)),
            supply: plain("VOLT", 0.02, 20.0 / 1024.0, (0.0, 20.0)),
            switches: switch_names(scenario, &short)
                .into_iter()
                .filter(|_| watch.switches)
                .map(|name| (name, false))
                .collect(),
            has_temperatures: watch.temperatures,
            unit: watch.pressure.unit,
            drift_from_s: scenario
                .faults
                .iter()
                .find(drift)
                .map_or(0.0, |f| f.from_h * 3600.0),
        }
    }

    /// Send pressures and heights.
    pub(crate) fn send_set(&mut self, world: &World, unix_ms: i64) {
        let t_s = (world.t_s - self.drift_from_s).max(0.0);
        let celsius = world.box_k - ICE_POINT_K;
        let tank = self.tank.sensor.read(world.tank_kpa_gauge(), t_s, celsius);
        let mut readings = vec![pressure(tank, self.unit, &self.tank.name)];
        for (i, p) in self.pressures.iter_mut().enumerate() {
            let kpa = p.sensor.read(world.corner_kpa_gauge(i), t_s, celsius);
            readings.push(pressure(kpa, self.unit, &p.name));
        }
        append_xdr(&mut self.out, TALKER, Some(unix_ms), &readings).expect(SENDS);
        let mut readings = Vec::new();
        for (i, h) in self.heights.iter_mut().enumerate() {
            let mm = h.sensor.read(world.height_mm(i), world.t_s, celsius);
            readings.push(reading('D', mm.map(|mm| mm / 1000.0), 4, 'M', &h.name));
        }
        append_xdr(&mut self.out, TALKER, Some(unix_ms), &readings).expect(SENDS);
    }

    /// Send temperatures, supply voltage and every switch.
    pub(crate) fn send_slow(&mut self, world: &World, unix_ms: i64) {
        let ambient_c = world.box_k - ICE_POINT_K;
        // Clamped to the shell: mostly shell, a little the air around it.
        let shell_c = 0.92 * world.tank.shell.kelvin + 0.08 * world.tank.place_k - ICE_POINT_K;
        let t_s = world.t_s;
        let ambient = self.ambient.sensor.read(ambient_c, t_s, 20.0);
        let shell = self.tank_shell.sensor.read(shell_c, t_s, 20.0);
        let volts = self.supply.sensor.read(world.supply_v, t_s, 20.0);
        let mut readings = Vec::new();
        if self.has_temperatures {
            readings.push(reading('C', ambient, 2, 'C', &self.ambient.name));
            readings.push(reading('C', shell, 2, 'C', &self.tank_shell.name));
        }
        readings.push(reading('U', volts, 2, 'V', &self.supply.name));
        note_switches(&mut self.switches, world);
        readings.extend(self.switches.iter().map(|(name, on)| switch(name, *on)));
        append_xdr(&mut self.out, TALKER, Some(unix_ms), &readings).expect(SENDS);
    }

    /// Send the switches that changed since they were last sent. True when
    /// there was one.
    pub(crate) fn send_changes(&mut self, world: &World, unix_ms: i64) -> bool {
        let before: Vec<bool> = self.switches.iter().map(|s| s.1).collect();
        note_switches(&mut self.switches, world);
        let changed: Vec<XdrReading<'_>> = self
            .switches
            .iter()
            .zip(before)
            .filter(|((_, now), before)| now != before)
            .map(|((name, now), _)| switch(name, *now))
            .collect();
        append_xdr(&mut self.out, TALKER, Some(unix_ms), &changed).expect(SENDS);
        !changed.is_empty()
    }

    /// The log.
    #[must_use]
    pub(crate) fn into_log(self) -> Vec<u8> {
        self.out
    }
}

fn reading(
    kind: char,
    value: Option<f64>,
    decimals: usize,
    unit: char,
    name: &str,
) -> XdrReading<'_> {
    XdrReading {
        kind,
        // Adding zero turns a counted −0 into 0.
        value: value.map(|value| value + 0.0),
        decimals,
        unit: Some(unit),
        name,
    }
}

/// A pressure in the box's unit; NMEA 0183 knows bar, the rig names the others.
fn pressure(kpa: Option<f64>, unit: PressureUnit, name: &str) -> XdrReading<'_> {
    let (per_kpa, decimals, letter) = match unit {
        PressureUnit::Bar => return reading('P', kpa.map(|kpa| kpa / 100.0), 3, 'B', name),
        PressureUnit::Kpa => (1.0, 1, 'K'),
        PressureUnit::Psi => (1.0 / KPA_PER_PSI, 2, 'S'),
    };
    reading('G', kpa.map(|kpa| kpa * per_kpa), decimals, letter, name)
}

fn switch(name: &str, on: bool) -> XdrReading<'_> {
    XdrReading {
        kind: 'S',
        value: Some(f64::from(u8::from(on))),
        decimals: 0,
        unit: None,
        name,
    }
}

/// Fill, dump of each circuit in turn, then the compressors.
fn switch_names(scenario: &Scenario, short: &[String]) -> Vec<String> {
    let valves = short
        .iter()
        .flat_map(|s| [format!("{s}F"), format!("{s}D")]);
    let names: Vec<&str> = scenario
        .compressors
        .iter()
        .map(|c| c.name.as_str())
        .collect();
    valves.chain(short_names(&names)).collect()
}

fn note_switches(switches: &mut [(String, bool)], world: &World) {
    let valves = world
        .corners
        .iter()
        .flat_map(|c| [c.fill.driven, c.dump.driven]);
    let compressors = world
        .compressors
        .iter()
        .map(crate::world::Compressor::running);
    for (switch, now) in switches.iter_mut().zip(valves.chain(compressors)) {
        switch.1 = now;
    }
}

fn pressure_sensor(scenario: &Scenario, place: &str) -> Sensor {
    let kind = &scenario.watch.pressure;
    let mut make = Noise::new(scenario.seed, &format!("make of {place} pressure"));
    let stream = Noise::new(scenario.seed, &format!("{place} pressure"));
    let count = kind.full_scale_kpa / (1_u64 << kind.bits) as f64;
    let mut sensor = Sensor::new(stream, kind.noise_kpa, count, (0.0, kind.full_scale_kpa));
    sensor.zero = kind.zero_kpa * make.normal();
    sensor.gain = 1.0 + kind.gain_percent / 100.0 * make.normal();
    sensor.zero_per_k = kind.zero_kpa_per_k * make.normal();
    sensor.dropout_chance = scenario.watch.box_line.dropout_chance;
    for fault in &scenario.faults {
        if fault.kind == FaultKind::SensorZeroDrift && fault.place == place {
            sensor.zero_per_s = fault.kpa_per_day / 86_400.0;
        }
    }
    sensor
}

fn height_sensor(scenario: &Scenario, place: &str) -> Sensor {
    let kind = &scenario.watch.height;
    let mut make = Noise::new(scenario.seed, &format!("make of {place} height"));
    let stream = Noise::new(scenario.seed, &format!("{place} height"));
    let half = kind.full_scale_mm / 2.0;
    let count = kind.full_scale_mm / (1_u64 << kind.bits) as f64;
    let mut sensor = Sensor::new(stream, kind.noise_mm, count, (-half, half));
    sensor.zero = kind.zero_mm * make.normal();
    sensor.gain = 1.0 + kind.gain_percent / 100.0 * make.normal();
    sensor.dropout_chance = scenario.watch.box_line.dropout_chance;
    sensor
}
