//! What its sensors say: a table of readings and the rig that goes with it.

use super::{Bench, Lifted, Recorded, STATED_UNCERTAINTY, Truth};
use seep_sample_logs::rng::Noise;
use std::fmt::Write as _;

/// Readings while nothing moves, s.
const REST_S: f64 = 1.0;

/// Friday, 2026-08-14, 08:13 UTC.
const START_UNIX_S: f64 = 1_786_695_200.0;

/// Readings so far.
pub(super) struct Log {
    csv: String,
    draw: Noise,
    next_s: f64,
    /// Time that was not recorded so far, s.
    apart_s: f64,
    recorded: Recorded,
    noise: (f64, f64),
    count: (f64, f64),
    outside: (f64, f64),
    /// The tank's pressure sensor, then each corner's.
    pressures: Vec<Sensor>,
    /// Each corner's height sensor.
    heights: Vec<Sensor>,
    thermometer: Thermometer,
}

/// Error of a sensor: factor, and zero in its unit.
#[derive(Clone, Copy)]
struct Sensor {
    span: f64,
    zero: f64,
}

impl Sensor {
    fn reads(self, value: f64) -> f64 {
        value * self.span + self.zero
    }
}

/// How far the thermometer is off, and how that wanders.
struct Thermometer {
    draw: Noise,
    sd_k: f64,
    off_k: f64,
    at_s: f64,
}

/// Time constant of that, s.
const WANDERS_S: f64 = 1_200.0;

impl Thermometer {
    fn new(bench: &Bench) -> Self {
        let mut draw = Noise::new(bench.seed, "thermometer");
        Thermometer {
            sd_k: bench.sensors.thermometer_k,
            off_k: bench.sensors.thermometer_k * draw.normal(),
            at_s: 0.0,
            draw,
        }
    }

    /// An Ornstein–Uhlenbeck process at a later time, K.
    fn off_k(&mut self, t_s: f64) -> f64 {
        let kept = (-(t_s - self.at_s) / WANDERS_S).exp();
        self.at_s = t_s;
        let new = self.sd_k * (1.0 - kept * kept).sqrt();
        self.off_k = kept * self.off_k + new * self.draw.normal();
        self.off_k
    }
}

/// A corner at a moment.
pub(super) struct Reading {
    /// Pressure, Pa.
    pub pa: f64,
    /// Height, mm.
    pub mm: f64,
    /// Coils of fill and dump.
    pub coils: [bool; 2],
}

impl Log {
    pub(super) fn new(bench: &Bench) -> Self {
        let mut draw = Noise::new(bench.seed, "sensor errors");
        let mut sensor = |span: f64, zero: f64| Sensor {
            span: 1.0 + span * draw.normal(),
            zero: zero * draw.normal(),
        };
        let errors = bench.sensors;
        let pressure = (0..=bench.corners.len())
            .map(|_| sensor(errors.pressure_span, errors.pressure_zero_kpa));
        let pressures = pressure.collect();
        let height = bench
            .corners
            .iter()
            .map(|_| sensor(errors.height_span, 0.0));
        let heights = height.collect();
        Log {
            pressures,
            heights,
            thermometer: Thermometer::new(bench),
            csv: format!("t,{}\n", channels(bench).join(",")),
            draw: Noise::new(bench.seed, "sensors"),
            next_s: 0.0,
            apart_s: 0.0,
            recorded: bench.recorded,
            noise: bench.noise,
            count: bench.count,
            outside: bench.outside,
        }
    }

    /// True when a row is due.
    pub(super) fn is_due(&self, t_s: f64, busy: bool) -> bool {
        let last_s = self.next_s - REST_S;
        t_s >= if busy {
            last_s + self.recorded.raster_s
        } else {
            self.next_s
        } - 1e-9
    }

    /// Let time pass unrecorded.
    pub(super) fn stand(&mut self, apart_s: f64) {
        self.apart_s += apart_s;
    }

    /// Write a row.
    pub(super) fn row(&mut self, t_s: f64, tank_pa: f64, running: bool, corners: &[Reading]) {
        self.next_s = t_s + REST_S;
        let tank = self.pressure(tank_pa, 0);
        let at_s = t_s + self.apart_s;
        let off_k = self.thermometer.off_k(at_s);
        write!(
            self.csv,
            "{:.3},{tank:.4},{},{:.2},{:.3}",
            START_UNIX_S + at_s,
            u8::from(running),
            self.outside.1 - 273.15 + off_k,
            self.outside.0 / 1000.0
        )
        .expect("text");
        for (i, r) in corners.iter().enumerate() {
            let kpa = self.pressure(r.pa, 1 + i);
            write!(self.csv, ",{kpa:.4}").expect("text");
            if self.recorded.heights {
                let read = self.heights[i].reads(r.mm);
                let mm = counted(read + self.noise.1 * self.draw.normal(), self.count.1);
                write!(self.csv, ",{mm:.3}").expect("text");
            }
            if self.recorded.wired {
                let [fill, dump] = r.coils.map(u8::from);
                write!(self.csv, ",{fill},{dump}").expect("text");
            }
        }
        self.csv.push('\n');
    }

    fn pressure(&mut self, pa: f64, sensor: usize) -> f64 {
        let kpa = self.pressures[sensor].reads((pa - self.outside.0) / 1000.0);
        counted(kpa + self.noise.0 * self.draw.normal(), self.count.0)
    }

    pub(super) fn finish(self, bench: &Bench, truth: Truth) -> Lifted {
        Lifted {
            csv: self.csv,
            rig: rig(bench),
            truth,
        }
    }
}

fn counted(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}

fn channels(bench: &Bench) -> Vec<String> {
    let fixed = [
        "tank_kpa_gauge",
        "compressor_1_on",
        "ambient_c",
        "ambient_kpa_abs",
    ];
    let mut out: Vec<String> = fixed.map(String::from).to_vec();
    for c in &bench.corners {
        let mut ends = vec!["kpa_gauge"];
        ends.extend(bench.recorded.heights.then_some("mm"));
        ends.extend(
            bench
                .recorded
                .wired
                .then_some(["fill", "dump"])
                .into_iter()
                .flatten(),
        );
        out.extend(ends.iter().map(|end| format!("{}_{end}", c.name)));
    }
    out
}

fn rig(bench: &Bench) -> String {
    let mut out = format!(
        "[vehicle]\nname = \"Lift bench (invented)\"\n{}\n[tank]\nvolume_l = {:.2}\n\
         [[compressor]]\nname = \"compressor_1\"\n",
        bench.rig,
        1000.0 * bench.tank_m3
    );
    for c in &bench.corners {
        write!(
            out,
            "[[circuit]]\nname = \"{}\"\nvolume_at_zero_height_l = {:.4}\n\
             effective_area_cm2 = {:.3}\nvolume_uncertainty_percent = {}\n",
            c.name,
            c.stated_volume_l,
            c.stated_area_cm2,
            100.0 * STATED_UNCERTAINTY
        )
        .expect("text");
        if c.line.is_some_and(|l| l.sensor_at_manifold) {
            out.push_str("sensor_at = \"manifold\"\n");
        }
    }
    out.push_str(
        "[[source]]\nname = \"bench\"\nkind = \"csv\"\ntime_column = \"t\"\nsilence_s = 600.0\n",
    );
    for name in channels(bench) {
        write!(
            out,
            "[[channel]]\nname = \"{name}\"\nsource = \"bench\"\ncolumn = \"{name}\"\nperiod_s = 2.0\n"
        )
        .expect("text");
    }
    out
}
