//! What weakens the answers of a rig that can be used.

use super::{Channel, Circuit, Rig, VolumeModel};
use crate::channel::Quantity;

/// A tank of an air suspension holds more than this when it is of use, kPa
/// gauge: a full scale or a highest value below it points to a missing unit
/// (200 psi read as kPa is 200). Common practice, no source.
const TANK_HOLDS_KPA: f64 = 250.0;

/// The same number in bar would be far more than any tank holds.
const MOST_BAR: f64 = 16.0;

/// Something that a rig leaves open, and what it costs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Weakness {
    /// Line in the rig, from 1.
    pub line: usize,
    /// What, and what follows from it.
    pub text: String,
}

/// Lowest and highest value seen of a channel, in its unit.
pub type SeenRange<'a> = &'a dyn Fn(&str) -> Option<(f64, f64)>;

impl Rig {
    /// Returns what weakens the answers, in the order of lines; `seen` returns
    /// the values of a channel seen so far, when there are any.
    ///
    /// ```
    /// use seep_common::rig::Rig;
    /// let rig = Rig::parse("[vehicle]\nname = \"invented\"\n[tank]\n[[source]]\nname = \"box\"\nkind = \"nmea\"\n[[channel]]\nname = \"tank_kpa_gauge\"\nsource = \"box\"\ntransducer = \"TANK\"\n").unwrap();
    /// let found = rig.weaknesses(&|name| (name == "tank_kpa_gauge").then_some((40.0, 55.0)));
    /// assert!(found.iter().any(|w| w.text.contains("highest value so far 55 kPa: is `unit = \"psi\"` missing?")));
    /// ```
    #[must_use]
    pub fn weaknesses(&self, seen: SeenRange<'_>) -> Vec<Weakness> {
        let mut out = Vec::new();
        self.whole(&mut out);
        self.circuits
            .iter()
            .for_each(|c| self.circuit_weak(c, &mut out));
        self.compressors_weak(&mut out);
        self.channels
            .iter()
            .for_each(|c| self.channel_weak(c, seen, &mut out));
        out.sort_by_key(|w| w.line);
        out
    }

    fn whole(&self, out: &mut Vec<Weakness>) {
        let mut add = |text: &str| {
            out.push(Weakness {
                line: 1,
                text: text.into(),
            });
        };
        let has = |q: Quantity| self.channels.iter().any(|c| c.quantity == q);
        if !has(Quantity::Temperature) {
            // An ideal gas of constant volume: dp/p = dT/T, 1 K in 293 K.
            add(
                "no temperature is recorded: a night that cools by 10 °C lowers every pressure by 3 %, which a small leak cannot be told from",
            );
        }
        let barometer = self.channel_at("ambient", Quantity::AbsolutePressure);
        if barometer.is_none() && self.altitude_m.is_none() {
            add("no barometer and no `altitude_m`: absolute pressures are computed for sea level");
        }
        let tank = self.channel_at("tank", Quantity::GaugePressure);
        if let Some(tank) = tank
            && self.tank.as_ref().is_none_or(|t| t.volume_l.is_none())
        {
            out.push(Weakness {
                line: self.line_of("channel", &tank.name).unwrap_or(1),
                text: "the tank's `volume_l` is not given: its losses are told in pressure, not in litres of air".into(),
            });
        }
    }

    fn circuit_weak(&self, c: &Circuit, out: &mut Vec<Weakness>) {
        let line = self.line_of("circuit", &c.name).unwrap_or(1);
        let name = &c.name;
        let mut add = |text: String| out.push(Weakness { line, text });
        let pressure = self.channel_at(name, Quantity::GaugePressure).is_some()
            || self.channel_at(name, Quantity::AbsolutePressure).is_some();
        let height = self.channel_at(name, Quantity::Height).is_some();
        let by_height = matches!(
            c.volume,
            VolumeModel::Table { .. } | VolumeModel::Area { .. }
        );
        if !pressure && !height {
            add(format!(
                "{name} has neither pressure nor height: nothing is told of it"
            ));
            return;
        }
        if !pressure {
            add(format!(
                "{name} has no pressure: its losses are not told in air"
            ));
        }
        if height && !by_height {
            add(format!(
                "{name} has a height but no volume by height: a leak off its stops will not be seen; `seep volumes` finds that volume from fills and changes of load"
            ));
        } else if matches!(c.volume, VolumeModel::Unknown) {
            add(format!(
                "{name} has no volume: its losses are told in pressure, not in litres of air"
            ));
        }
        if height && c.lower_stop_mm.is_none() {
            add(format!(
                "{name} has a height but no `lower_stop_mm`: whether it rests on its stop is not known"
            ));
        }
        let wired = [Quantity::FillValve, Quantity::DumpValve];
        if wired.iter().all(|q| self.channel_at(name, *q).is_none()) {
            add(format!(
                "{name} has no valve wired: fills and dumps are told from its pressure alone"
            ));
        }
    }

    fn compressors_weak(&self, out: &mut Vec<Weakness>) {
        for c in &self.compressors {
            let line = self.line_of("compressor", &c.name).unwrap_or(1);
            let mut add = |text: String| out.push(Weakness { line, text });
            if self.channel_at(&c.name, Quantity::Running).is_none() {
                add(format!(
                    "{} has no `{}_on`: its running is told from the tank's pressure alone",
                    c.name, c.name
                ));
            }
            if c.rated_duty_percent.is_none() {
                add(format!(
                    "{} has no `rated_duty_percent`: its duty is told, not judged",
                    c.name
                ));
            }
        }
        let limits = &self.limits;
        if !self.compressors.is_empty()
            && (limits.cut_in_kpa_gauge.is_none() || limits.cut_out_kpa_gauge.is_none())
        {
            out.push(Weakness {
                line: 1,
                text:
                    "no cut-in and cut-out pressure in `[limits]`: the switch is told, not judged"
                        .into(),
            });
        }
    }

    fn channel_weak(&self, c: &Channel, seen: SeenRange<'_>, out: &mut Vec<Weakness>) {
        if !c.quantity.is_pressure() || c.place == "ambient" {
            return;
        }
        let line = self.line_of("channel", &c.name).unwrap_or(1);
        let mut add = |text: String| out.push(Weakness { line, text });
        let unit = |highest: f64| if highest <= MOST_BAR { "bar" } else { "psi" };
        let full = c
            .calibrated_range()
            .map(|(_, values)| values.0.max(values.1));
        let cut_out = self.limits.cut_out_kpa_gauge.filter(|_| c.place == "tank");
        if c.unit.is_none()
            && c.place == "tank"
            && let Some(full) = full
            && full < cut_out.unwrap_or(TANK_HOLDS_KPA)
        {
            add(format!(
                "{}: its calibration ends at {} kPa, less than a tank holds: is `unit = \"{}\"` missing?",
                c.name,
                short(full),
                unit(full)
            ));
        } else if c.place == "tank"
            && let Some((_, highest)) = seen(&c.name)
            && highest > 0.0
            && highest < TANK_HOLDS_KPA
        {
            add(format!(
                "{}: highest value so far {} kPa: is `unit = \"{}\"` missing?",
                c.name,
                short(highest),
                unit(highest)
            ));
        }
    }
}

fn short(value: f64) -> String {
    let digits = usize::from(value.abs() < 10.0);
    format!("{value:.digits$}")
}
