//! Readings as a person notes them.

use crate::cli::MatchArgs;
use crate::exit::{Exit, Failure};
use crate::matching::GaugeReading;
use crate::source::replay::Recorded;

/// Reads the options and the file of notes; readings outside the recording are
/// an error that names them.
pub(super) fn read(
    args: &MatchArgs,
    recorded: &Recorded,
    (first_ms, last_ms): (i64, i64),
) -> Result<Vec<GaugeReading>, Failure> {
    let mut readings = Vec::new();
    for text in &args.reading {
        let Some((time, value)) = text.split_once('=') else {
            return Err(wrong(format!(
                "--reading {text}: give TIME=VALUE, such as 12:00:05=420"
            )));
        };
        readings.push(one(
            time,
            value,
            recorded,
            first_ms,
            &format!("--reading {text}"),
        )?);
    }
    if let Some(path) = &args.readings {
        let name = path.display();
        let text = std::fs::read_to_string(path)
            .map_err(|e| Failure::say(Exit::NoInput, format!("{name}: {e}")))?;
        for (i, line) in text.lines().enumerate() {
            let line = line.trim();
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            let at = format!("{name}: line {}", i + 1);
            let Some((time, value)) = line.rsplit_once([';', ',', '\t']) else {
                return Err(wrong(format!("{at}: give TIME,VALUE")));
            };
            match one(time, value, recorded, first_ms, &at) {
                Err(_) if i == 0 => {} // Headings.
                reading => readings.push(reading?),
            }
        }
    }
    readings.sort_by_key(|r| r.t_ms);
    let slack_ms = (args.clock * 1000.0) as i64;
    for r in &readings {
        if r.t_ms < first_ms - slack_ms || r.t_ms > last_ms + slack_ms {
            let at = |ms| {
                jiff::Timestamp::from_millisecond(ms)
                    .map_or_else(|_| format!("{ms} ms"), |t| t.to_string())
            };
            return Err(wrong(format!(
                "the reading {} at {} lies outside the recording, which lasts from {} to {}; correct its time, or give --zone",
                r.value,
                at(r.t_ms),
                at(first_ms),
                at(last_ms)
            )));
        }
    }
    Ok(readings)
}

fn wrong(text: String) -> Failure {
    Failure::say(Exit::Usage, text)
}

fn one(
    time: &str,
    value: &str,
    recorded: &Recorded,
    first_ms: i64,
    at: &str,
) -> Result<GaugeReading, Failure> {
    let number = value.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    let value = number.ok_or_else(|| wrong(format!("{at}: `{}` is no number", value.trim())))?;
    let t_ms = recorded.moment_ms(time.trim(), first_ms).ok_or_else(|| {
        wrong(format!(
            "{at}: `{}` is no time; give 12:00:05, 2025-08-10T12:00:05Z, or +35 for seconds from the start of the recording",
            time.trim()
        ))
    })?;
    Ok(GaugeReading { t_ms, value })
}
