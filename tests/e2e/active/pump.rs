//! An invented compressor and its tank.

use super::bench::{Log, Rows};

/// One run as it is meant to go.
#[derive(Clone, Copy)]
pub(super) struct Cycle {
    /// Start, h.
    pub(super) at_h: f64,
    /// Outside pressure, kPa absolute.
    pub(super) outside_kpa: f64,
    /// Outside temperature, °C.
    pub(super) outside_c: f64,
    /// What is left of the delivery of a new one.
    pub(super) left: f64,
    /// The switch stops it at this, kPa gauge.
    pub(super) cut_out_kpa: f64,
}

impl Cycle {
    pub(super) fn every_hours(step_h: f64, i: usize) -> Self {
        Cycle {
            at_h: 1.0 + step_h * i as f64,
            outside_kpa: 101.3,
            outside_c: 20.0,
            left: 1.0,
            cut_out_kpa: 1000.0,
        }
    }
}

pub(super) const TANK_L: f64 = 20.0;

/// Free air per minute at the intake, L, and dead space of the pump, share of its
/// stroke.
const STROKE_L_PER_MIN: f64 = 40.0;
const DEAD_SPACE: f64 = 0.04;

/// Delivery, L/min at 20 °C and 100 kPa: stroke times the density of the intake
/// times the volumetric efficiency `1 + c − c·r^(1/n)` with n = 1.3.
///
/// **Source**: efficiency of a reciprocating compressor with dead space, any
/// textbook of engineering thermodynamics (from memory).
fn delivery(c: &Cycle, tank_kpa_gauge: f64) -> f64 {
    let ratio = (tank_kpa_gauge + c.outside_kpa) / c.outside_kpa;
    let efficiency = 1.0 + DEAD_SPACE - DEAD_SPACE * ratio.powf(1.0 / 1.3);
    let density = c.outside_kpa / 100.0 * 293.15 / (273.15 + c.outside_c);
    c.left * STROKE_L_PER_MIN * density * efficiency
}

/// What is recorded of the pump.
#[derive(Clone, Copy)]
pub(super) struct Seen {
    pub(super) barometer: bool,
    pub(super) absolute_tank: bool,
    pub(super) wired: bool,
}

impl Seen {
    pub(super) const ALL: Seen = Seen {
        barometer: true,
        absolute_tank: false,
        wired: true,
    };
}

const RIG: &str = "[tank]\nvolume_l = 20.0\n[[compressor]]\nname = \"compressor_1\"\n\
    rated_duty_percent = 33.0\n[limits]\ncut_in_kpa_gauge = 800.0\ncut_out_kpa_gauge = 1000.0\n";

/// Rows of the cycles: a reading a minute, one every two seconds while it runs.
pub(super) fn rows(cycles: &[Cycle], seen: Seen) -> Rows {
    let tank = if seen.absolute_tank {
        "tank_kpa_abs"
    } else {
        "tank_kpa_gauge"
    };
    let mut channels = vec![tank, "ambient_c"];
    channels.extend(seen.barometer.then_some("ambient_kpa_abs"));
    channels.extend(seen.wired.then_some("compressor_1_on"));
    let mut out = Rows::new(&channels);
    let mut put = |t_s: f64, kpa_gauge: f64, on: bool, c: &Cycle| {
        let noise = 0.3 * (t_s * 12.9898).sin();
        let offset = if seen.absolute_tank {
            c.outside_kpa
        } else {
            0.0
        };
        out.put(t_s, tank, kpa_gauge + offset + noise);
        out.put(t_s, "ambient_c", c.outside_c);
        if seen.barometer {
            out.put(t_s, "ambient_kpa_abs", c.outside_kpa);
        }
        if seen.wired {
            out.put(t_s, "compressor_1_on", f64::from(u8::from(on)));
        }
    };
    let mut kpa = 1000.0;
    let mut t = 0.0;
    for c in cycles {
        let start = 3600.0 * c.at_h;
        // Drawn down to the cut-in within five minutes, ten minutes before.
        let (from, level) = (start - 600.0, kpa);
        while t < start {
            let share = ((t - from) / 300.0).clamp(0.0, 1.0);
            kpa = level + share * (800.0 - level);
            put(t, kpa, false, c);
            t += 60.0;
        }
        t = start;
        while kpa < c.cut_out_kpa {
            put(t, kpa, true, c);
            // The tank is as warm as the outside.
            let warmth = (273.15 + c.outside_c) / 293.15;
            kpa += 2.0 / 60.0 * delivery(c, kpa) / TANK_L * 100.0 * warmth;
            t += 2.0;
        }
        kpa = c.cut_out_kpa;
        put(t, kpa, false, c);
        t += 60.0;
    }
    let Some(last) = cycles.last() else {
        return out;
    };
    for _ in 0..30 {
        put(t, kpa, false, last);
        t += 60.0;
    }
    out
}

pub(super) fn recorded(cycles: &[Cycle], seen: Seen) -> Log {
    rows(cycles, seen).recorded(RIG)
}
