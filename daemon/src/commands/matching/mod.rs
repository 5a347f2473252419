//! `seepd match`: which bits of an unknown bus carry a gauge.

mod notes;
mod print;

use crate::cli::MatchArgs;
use crate::exit::{Exit, Failure};
use crate::matching::{BusRecord, MatchVerdict, NoteError, find_gauge};
use crate::source::replay::{Recorded, each_frame};
use std::io::Write;

/// Fewer readings always fit some field.
const LEAST_READINGS: usize = 4;

pub(super) fn run(
    args: &MatchArgs,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Result<Exit, Failure> {
    let recorded = Recorded::new(args.start.as_deref(), args.zone.as_deref())?;
    let mut bus = BusRecord::default();
    for input in &args.inputs {
        let unread = each_frame(input, &recorded, &mut |frame| bus.push(frame))?;
        if let Some(unread) = unread {
            let _ = writeln!(err, "{}: {unread}", input.display());
        }
    }
    let Some(span_ms) = bus.span_ms() else {
        let names: Vec<_> = args
            .inputs
            .iter()
            .map(|i| i.display().to_string())
            .collect();
        return Err(Failure::say(
            Exit::Data,
            format!("{}: no data frame", names.join(", ")),
        ));
    };
    let readings = notes::read(args, &recorded, span_ms)?;
    if readings.len() < LEAST_READINGS {
        return Err(Failure::say(
            Exit::Usage,
            format!(
                "{} readings lie within the recording, at least {LEAST_READINGS} are needed and 8 are better; note values far apart, as --reading 12:00:05=420",
                readings.len()
            ),
        ));
    }
    let error = NoteError {
        rounding: args.round,
        clock_ms: (args.clock * 1000.0).round() as i64,
    };
    let result = find_gauge(&bus, &readings, error);
    let found = matches!(result.verdict, MatchVerdict::Found(_));
    let text = print::text(&result, &bus, readings.len(), args);
    out.write_all(text.as_bytes())
        .map_err(|e| Failure::say(Exit::Io, format!("standard output: {e}")))?;
    Ok(if found { Exit::Fine } else { Exit::Finding })
}
