mod can;
mod modbus;
mod nmea;

use crate::rig::Rig;

/// A rig of one source and some channels, invented.
fn rig(source: &str, channels: &str) -> Rig {
    let circuits: String = ["front_left", "front_right", "rear_left", "rear_right"]
        .iter()
        .map(|name| format!("[[circuit]]\nname = \"{name}\"\n"))
        .collect();
    let text = format!(
        "[vehicle]\nname = \"invented\"\n[tank]\n{circuits}\
         [[compressor]]\nname = \"compressor_1\"\n[[source]]\nname = \"s\"\n{source}\n{channels}"
    );
    Rig::parse(&text).unwrap_or_else(|error| panic!("{error}"))
}

/// One channel of the source `s`.
fn channel(name: &str, rest: &str) -> String {
    format!("[[channel]]\nname = \"{name}\"\nsource = \"s\"\n{rest}\n")
}
