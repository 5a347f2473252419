//! Prints what the model of a car at rest says of a log: `model LOG.db`.

use seep_report::analysis::rest_model::{Settings, fit};
use seep_report::digest::Digest;
use seep_report::recording::{Recording, SpanRequest};
use std::error::Error;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args_os().nth(1).ok_or("usage: model LOG.db")?;
    let recording = Recording::open(Path::new(&path), &SpanRequest::default())?;
    let car = Digest::build(&recording, |_| {})?.reduced.car;
    let began = std::time::Instant::now();
    let fit = fit(&car, &Settings::default());
    eprintln!("{} rests, {:?}", car.rests.len(), began.elapsed());
    for h in fit.hypotheses.iter().take(14) {
        println!(
            "{:28} {:8.3} ± {:7.3} ln odds {:8.1} {} limit {:?}",
            h.hypothesis.key(&car),
            h.conductance,
            h.standard_error,
            h.ln_odds,
            if h.named { "NAMED" } else { "" },
            h.detection_limit
        );
    }
    for v in &fit.volumes {
        println!(
            "{:12} pooled {:.3} ± {:.3}, upper {:.3} ({:.2} % in 12 h), floor {:.3}, rests {:.1}, two states {:?}",
            car.volumes[v.volume].name,
            v.pooled,
            v.pooled_standard_error,
            v.upper_bound,
            100.0 * v.share_in_12_h(v.upper_bound),
            v.floor,
            v.effective_rests,
            v.two_states.as_ref().map(|t| (t.named, t.conductance))
        );
    }
    Ok(())
}
