//! The small microcontroller box on the serial line.

use super::short_names;
use super::table::Table;
use crate::rng::Noise;
use crate::scenario::{FaultKind, PressureUnit, Scenario};
use crate::sensor::Sensor;
use crate::world::World;
use crate::world::{PSI_KPA, ZERO_CELSIUS_K};
use seep_common::codec::nmea::{XdrReading, append_sentence, append_xdr};
use seep_common::time::WallMs;

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
    bags: Vec<Named>,
    has_temperatures: bool,
    has_tank_temperature: bool,
    at_bag: bool,
    table: Option<Table>,
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
        let table = scenario.watch.box_line.table.then(|| Table::new(scenario));
        match &table {
            Some(table) => out.extend_from_slice(table.heading().as_bytes()),
            None => append_sentence(
                &mut out,
                Some(WallMs(unix_ms)),
                &notice[..notice.len().min(76)],
            )
            .expect(SENDS),
        }
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
            bags: short
                .iter()
                .filter(|_| watch.temperatures && watch.bag_temperatures)
                .map(|s| plain(&format!("{s}T"), 0.04, 0.0625, (-55.0, 125.0)))
                .collect(),
            has_temperatures: watch.temperatures,
            has_tank_temperature: watch.temperatures && watch.tank_temperature,
            at_bag: watch.pressure.at_bag,
            table,
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
        let at_bag = self.at_bag;
        let celsius = |place_k: f64| {
            let sensor_k = if at_bag { place_k } else { world.box_k };
            sensor_k - ZERO_CELSIUS_K
        };
        let tank_c = celsius(world.tank.place_k);
        let tank = self.tank.sensor.read(world.tank_kpa_gauge(), t_s, tank_c);
        let mut readings = vec![pressure(tank, self.unit, &self.tank.name)];
        for (i, p) in self.pressures.iter_mut().enumerate() {
            let corner_c = celsius(world.corners[i].place_k);
            let kpa = p.sensor.read(world.corner_kpa_gauge(i), t_s, corner_c);
            readings.push(pressure(kpa, self.unit, &p.name));
        }
        send(&mut self.out, self.table.as_ref(), unix_ms, &readings);
        let mut readings = Vec::new();
        for (i, h) in self.heights.iter_mut().enumerate() {
            let mm = h.sensor.read(world.height_mm(i), world.t_s, 20.0);
            readings.push(reading('D', mm.map(|mm| mm / 1000.0), 4, 'M', &h.name));
        }
        send(&mut self.out, self.table.as_ref(), unix_ms, &readings);
    }

    /// Send temperatures, supply voltage and every switch.
    pub(crate) fn send_slow(&mut self, world: &World, unix_ms: i64) {
        let ambient_c = world.box_k - ZERO_CELSIUS_K;
        // Clamped to the shell: mostly shell, a little the air around it.
        let shell_c = 0.92 * world.tank.shell.kelvin + 0.08 * world.tank.place_k - ZERO_CELSIUS_K;
        let t_s = world.t_s;
        let ambient = self.ambient.sensor.read(ambient_c, t_s, 20.0);
        let shell = self.tank_shell.sensor.read(shell_c, t_s, 20.0);
        let volts = self.supply.sensor.read(world.supply_v, t_s, 20.0);
        let mut readings = Vec::new();
        if self.has_temperatures {
            readings.push(reading('C', ambient, 2, 'C', &self.ambient.name));
        }
        if self.has_tank_temperature {
            readings.push(reading('C', shell, 2, 'C', &self.tank_shell.name));
        }
        for (bag, corner) in self.bags.iter_mut().zip(&world.corners) {
            // Clamped to the bag: skin and surroundings.
            let celsius = 0.8 * corner.skin.kelvin + 0.2 * corner.place_k - ZERO_CELSIUS_K;
            let read = bag.sensor.read(celsius, t_s, 20.0);
            readings.push(reading('C', read, 2, 'C', &bag.name));
        }
        readings.push(reading('U', volts, 2, 'V', &self.supply.name));
        note_switches(&mut self.switches, world);
        readings.extend(self.switches.iter().map(|(name, on)| switch(name, *on)));
        send(&mut self.out, self.table.as_ref(), unix_ms, &readings);
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
        send(&mut self.out, self.table.as_ref(), unix_ms, &changed);
        !changed.is_empty()
    }

    /// The log.
    #[must_use]
    pub(crate) fn into_log(self) -> Vec<u8> {
        self.out
    }
}

fn send(out: &mut Vec<u8>, table: Option<&Table>, unix_ms: i64, readings: &[XdrReading<'_>]) {
    if let Some(table) = table {
        table.append(out, unix_ms, readings);
    } else {
        append_xdr(out, TALKER, Some(WallMs(unix_ms)), readings).expect(SENDS);
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
        PressureUnit::Psi => (1.0 / PSI_KPA, 2, 'S'),
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
    let stated = if place == "tank" {
        kind.tank_count_kpa
    } else {
        kind.count_kpa
    };
    let count = if stated > 0.0 {
        stated
    } else {
        kind.full_scale_kpa / (1_u64 << kind.bits) as f64
    };
    let mut sensor = Sensor::new(stream, kind.noise_kpa, count, (0.0, kind.full_scale_kpa));
    sensor.zero = kind.zero_kpa * make.normal();
    sensor.gain = 1.0 + kind.gain_percent / 100.0 * make.normal();
    sensor.zero_per_k = kind.zero_kpa_per_k * make.normal();
    sensor.play = kind.hysteresis_kpa;
    troubles(&mut sensor, scenario);
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
    sensor.play = kind.hysteresis_mm;
    troubles(&mut sensor, scenario);
    sensor
}

/// What the line does to every pressure and height.
fn troubles(sensor: &mut Sensor, scenario: &Scenario) {
    let line = &scenario.watch.box_line;
    sensor.dropout_chance = line.dropout_chance;
    sensor.spike_chance = line.spike_chance;
    sensor.stuck_per_s = line.stuck_per_week / (7.0 * 86_400.0);
}
