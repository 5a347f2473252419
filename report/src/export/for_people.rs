//! The same rows as a person reads them: their units, the local time, every row filled.

use super::{Chunk, Data};
use crate::model::Unit;
use crate::render::units::DisplayUnits;
use jiff::Timestamp;
use jiff::tz::TimeZone;

/// What is done to the rows before they are written.
#[derive(Debug, Clone, Default)]
pub struct ForPeople {
    /// Convert values to these units and times to this zone, and say so in the headings.
    pub spreadsheet: Option<(DisplayUnits, TimeZone)>,
    /// Fill each row with the last reading of its channel in the session.
    pub filled: bool,
}

impl ForPeople {
    /// The chunk as asked for.
    #[must_use]
    pub fn apply(&self, chunk: &Chunk) -> Chunk {
        let columns = chunk.columns.iter().map(|(name, data)| {
            let data = if self.filled {
                filled(data)
            } else {
                data.clone()
            };
            match &self.spreadsheet {
                Some((units, zone)) => converted(name, data, *units, zone),
                None => (name.clone(), data),
            }
        });
        Chunk {
            session: chunk.session,
            columns: columns.collect(),
        }
    }
}

/// A channel is silent until it changes: its last reading stands until the next.
fn filled(data: &Data) -> Data {
    let Data::Number(values, decimals) = data else {
        return data.clone();
    };
    let mut last = None;
    let held = values.iter().map(|v| {
        last = v.or(last);
        last
    });
    Data::Number(held.collect(), *decimals)
}

fn converted(name: &str, data: Data, units: DisplayUnits, zone: &TimeZone) -> (String, Data) {
    match data {
        Data::Number(values, decimals) => match unit_of(name) {
            Some((ending, unit)) => {
                let shown = units.shown(unit);
                let word = shown.symbol.trim_start_matches('°').to_lowercase();
                let word = word.trim_end_matches(" abs");
                let stem = name.strip_suffix(ending).unwrap_or(name);
                let old = ending.trim_start_matches('_').split('_').next();
                let renamed = format!("{stem}{}", ending.replacen(old.unwrap_or(""), word, 1));
                let more = shown.factor.log10().floor().min(0.0).abs() as usize;
                let values = values.into_iter().map(|v| v.map(|v| shown.apply(v)));
                (renamed, Data::Number(values.collect(), decimals + more))
            }
            None => (name.to_string(), Data::Number(values, decimals)),
        },
        Data::Time(times) => {
            let local = times.iter().map(|t| t.and_then(|t| local(t, zone)));
            (
                name.replace("utc", "local_time"),
                Data::Text(local.collect()),
            )
        }
        other => (name.to_string(), other),
    }
}

/// The ending of a channel's name and the unit it means.
fn unit_of(name: &str) -> Option<(&'static str, Unit)> {
    [
        ("_kpa_gauge", Unit::KpaGauge),
        ("_kpa_abs", Unit::KpaAbs),
        ("_mm", Unit::Mm),
        ("_c", Unit::Celsius),
    ]
    .into_iter()
    .find(|(ending, _)| name.ends_with(ending))
}

/// `2026-08-14 22:00:00.500`, which a spreadsheet takes for a time.
fn local(unix_ms: i64, zone: &TimeZone) -> Option<String> {
    let at = Timestamp::from_millisecond(unix_ms).ok()?;
    let zoned = at.to_zoned_datetime(zone.clone());
    Some(zoned.strftime("%Y-%m-%d %H:%M:%S.%3f").to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::units::{LengthUnit, PressureUnit, TemperatureUnit};

    /// 100 psi are 689.4757 kPa, 25.4 mm are an inch (NIST SP 811, appendix B.8); 0 °C
    /// are 32 °F. The readings are invented.
    #[test]
    fn a_spreadsheet_has_the_readers_units_and_times() {
        let rows = Chunk {
            session: 1,
            columns: vec![
                (
                    "utc".into(),
                    Data::Time(vec![Some(1_786_701_600_000), None]),
                ),
                (
                    "tank_kpa_gauge".into(),
                    Data::Number(vec![Some(689.4757), None], 1),
                ),
                (
                    "rear_left_mm".into(),
                    Data::Number(vec![Some(25.4), Some(50.8)], 1),
                ),
                ("ambient_c".into(), Data::Number(vec![Some(0.0), None], 1)),
                ("supply_v".into(), Data::Number(vec![None, Some(12.5)], 2)),
            ],
        };
        let berlin = TimeZone::get("Europe/Berlin").expect("bundled");
        let psi = DisplayUnits {
            pressure: PressureUnit::Psi,
            temperature: TemperatureUnit::Fahrenheit,
            length: LengthUnit::Inch,
        };
        let people = ForPeople {
            spreadsheet: Some((psi, berlin)),
            filled: true,
        };
        let out = people.apply(&rows);
        let names: Vec<&str> = out.columns.iter().map(|c| c.0.as_str()).collect();
        let wanted = [
            "local_time",
            "tank_psi_gauge",
            "rear_left_in",
            "ambient_f",
            "supply_v",
        ];
        assert_eq!(names, wanted);
        let number = |i: usize, row: usize| match &out.columns[i].1 {
            Data::Number(v, _) => v[row],
            _ => None,
        };
        assert!((number(1, 0).expect("a value") - 100.0).abs() < 1e-4);
        assert_eq!(number(1, 1), number(1, 0), "filled");
        assert!((number(2, 1).expect("a value") - 2.0).abs() < 1e-12);
        assert!((number(3, 1).expect("a value") - 32.0).abs() < 1e-12);
        assert_eq!(
            number(4, 0),
            None,
            "nothing is known before the first reading"
        );
        let Data::Text(times) = &out.columns[0].1 else {
            panic!("times are words");
        };
        assert_eq!(times[0].as_deref(), Some("2026-08-14 12:00:00.000"));
        assert_eq!(ForPeople::default().apply(&rows), rows, "as recorded");
    }
}
