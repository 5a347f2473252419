//! The few answers that cannot be heard: as options, or asked on a terminal.

use super::guess::guess;
use crate::cli::DraftArgs;
use crate::exit::{Exit, Failure};
use crate::heard::{Heard, HeardTransducer};
use seep_common::channel::{Quantity, is_identifier};
use seep_common::rig::InputUnit;
use std::collections::BTreeMap;
use std::io::{BufRead, Write};

/// What a sensor's value means.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sensor {
    /// Unit of the value.
    pub unit: InputUnit,
    /// For a sensor that gives volts: the values at both ends of its range, and
    /// the volts there.
    pub range: Option<([f64; 2], [f64; 2])>,
}

/// Ends of the range of a ratiometric sensor on 5 V, V: 10 and 90 % (common
/// practice, no source).
const USUAL_VOLTS: [f64; 2] = [0.5, 4.5];

/// Everything a draft needs besides what was heard.
#[derive(Debug, Clone)]
pub(super) struct Answers {
    pub vehicle: String,
    pub altitude_m: Option<f64>,
    pub tank_l: Option<f64>,
    pub circuits: Vec<String>,
    pub places: BTreeMap<String, String>,
    pub sensors: BTreeMap<String, Sensor>,
}

/// Asks on a terminal; without one every question stays open.
pub(super) struct Asker<'a> {
    terminal: bool,
    err: &'a mut dyn Write,
}

impl<'a> Asker<'a> {
    pub(super) fn new(terminal: bool, err: &'a mut dyn Write) -> Self {
        Asker { terminal, err }
    }

    /// Ask until the answer is understood or empty.
    fn ask<T>(&mut self, question: &str, read: impl Fn(&str) -> Result<T, String>) -> Option<T> {
        while self.terminal {
            let _ = write!(self.err, "{question} [Enter: leave open] ");
            let _ = self.err.flush();
            let mut line = String::new();
            if std::io::stdin().lock().read_line(&mut line).unwrap_or(0) == 0 {
                return None;
            }
            match line.trim() {
                "" => return None,
                words => match read(words) {
                    Ok(answer) => return Some(answer),
                    Err(why) => drop(writeln!(self.err, "  {why}")),
                },
            }
        }
        None
    }
}

impl Answers {
    pub(super) fn gather(
        args: &DraftArgs,
        heard: &Heard,
        asker: &mut Asker<'_>,
    ) -> Result<Self, Failure> {
        let wrong = |why: String| Failure::say(Exit::Usage, why);
        let mut places = BTreeMap::new();
        for words in &args.place {
            let (name, place) = pair(words, "--place NAME=PLACE").map_err(wrong)?;
            if !is_identifier(place) {
                return Err(wrong(format!(
                    "--place {words}: `{place}` is not a place; use lower-case letters, digits and `_`"
                )));
            }
            known(heard, name, words).map_err(wrong)?;
            places.insert(name.to_string(), place.to_string());
        }
        let mut sensors = BTreeMap::new();
        for words in &args.sensor {
            let (name, meaning) = pair(words, "--sensor NAME=RANGE").map_err(wrong)?;
            known(heard, name, words).map_err(wrong)?;
            let sensor = sensor(meaning).map_err(|e| wrong(format!("--sensor {words}: {e}")))?;
            sensors.insert(name.to_string(), sensor);
        }
        let mut answers = Answers {
            vehicle: args.name.clone().unwrap_or_else(|| "My vehicle".into()),
            altitude_m: args.altitude_m,
            tank_l: args.tank_l,
            circuits: Vec::new(),
            places,
            sensors,
        };
        answers.ask_rest(args, heard, asker);
        answers.circuits = circuits(args.circuits, &answers, heard, asker).map_err(wrong)?;
        Ok(answers)
    }

    /// Where a transducer is by answer.
    pub(super) fn place(&self, name: &str) -> Option<&str> {
        self.places.get(name).map(String::as_str)
    }

    fn ask_rest(&mut self, args: &DraftArgs, heard: &Heard, asker: &mut Asker<'_>) {
        if args.name.is_none()
            && let Some(name) =
                asker.ask("Name of the vehicle?", |w| Ok(w.replace(['"', '\\'], "")))
        {
            self.vehicle = name;
        }
        if self.tank_l.is_none() {
            self.tank_l = asker.ask("Volume of the tank in litres?", |w| match w.parse() {
                Ok(l) if f64::is_finite(l) && l > 0.0 => Ok(l),
                _ => Err("give a number above 0, such as 19".into()),
            });
        }
        for t in heard.lines.iter().flat_map(|l| &l.transducers) {
            let guess = guess(t, self.place(&t.name));
            if !self.sensors.contains_key(&t.name) && needs_meaning(t, guess.quantity) {
                let question = format!(
                    "{} sends {}: what is 0.5 V and 4.5 V, such as `0..200psi` or `-100..100mm`?",
                    t.name,
                    if t.kind == "U" {
                        "volts"
                    } else {
                        "numbers without a unit"
                    }
                );
                if let Some(answer) = asker.ask(&question, sensor) {
                    self.sensors.insert(t.name.clone(), answer);
                }
            }
        }
    }
}

/// True when the sentence does not say what the value is.
pub(super) fn needs_meaning(t: &HeardTransducer, quantity: Option<Quantity>) -> bool {
    match t.kind.as_str() {
        "U" => quantity != Some(Quantity::Voltage),
        "S" => false,
        _ => t.unit_label.is_none(),
    }
}

/// Circuits: those whose names were heard, and as many more as answered.
fn circuits(
    wanted: Option<usize>,
    answers: &Answers,
    heard: &Heard,
    asker: &mut Asker<'_>,
) -> Result<Vec<String>, String> {
    let fixed = ["tank", "ambient", "supply", "vehicle"];
    let mut found: Vec<String> = Vec::new();
    let transducers = heard.lines.iter().flat_map(|l| &l.transducers);
    let on_lines = transducers.map(|t| guess(t, answers.place(&t.name)).place);
    for place in on_lines.chain(super::bus::circuits(heard)) {
        let is_circuit = !fixed.contains(&place.as_str())
            && !place.starts_with("other_")
            && !place.starts_with("compressor");
        if is_circuit && !found.contains(&place) {
            found.push(place);
        }
    }
    let wanted = wanted.or_else(|| {
        let question = format!(
            "How many circuits (one for each air spring, or shared pair)? Heard: {}.",
            if found.is_empty() {
                "none".into()
            } else {
                found.join(", ")
            }
        );
        asker.ask(&question, |w| {
            w.parse().map_err(|_| "give a number, such as 4".into())
        })
    });
    let Some(wanted) = wanted else {
        return Ok(found);
    };
    if wanted < found.len() {
        return Err(format!(
            "--circuits {wanted}: {} were heard ({}); --place NAME=other_… leaves one out of the analysis",
            found.len(),
            found.join(", ")
        ));
    }
    let usual: &[&str] = match wanted {
        1 => &["rear"],
        2 => &["front", "rear"],
        _ => &["front_left", "front_right", "rear_left", "rear_right"],
    };
    let more = usual.iter().map(ToString::to_string);
    for name in more.chain((1..).map(|i| format!("circuit_{i}"))) {
        if found.len() >= wanted {
            break;
        }
        if !found.contains(&name) {
            found.push(name);
        }
    }
    Ok(found)
}

fn known(heard: &Heard, name: &str, words: &str) -> Result<(), String> {
    let names: Vec<_> = (heard.lines.iter())
        .flat_map(|l| &l.transducers)
        .map(|t| t.name.as_str())
        .collect();
    if names.contains(&name) {
        Ok(())
    } else {
        Err(format!(
            "{words}: no transducer `{name}` was heard; heard: {}",
            names.join(", ")
        ))
    }
}

fn pair<'a>(words: &'a str, form: &str) -> Result<(&'a str, &'a str), String> {
    words
        .split_once('=')
        .ok_or_else(|| format!("`{words}` is not of the form {form}"))
}

/// Read `psi`, `0..200psi` or `0..200psi@0.5..4.5V`.
pub(super) fn sensor(words: &str) -> Result<Sensor, String> {
    let (meaning, volts) = match words.split_once('@') {
        Some((meaning, volts)) => (meaning, Some(volts)),
        None => (words, None),
    };
    let unit_at = meaning
        .find(|c: char| c.is_alphabetic() || c == '°')
        .ok_or("the unit is missing, such as psi, bar, kpa, mm")?;
    let (numbers, label) = meaning.split_at(unit_at);
    let unit = InputUnit::parse(label)
        .ok_or_else(|| format!("`{label}` is not a unit known here, such as psi, bar, kpa, mm"))?;
    if numbers.trim().is_empty() {
        return match volts {
            None => Ok(Sensor { unit, range: None }),
            Some(_) => Err("volts need the values there, as 0..200psi@0.5..4.5V".into()),
        };
    }
    let values = ends(numbers)?;
    let volts = match volts {
        Some(v) => ends(v.trim_end_matches(['v', 'V']))?,
        None => USUAL_VOLTS,
    };
    if volts[0] == volts[1] {
        return Err("both ends have the same voltage".into());
    }
    Ok(Sensor {
        unit,
        range: Some((values, volts)),
    })
}

fn ends(words: &str) -> Result<[f64; 2], String> {
    let wrong = || format!("`{words}` is not a range, such as 0..200");
    let (low, high) = words.trim().split_once("..").ok_or_else(wrong)?;
    let number = |w: &str| w.trim().parse::<f64>().ok().filter(|x| x.is_finite());
    match (number(low), number(high)) {
        (Some(low), Some(high)) if low != high => Ok([low, high]),
        _ => Err(wrong()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn meanings_of_sensors() {
        let read = |words| sensor(words).expect(words);
        assert_eq!(read("psi").range, None);
        let usual = read("0..200psi");
        assert_eq!(usual.unit.label, "psi");
        assert_eq!(usual.range, Some(([0.0, 200.0], [0.5, 4.5])));
        let own = read("-100..100mm@1..4V");
        assert_eq!(own.range, Some(([-100.0, 100.0], [1.0, 4.0])));
        for wrong in [
            "0..200",
            "200psi",
            "0..0bar",
            "0..9furlong",
            "0..9bar@2..2",
            "bar@1..2",
        ] {
            assert!(sensor(wrong).is_err(), "{wrong}");
        }
    }
}
