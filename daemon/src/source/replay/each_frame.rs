//! The frames of a CAN log without a rig.

use super::head::Head;
use super::log_times::{self, Recorded};
use super::unread_lines::unread_lines;
use crate::exit::{Exit, Failure};
use seep_common::codec::can::CanFrame;
use seep_common::codec::candump::LineReader;
use seep_common::codec::canlog::recognise;
use std::fs::File;
use std::io::BufRead;
use std::path::Path;

/// Hands on every frame of a log of any form; returns the message about the lines
/// that could not be read, if there are any.
///
/// # Errors
/// 66 when the file is missing, 65 when it is no CAN log, 2 when its times need
/// a start, 74 when reading fails.
pub(crate) fn each_frame(
    path: &Path,
    recorded: &Recorded,
    sink: &mut impl FnMut(&CanFrame),
) -> Result<Option<String>, Failure> {
    let name = path.display().to_string();
    let failed = |exit, e: std::io::Error| Failure::say(exit, format!("{name}: {e}"));
    let file = File::open(path).map_err(|e| failed(Exit::NoInput, e))?;
    let head = Head::read(Box::new(file)).map_err(|e| failed(Exit::NoInput, e))?;
    let form = recognise(&head.bytes).ok_or_else(|| {
        Failure::say(
            Exit::Data,
            format!("{name}: is no CAN log; candump's logs and console form, ASC and TRC are read"),
        )
    })?;
    let mut lines = LineReader::of(form, log_times::of(form, recorded, &name)?);
    let mut input = head.into_input();
    loop {
        let bytes = input.fill_buf().map_err(|e| failed(Exit::Io, e))?;
        let n = bytes.len();
        if n == 0 {
            break;
        }
        lines.push(bytes, sink);
        input.consume(n);
    }
    lines.finish();
    Ok(unread_lines(&lines))
}
