//! Prints the rests of a log as JSON, one line each: `rests LOG.db`. For comparison
//! with another implementation.

use seep_report::analysis::rest_model::ModelRest;
use seep_report::digest::Digest;
use seep_report::recording::{Recording, SpanRequest};
use serde_json::json;
use std::error::Error;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args_os().nth(1).ok_or("usage: rests LOG.db")?;
    let recording = Recording::open(Path::new(&path), &SpanRequest::default())?;
    let car = Digest::build(&recording, |_| {})?.reduced.car;
    for rest in &car.rests {
        println!("{}", row(&car.volumes[rest.volume].name, rest));
    }
    Ok(())
}

fn row(volume: &str, r: &ModelRest) -> serde_json::Value {
    json!({
        "volume": volume, "park": r.park, "start_s": r.start_s, "end_s": r.end_s,
        "t_s": r.t_s, "kpa_abs": r.kpa_abs, "outside_kpa_abs": r.outside_kpa_abs,
        "volume_l": r.volume_l, "height_mm": r.height_mm, "kelvin": r.kelvin,
        "ln_variance": r.ln_variance, "ln_count": r.ln_count,
        "reading_sd_kpa": r.reading_sd_kpa, "lag_k": r.lag_k, "soak": r.soak,
        "creep": r.creep, "last_move": r.last_move.map(|m| [m.end_s, m.sign, m.duration_s]),
        "levelled_s": r.levelled_s, "longest_silence_s": r.longest_silence_s,
        "barometer_silence_s": r.barometer_silence_s,
    })
}
