//! What was heard, as a page of plain text.

use crate::heard::{Heard, HeardBus, HeardLine, HeardMessage, printed_unit};
use std::fmt::Write as _;

pub(super) fn page(heard: &Heard) -> String {
    let mut text = String::new();
    if heard.seconds > 0.0 {
        let _ = writeln!(text, "listened for {:.0} s; nothing is sent", heard.seconds);
    }
    for one in &heard.lines {
        line(&mut text, one);
    }
    for one in &heard.buses {
        bus(&mut text, one);
    }
    text
}

fn line(text: &mut String, line: &HeardLine) {
    let speed = line
        .baud
        .map_or_else(String::new, |b| format!(" at {b} baud"));
    let _ = writeln!(
        text,
        "\n{}{speed}: {} sentences, {} with a wrong checksum, {} without one",
        printable(&line.from),
        line.sentences,
        line.bad_checksums,
        line.missing_checksums
    );
    if let Some(problem) = &line.problem {
        let _ = writeln!(text, "  {problem}");
    }
    for words in &line.texts {
        let _ = writeln!(text, "  the sender says: {}", printable(words));
    }
    if line.transducers.is_empty() {
        return;
    }
    let _ = writeln!(
        text,
        "  {:<20} {:>10} {:<5} {:>7} {:>10} {:>10}",
        "transducer", "last", "unit", "per s", "lowest", "highest"
    );
    for t in &line.transducers {
        let unit = t.unit_label.as_deref().map_or(&*t.unit, printed_unit);
        let _ = writeln!(
            text,
            "  {:<20} {:>10} {:<5} {:>7} {:>10} {:>10}",
            printable(&t.name),
            number(t.values.last, 4),
            printable(unit),
            number(t.rate_hz, 1),
            number(t.values.lowest, 4),
            number(t.values.highest, 4)
        );
    }
    if line.more_transducers > 0 {
        let _ = writeln!(
            text,
            "  {} more measurements of other names",
            line.more_transducers
        );
    }
}

fn bus(text: &mut String, bus: &HeardBus) {
    let file = if bus.from == bus.interface {
        String::new()
    } else {
        format!("{}: ", printable(&bus.from))
    };
    let _ = writeln!(
        text,
        "\n{file}{}: {} frames, {} identifiers",
        printable(&bus.interface),
        bus.frames,
        bus.messages.len()
    );
    if let Some(problem) = &bus.problem {
        let _ = writeln!(text, "  {}", printable(problem));
    }
    if bus.unlisted_frames > 0 {
        let _ = writeln!(
            text,
            "  {} frames of further identifiers",
            bus.unlisted_frames
        );
    }
    if bus.messages.is_empty() {
        return;
    }
    let _ = writeln!(
        text,
        "  {:<9} {:<16} {:>7} {:>5}  {:<12} last",
        "id", "known as", "per s", "bytes", "bytes moving"
    );
    let (known, other): (Vec<_>, Vec<_>) = bus.messages.iter().partition(|m| m.name.is_some());
    for message in known.into_iter().chain(other) {
        one_message(text, message);
    }
}

fn one_message(text: &mut String, m: &HeardMessage) {
    let id = if m.extended {
        format!("{:08X}", m.id)
    } else {
        format!("{:03X}", m.id)
    };
    let name = match (&m.name, m.group) {
        (Some(name), Some(group)) => format!("{name} ({group})"),
        (Some(name), None) => name.clone(),
        (None, _) => String::new(),
    };
    let moving: Vec<_> = m.moving_bytes.iter().map(ToString::to_string).collect();
    let moving = if moving.is_empty() {
        "none".to_string()
    } else {
        moving.join(" ")
    };
    let _ = writeln!(
        text,
        "  {id:<9} {:<16} {:>7} {:>5}  {moving:<12} {}",
        printable(&name),
        number(m.rate_hz, 1),
        m.length,
        m.last
    );
    for s in &m.signals {
        let _ = writeln!(
            text,
            "            {} {} {}",
            printable(&s.name),
            number(s.values.last, 2),
            printable(&s.unit)
        );
    }
}

fn number(value: Option<f64>, digits: usize) -> String {
    value.map_or_else(|| "-".into(), |v| format!("{v:.digits$}"))
}

/// What a wire says must not steer the terminal.
fn printable(words: &str) -> String {
    words
        .chars()
        .map(|c| if c.is_control() { '·' } else { c })
        .collect()
}
