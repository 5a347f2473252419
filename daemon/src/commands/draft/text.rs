//! The draft as text: channels with their source and the reason of each guess,
//! what is not known as blanks that are clearly marked.

use super::answers::Answers;
use super::drafted::{Drafted, DraftedChannel, quoted};
use super::{bus, line};
use crate::heard::Heard;
use std::collections::BTreeSet;
use std::fmt::Write as _;

const HEAD: &str = "\
# Drafted from what was heard. Look through it: a guess has its reason beside it.
# Lines that begin with `#?` are blanks: fill in the value and take `#? ` away.
# `seepd check --rig THIS` says what is still missing and what it costs.
";

pub(super) fn rig(heard: &Heard, answers: &Answers) -> String {
    let mut sources: Vec<(String, Drafted)> = Vec::new();
    for (i, one) in heard.lines.iter().filter(|l| l.sentences > 0).enumerate() {
        let name = if i == 0 {
            "box".into()
        } else {
            format!("box_{}", i + 1)
        };
        sources.push((name, line::drafted(one, answers)));
    }
    for (i, one) in heard.buses.iter().filter(|b| b.frames > 0).enumerate() {
        let name = if i == 0 {
            "bus".into()
        } else {
            format!("bus_{}", i + 1)
        };
        sources.push((name, bus::drafted(one)));
    }
    without_doubles(&mut sources);
    let mut text = HEAD.to_string();
    vehicle(&mut text, answers);
    circuits(&mut text, answers);
    let runs = |(_, s): &(String, Drafted)| {
        let of_compressor = |c: &DraftedChannel| c.name.starts_with("compressor_1_");
        s.channels.iter().any(of_compressor)
    };
    let compressor = sources.iter().any(runs);
    compressor_and_limits(&mut text, compressor);
    for (name, source) in &sources {
        write_source(&mut text, name, source);
    }
    text
}

/// A channel can have one source only; a second one is kept beside the analysis.
fn without_doubles(sources: &mut [(String, Drafted)]) {
    let mut used = BTreeSet::new();
    for (source, drafted) in sources {
        for channel in &mut drafted.channels {
            let first = channel.name.clone();
            let mut n = 1;
            while !channel.blank && !used.insert(channel.name.clone()) {
                n += 1;
                channel.name = format!("other_{source}_{n}_{first}");
                channel.reason = format!("{}; {first} has a source already", channel.reason);
            }
        }
    }
}

fn vehicle(text: &mut String, answers: &Answers) {
    let _ = writeln!(text, "\n[vehicle]\nname = {}", quoted(&answers.vehicle));
    let _ = match answers.altitude_m {
        Some(m) => writeln!(text, "altitude_m = {m}"),
        None => writeln!(
            text,
            "#? altitude_m = 180           # where the vehicle lives; used when no barometer is recorded"
        ),
    };
    let _ = match answers.tank_l {
        Some(l) => writeln!(text, "\n[tank]\nvolume_l = {l:?}"),
        None => writeln!(
            text,
            "\n[tank]\n#? volume_l = 19.0            # from its plate, with its fittings"
        ),
    };
}

fn circuits(text: &mut String, answers: &Answers) {
    for name in &answers.circuits {
        let _ = writeln!(text, "\n[[circuit]]\nname = {}", quoted(name));
        let axle = ["front", "rear"]
            .iter()
            .find(|axle| name.starts_with(*axle));
        if let Some(axle) = axle {
            let _ = writeln!(text, "axle = {}", quoted(axle));
        }
        text.push_str(
            "# Not known? `seep volumes` finds it from a log of fills and changes of load.\n\
             #? volume_l = 3.0             # spring, line and valve block together; or, better, by height:\n\
             #? volume_at_height = [[-60.0, 2.6], [0.0, 3.2], [60.0, 3.8]]   # mm, litres\n\
             #? lower_stop_mm = -70.0      # height at which it rests on its stop\n",
        );
    }
}

fn compressor_and_limits(text: &mut String, compressor: bool) {
    if compressor {
        text.push_str(
            "\n[[compressor]]\nname = \"compressor_1\"\n#? rated_duty_percent = 33    # from its plate, and its window:\n#? rated_window_min = 10\n",
        );
    }
    text.push_str(
        "\n[limits]\n#? cut_in_kpa_gauge = 900      # where the pressure switch starts the compressor\n#? cut_out_kpa_gauge = 1150    # and where it stops it\n",
    );
}

fn write_source(text: &mut String, name: &str, source: &Drafted) {
    let channels = source.channels.iter().filter(|c| !c.blank).count();
    text.push('\n');
    for remark in &source.remarks {
        for line in remark.lines() {
            let _ = writeln!(text, "# {line}");
        }
    }
    // A source that feeds nothing would be reported as lost.
    let mark = if channels > 0 { "" } else { "#? " };
    let _ = writeln!(text, "{mark}[[source]]\n{mark}name = {}", quoted(name));
    for key in source.source.lines() {
        let mark = if key.starts_with('#') { "" } else { mark };
        let _ = writeln!(text, "{mark}{key}");
    }
    for channel in &source.channels {
        let mark = if channel.blank { "#? " } else { "" };
        let _ = writeln!(text, "\n# {}", one_line(&channel.reason));
        let _ = writeln!(
            text,
            "{mark}[[channel]]\n{mark}name = {}\n{mark}source = {}",
            quoted(&channel.name),
            quoted(name)
        );
        for key in &channel.keys {
            let mark = if key.starts_with('#') { "" } else { mark };
            let _ = writeln!(text, "{mark}{key}");
        }
    }
}

/// Words from a wire must not end a comment.
fn one_line(words: &str) -> String {
    words
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}
