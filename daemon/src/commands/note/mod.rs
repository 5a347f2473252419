//! `seepd note`: a reading by hand, or words, into a log.

mod moment;
mod reading;

use crate::cli::NoteArgs;
use crate::defaults;
use crate::exit::{Exit, Failure};
use crate::storage::failure;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use seep_common::rig::Rig;
use seep_common::store::{HandReading, Note, Noted, Reader, add_notes};
use seep_common::time::WallMs;
use std::io::Write;
use std::path::Path;

pub(super) fn run(args: &NoteArgs, out: &mut dyn Write) -> Result<Exit, Failure> {
    let usage = |text: String| Failure::say(Exit::Usage, text);
    let log = defaults::log(args.log.as_ref())?;
    let zone = zone(args.zone.as_deref()).map_err(usage)?;
    let now = Timestamp::now();
    let at = match &args.at {
        None => now,
        Some(text) => moment::moment(text, now, &zone).map_err(usage)?,
    };
    if args.reading.is_empty() && args.text.is_empty() {
        return Err(usage(
            "nothing to note: give --reading NAME=VALUE, or words".into(),
        ));
    }
    let rig = rig_of(&log)?;
    let readings: Vec<HandReading> = args
        .reading
        .iter()
        .map(|text| reading::reading(text, args.error, &rig))
        .collect::<Result<_, _>>()
        .map_err(usage)?;
    let notes = notes(&readings, &args.text.join(" "), at, now);
    let noted = add_notes(&log, &notes).map_err(failure)?;
    if noted == Noted::OlderRecorder {
        return Err(Failure::say(
            Exit::Temporary,
            format!(
                "{}: the recorder that writes it is of an older version; restart it, then note again",
                log.display()
            ),
        ));
    }
    tell(&notes, &zone, &log, noted, out);
    Ok(Exit::Fine)
}

fn zone(name: Option<&str>) -> Result<TimeZone, String> {
    name.map_or_else(
        || Ok(TimeZone::system()),
        |name| {
            TimeZone::get(name).map_err(|_| {
                format!(
                    "`{name}` is not a time zone; use an IANA name such as Europe/Berlin, or UTC"
                )
            })
        },
    )
}

/// The rig that the log was last recorded with.
fn rig_of(log: &Path) -> Result<Rig, Failure> {
    let reader = Reader::open(log).map_err(failure)?;
    let sessions = reader.sessions().map_err(failure)?;
    let last = sessions.last().ok_or_else(|| {
        Failure::say(
            Exit::Data,
            format!(
                "{}: nothing is recorded yet; let seepd run first, so that names can be checked",
                log.display()
            ),
        )
    })?;
    let rigs = reader.rigs().map_err(failure)?;
    let text = rigs.into_iter().find(|(sha, _)| *sha == last.rig_sha256);
    Rig::parse(&text.map(|(_, text)| text).unwrap_or_default())
        .map_err(|e| Failure::say(Exit::Data, format!("{}: its rig: {e}", log.display())))
}

/// One note for each reading, the words with the first; or the words alone.
fn notes(readings: &[HandReading], words: &str, at: Timestamp, now: Timestamp) -> Vec<Note> {
    let note = |reading: Option<HandReading>, text: &str| Note {
        at_unix_ms: WallMs(at.as_millisecond()),
        noted_unix_ms: WallMs(now.as_millisecond()),
        reading,
        text: text.into(),
    };
    if readings.is_empty() {
        return vec![note(None, words)];
    }
    readings
        .iter()
        .enumerate()
        .map(|(i, r)| note(Some(r.clone()), if i == 0 { words } else { "" }))
        .collect()
}

fn tell(notes: &[Note], zone: &TimeZone, log: &Path, noted: Noted, out: &mut dyn Write) {
    for note in notes {
        let at = Timestamp::from_millisecond(note.at_unix_ms.0)
            .map(|t| {
                t.to_zoned_datetime(zone.clone())
                    .strftime("%Y-%m-%d %H:%M %:z")
                    .to_string()
            })
            .unwrap_or_default();
        let what = note.reading.as_ref().map_or_else(
            || note.text.clone(),
            |r| format!("{} = {} ± {}", r.name, r.value, r.error),
        );
        let _ = writeln!(out, "{at}  {what}");
    }
    let beside = match noted {
        Noted::BesideRecorder => ", beside the running recorder",
        Noted::Stored | Noted::OlderRecorder => "",
    };
    let _ = writeln!(out, "noted in {}{beside}", log.display());
}
