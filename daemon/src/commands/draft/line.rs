//! A serial line as a source of the draft.

use super::answers::{Answers, Sensor, needs_meaning};
use super::drafted::{Drafted, DraftedChannel, quoted};
use super::guess::{Guess, guess};
use crate::heard::{HeardLine, HeardTransducer, printed_unit};
use seep_common::channel::Quantity;
use seep_common::rig::InputUnit;

/// Speed of a line whose speed was not found, baud (the fast form of NMEA 0183).
const USUAL_BAUD: u32 = 38_400;

/// What a pressure without a unit most likely is: more bar than this no tank
/// holds, and more psi than that no sensor of a tank goes to. Common practice,
/// no source.
const MOST_BAR: f64 = 16.0;
const MOST_PSI: f64 = 300.0;

pub(super) fn drafted(line: &HeardLine, answers: &Answers) -> Drafted {
    let device = if line.live {
        format!("device = {}", quoted(&line.from))
    } else {
        "#? device = \"/dev/serial/by-id/…\"   # needed to record live".into()
    };
    let baud = line.baud.unwrap_or(USUAL_BAUD);
    let mut remarks: Vec<String> = Vec::new();
    for text in &line.texts {
        remarks.push(format!("The sender says: {}", printable(text)));
    }
    if line.bad_checksums > 0 {
        remarks.push(format!(
            "{} of {} sentences had a wrong checksum: look at the wire before trusting it.",
            line.bad_checksums,
            line.bad_checksums + line.sentences
        ));
    }
    Drafted {
        source: format!(
            "kind = \"nmea\"\n{device}\nbaud = {baud}\nsilence_s = 5\n#? sleeps_with_ignition = true  # when it has power only with the ignition"
        ),
        channels: line
            .transducers
            .iter()
            .map(|t| channel(t, answers))
            .collect(),
        remarks,
    }
}

fn channel(t: &HeardTransducer, answers: &Answers) -> DraftedChannel {
    let guess = guess(t, answers.place(&t.name));
    let sensor = answers.sensors.get(&t.name);
    let mut keys = vec![format!("transducer = {}", quoted(&t.name))];
    let seen = seen(t);
    if let Some(sensor) = sensor {
        let quantity = quantity_of(sensor, &guess);
        keys.extend(meaning(sensor));
        return made(
            &guess,
            quantity,
            keys,
            format!("{}; its meaning as answered; {seen}", guess.reason),
            false,
        );
    }
    if !needs_meaning(t, guess.quantity) {
        let quantity = guess.quantity.unwrap_or(Quantity::Voltage);
        let unit = t.unit_label.as_deref().filter(|_| t.kind != "S");
        let unit = unit.map_or_else(String::new, |u| {
            format!("; in {} as the sentence says", printed_unit(u))
        });
        return made(
            &guess,
            quantity,
            keys,
            format!("{}{unit}; {seen}", guess.reason),
            false,
        );
    }
    if t.kind == "U" {
        // Nothing is lost: volts are recorded until the range is known.
        keys.push(format!(
            "#? for a pressure rename it `{}_kpa_gauge` and add, with the range printed on the sensor:\n#? calibrate = {{ ratiometric = {{ supply_v = 5.0, low_fraction = 0.1, low = 0.0, high_fraction = 0.9, high = 200.0 }} }}\n#? unit = \"psi\"",
            guess.place
        ));
        let reason = format!(
            "{}; volts, and the sensor's range is not known; {seen}",
            guess.reason
        );
        return made(&guess, Quantity::Voltage, keys, reason, false);
    }
    let highest = t.values.highest.unwrap_or(0.0);
    match guess.quantity {
        Some(q) if q.is_pressure() => {
            let label = match highest {
                h if h <= MOST_BAR => "bar",
                h if h <= MOST_PSI => "psi",
                _ => "kpa",
            };
            keys.push(format!("unit = {}", quoted(label)));
            let reason = format!("{}; {label} is a guess: {seen}", guess.reason);
            made(&guess, q, keys, reason, false)
        }
        other => {
            keys.push("unit = \"…\"".into());
            let reason = format!(
                "{}; a number without a unit: --sensor {}=psi (bar, mm, …) says what it is; {seen}",
                guess.reason,
                printable(&t.name)
            );
            made(
                &guess,
                other.unwrap_or(Quantity::GaugePressure),
                keys,
                reason,
                true,
            )
        }
    }
}

fn made(
    guess: &Guess,
    quantity: Quantity,
    keys: Vec<String>,
    reason: String,
    blank: bool,
) -> DraftedChannel {
    DraftedChannel {
        name: format!("{}_{}", guess.place, quantity.suffix()),
        keys,
        reason,
        blank,
    }
}

/// The quantity that an answer's unit measures.
fn quantity_of(sensor: &Sensor, guess: &Guess) -> Quantity {
    if let Some(quantity) = guess.quantity.filter(|q| sensor.unit.fits(*q)) {
        return quantity;
    }
    let fits = |q: &Quantity| sensor.unit.fits(*q);
    // In the order of the catalogue gauge pressure comes before absolute.
    let found = Quantity::ALL.iter().copied().find(fits);
    found.unwrap_or(Quantity::GaugePressure)
}

fn meaning(sensor: &Sensor) -> Vec<String> {
    let InputUnit { label, .. } = sensor.unit;
    let unit = format!("unit = {}", quoted(label));
    match sensor.range {
        None => vec![unit],
        Some((values, volts)) => vec![
            format!(
                "calibrate = {{ two_point = [[{:?}, {:?}], [{:?}, {:?}]] }}   # volts, {label}",
                volts[0], values[0], volts[1], values[1]
            ),
            unit,
        ],
    }
}

fn seen(t: &HeardTransducer) -> String {
    match (t.values.lowest, t.values.highest) {
        (Some(low), Some(high)) => format!("{low} to {high} were heard"),
        _ => "no number was heard so far".into(),
    }
}

fn printable(words: &str) -> String {
    words
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}
