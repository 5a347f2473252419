//! `NAME=VALUE`, checked against the rig.

use seep_common::channel::{ChannelName, Quantity};
use seep_common::rig::{InputUnit, Rig};
use seep_common::store::HandReading;

/// The odometer is no channel: it is read by hand only.
const ODOMETER: &str = "odometer_km";
const KM_PER_MILE: f64 = 1.609_344;
const MOST_KM: f64 = 10_000_000.0;

/// Standard errors where none is given: a tape measure at the wing, a gauge on the
/// valve, a thermometer, the odometer's last digit (common practice, no source).
const TAPE_MM: f64 = 3.0;
const GAUGE_KPA: f64 = 5.0;
const THERMOMETER_K: f64 = 1.0;
const ODOMETER_KM: f64 = 0.5;

/// Heights at the wing are counted from the ground or the hub, so the range is not that
/// of a channel.
const HEIGHT_MM: (f64, f64) = (-1_000.0, 3_000.0);

/// Reads `front_left_mm=412`, `tank_kpa_gauge=8.2bar`, `odometer_km=81234`.
///
/// # Errors
/// Says what is wrong with the name, the unit, the value or the error, and what fits.
pub(super) fn reading(text: &str, error: Option<f64>, rig: &Rig) -> Result<HandReading, String> {
    let (name, value) = text
        .split_once('=')
        .map(|(name, value)| (name.trim(), value.trim()))
        .ok_or_else(|| {
            format!("`{text}` is no reading; write NAME=VALUE, such as front_left_mm=412")
        })?;
    let (number, unit) = split(value).ok_or_else(|| {
        format!("`{text}`: `{value}` is no number; write it like 412, 41.2cm or 8.2bar")
    })?;
    let (value, range, usual) = if name == ODOMETER {
        (kilometres(number, unit)?, (0.0, MOST_KM), ODOMETER_KM)
    } else {
        let quantity = quantity(name, rig)?;
        let (range, usual) = match quantity {
            Quantity::Height => (HEIGHT_MM, TAPE_MM),
            Quantity::Temperature => (quantity.default_range(), THERMOMETER_K),
            _ => (quantity.default_range(), GAUGE_KPA),
        };
        (in_unit_of(quantity, number, unit)?, range, usual)
    };
    if !(range.0..=range.1).contains(&value) {
        return Err(format!(
            "`{text}`: {value} is outside {} to {}, which a reading of this kind can be",
            range.0, range.1
        ));
    }
    let error = error.unwrap_or(usual);
    if !(error > 0.0 && error.is_finite()) {
        return Err(format!(
            "--error {error}: give a number above 0, in the reading's unit"
        ));
    }
    Ok(HandReading {
        name: name.into(),
        // Inches and psi give endless digits that nobody read.
        value: (value * 1000.0).round() / 1000.0,
        error,
    })
}

/// Number and unit of `41.2 cm`.
fn split(value: &str) -> Option<(f64, &str)> {
    let end = value
        .find(|c: char| !(c.is_ascii_digit() || "+-.".contains(c)))
        .unwrap_or(value.len());
    let number: f64 = value[..end].parse().ok()?;
    number.is_finite().then(|| (number, value[end..].trim()))
}

/// What a name measures, where this rig has such a place.
fn quantity(name: &str, rig: &Rig) -> Result<Quantity, String> {
    let is_circuit = |place: &str| rig.circuits.iter().any(|c| c.name == place);
    let is_tank = |place: &str| place == "tank" && rig.tank.is_some();
    let fits = |n: &ChannelName| match n.quantity {
        Quantity::Height => is_circuit(&n.place),
        Quantity::GaugePressure => is_circuit(&n.place) || is_tank(&n.place),
        Quantity::AbsolutePressure => n.place == "ambient",
        Quantity::Temperature => is_circuit(&n.place) || is_tank(&n.place) || n.place == "ambient",
        _ => false,
    };
    let known = ChannelName::parse(name).ok().filter(fits);
    known.map(|n| n.quantity).ok_or_else(|| {
        let circuits = rig.circuits.iter();
        let mut names: Vec<String> = circuits
            .flat_map(|c| [format!("{}_mm", c.name), format!("{}_kpa_gauge", c.name)])
            .collect();
        if rig.tank.is_some() {
            names.push("tank_kpa_gauge".into());
        }
        names.push("ambient_c".into());
        names.push(ODOMETER.into());
        format!(
            "`{name}` is nothing that can be read by hand on this vehicle; there is {}",
            names.join(", ")
        )
    })
}

fn in_unit_of(quantity: Quantity, number: f64, unit: &str) -> Result<f64, String> {
    if unit.is_empty() {
        return Ok(number);
    }
    InputUnit::parse(unit)
        .filter(|u| u.fits(quantity))
        .map(|u| u.to_channel(number))
        .ok_or_else(|| {
            format!(
                "`{unit}` is no unit of it; use {}",
                InputUnit::labels_for(quantity)
            )
        })
}

fn kilometres(number: f64, unit: &str) -> Result<f64, String> {
    match unit {
        "" | "km" => Ok(number),
        "mi" => Ok(number * KM_PER_MILE),
        other => Err(format!(
            "`{other}` is no unit of the odometer; use km or mi"
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rig() -> Rig {
        Rig::parse(
            "[vehicle]\nname = \"invented\"\n[tank]\n[[circuit]]\nname = \"front_left\"\n\
             [[source]]\nname = \"box\"\nkind = \"nmea\"\n\
             [[channel]]\nname = \"tank_kpa_gauge\"\nsource = \"box\"\ntransducer = \"T\"\n",
        )
        .expect("valid")
    }

    #[test]
    fn units_are_read_and_errors_are_the_instruments() {
        let rig = rig();
        let read = |text: &str| {
            let r = reading(text, None, &rig).expect(text);
            (r.name, r.value, r.error)
        };
        assert_eq!(
            read("front_left_mm=412"),
            ("front_left_mm".into(), 412.0, 3.0)
        );
        assert_eq!(read("front_left_mm = 16.25 in").1, 412.75);
        assert_eq!(
            read("tank_kpa_gauge=8.2bar"),
            ("tank_kpa_gauge".into(), 820.0, 5.0)
        );
        assert_eq!(read("front_left_kpa_gauge=30 psi").1, 206.843);
        assert_eq!(read("ambient_c=-4").1, -4.0);
        assert_eq!(read("odometer_km=100mi").1, 160.934);
        let own = reading("front_left_mm=412", Some(1.5), &rig).expect("valid");
        assert!((own.error - 1.5).abs() < f64::EPSILON);
    }

    #[test]
    fn what_makes_no_sense_says_what_does() {
        let rig = rig();
        for (text, says) in [
            ("front_left_mm", "NAME=VALUE"),
            ("front_right_mm=412", "there is front_left_mm"),
            ("front_left_fill=1", "nothing that can be read"),
            ("tank_mm=3", "nothing that can be read"),
            ("front_left_mm=high", "no number"),
            ("front_left_mm=nan", "no number"),
            ("front_left_mm=412bar", "use mm, cm, m, in"),
            ("front_left_mm=41200", "outside"),
            ("tank_kpa_gauge=820bar", "outside"),
            ("odometer_km=3 m", "km or mi"),
        ] {
            let why = reading(text, None, &rig).expect_err(text);
            assert!(why.contains(says), "{text}: {why}");
        }
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(reading("front_left_mm=412", Some(bad), &rig).is_err());
        }
    }
}
