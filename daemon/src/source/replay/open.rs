//! From an argument to an input: which source of the rig it belongs to.

use super::Input;
use super::head::Head;
use super::log_times::Recorded;
use super::merge::Merge;
use super::recognise::{Fed, recognise};
use super::timeline::Timeline;
use crate::counts::Counts;
use crate::databases::Databases;
use crate::exit::{Exit, Failure};
use crate::source::Item;
use seep_common::rig::Rig;
use std::ffi::{OsStr, OsString};
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// Inputs ready to be read in the order of time.
pub(crate) struct Opened {
    merge: Merge,
    /// For each source of the rig, whether an input feeds it.
    pub fed: Vec<bool>,
    /// The names of the inputs as given.
    pub names: String,
}

impl Opened {
    /// The next stretch of items; empty at the end of all inputs.
    pub(crate) fn next(&mut self, out: &mut Vec<Item>, counts: &mut Counts) -> io::Result<()> {
        self.merge.next(out, counts)
    }
}

/// Open every input and tell what it is. Nothing is written; an input that is
/// not understood refuses the whole.
///
/// # Errors
/// 66 for a missing input, 65 for one that is not understood or fits no source,
/// 2 where it must be said which source it belongs to.
pub(crate) fn open(
    rig: &Rig,
    databases: &Databases,
    arguments: &[OsString],
    recorded: &Recorded,
) -> Result<Opened, Failure> {
    let mut opened = Vec::new();
    let mut fed = vec![false; rig.sources.len()];
    let mut names = Vec::new();
    for argument in arguments {
        let (bound, path) = binding(rig, argument);
        let name = Path::new(path).display().to_string();
        let Fed { input, sources } = open_one(rig, databases, bound, path, &name, recorded)?;
        for &source in &sources {
            fed[source] = true;
        }
        opened.push(with_timeline(
            rig,
            input,
            sources.first().copied().unwrap_or(0),
        ));
        names.push(name);
    }
    Ok(Opened {
        merge: Merge::new(opened),
        fed,
        names: names.join(", "),
    })
}

fn with_timeline(
    rig: &Rig,
    input: Box<dyn Input>,
    counts_for: usize,
) -> (Box<dyn Input>, Timeline) {
    let back_ms = (rig.recorder.before_activity_s * 1000.0) as i64;
    let ahead_ms = (rig.recorder.power_off_s * 1000.0) as i64;
    (input, Timeline::new(counts_for, back_ms, ahead_ms))
}

/// `SOURCE=FILE` when the word before `=` is a source of the rig.
fn binding<'a>(rig: &Rig, argument: &'a OsStr) -> (Option<usize>, &'a OsStr) {
    if let Some((word, path)) = argument.to_str().and_then(|text| text.split_once('='))
        && let Some(source) = rig.sources.iter().position(|s| s.name == word)
    {
        return (Some(source), OsStr::new(path));
    }
    (None, argument)
}

fn open_one(
    rig: &Rig,
    databases: &Databases,
    bound: Option<usize>,
    path: &OsStr,
    name: &str,
    recorded: &Recorded,
) -> Result<Fed, Failure> {
    let reading = |e: io::Error| Failure::say(Exit::NoInput, format!("{name}: {e}"));
    let rest: Box<dyn Read + Send> = if path == "-" {
        Box::new(io::stdin())
    } else {
        Box::new(File::open(path).map_err(reading)?)
    };
    let head = Head::read(rest).map_err(reading)?;
    if head.bytes.is_empty() {
        return Err(Failure::say(Exit::Data, format!("{name}: is empty")));
    }
    recognise(rig, bound, head, name, databases, recorded)
}
