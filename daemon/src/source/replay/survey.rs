//! Recorded files without a rig: what speaks in them.

use super::head::Head;
use super::lines::{TextLine, TextLines};
use super::recognise::refuse_blf;
use super::unread_lines::unread_lines;
use super::{sentences, stamped};
use crate::exit::{Exit, Failure};
use crate::heard::{BusSurvey, Heard, LineSurvey};
use seep_common::codec::can::CanFrame;
use seep_common::codec::candump::LineReader;
use seep_common::codec::canlog::{LogForm, LogTimes, recognise as form_of};
use seep_common::codec::dbc::Database;
use std::fs::File;
use std::io::{self, BufRead, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Listen to recorded files; the kind is told from the content.
///
/// # Errors
/// 66 for a file that is missing, 65 for one that is neither a CAN log nor a
/// capture of sentences.
pub(crate) fn survey(files: &[PathBuf], databases: &Arc<Vec<Database>>) -> Result<Heard, Failure> {
    let mut heard = Heard::new(0.0, Vec::new(), Vec::new());
    for path in files {
        let name = path.display().to_string();
        let failed = |e: io::Error| Failure::say(Exit::NoInput, format!("{name}: {e}"));
        let rest: Box<dyn Read + Send> = if path == Path::new("-") {
            Box::new(io::stdin())
        } else {
            Box::new(File::open(path).map_err(failed)?)
        };
        let head = Head::read(rest).map_err(failed)?;
        if let Some(refusal) = refuse_blf(&head.bytes, &name) {
            return Err(refusal);
        }
        if let Some(form) = form_of(&head.bytes) {
            let found = bus_log(&name, head, form, databases).map_err(failed)?;
            heard.buses.extend(found);
        } else if sentences::looks_like(&head.bytes) {
            heard.lines.push(capture(&name, head).map_err(failed)?);
        } else {
            return Err(Failure::say(
                Exit::Data,
                format!(
                    "{name}: is neither a CAN log nor a capture of NMEA 0183 sentences with checksums; a table needs no listening, its columns are its first line"
                ),
            ));
        }
    }
    Ok(heard)
}

/// One survey for each interface of the log.
fn bus_log(
    name: &str,
    head: Head,
    form: LogForm,
    databases: &Arc<Vec<Database>>,
) -> io::Result<Vec<crate::heard::HeardBus>> {
    let mut surveys: Vec<BusSurvey> = Vec::new();
    let mut take = |frame: &CanFrame| {
        let interface = frame.interface.as_str();
        let known = surveys.iter().position(|s| s.interface() == interface);
        let place = known.unwrap_or_else(|| {
            let fresh = BusSurvey::new(name.into(), interface.into(), false, databases.clone());
            surveys.push(fresh);
            surveys.len() - 1
        });
        surveys[place].take(frame, frame.t_us as f64 / 1e6);
    };
    // Rates need no date: any start will do.
    let times = LogTimes::new(Some(0), |civil_us, _| civil_us);
    let mut lines = LineReader::of(form, times);
    let mut input = head.into_input();
    loop {
        let bytes = input.fill_buf()?;
        let n = bytes.len();
        if n == 0 {
            break;
        }
        lines.push(bytes, &mut take);
        input.consume(n);
    }
    lines.finish();
    let unread = unread_lines(&lines);
    Ok((surveys.into_iter())
        .map(|mut survey| {
            if unread.is_some() {
                survey.set_problem(unread.clone());
            }
            survey.heard()
        })
        .collect())
}

/// Sentences, each with the time in front of it when there is one.
fn capture(name: &str, head: Head) -> io::Result<crate::heard::HeardLine> {
    let mut survey = LineSurvey::new(name.into(), false);
    let mut lines = TextLines::new(head.into_input());
    loop {
        match lines.next()? {
            TextLine::Whole(line) | TextLine::Cut(line) => {
                let (t_s, sentence) = match stamped::split(line) {
                    Some((t_ms, sentence)) => (Some(t_ms as f64 / 1000.0), sentence),
                    None => (None, line),
                };
                survey.take(sentence, t_s);
                survey.take(b"\r\n", t_s);
            }
            TextLine::TooLong => {}
            TextLine::End => return Ok(survey.heard()),
        }
    }
}
