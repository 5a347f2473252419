//! Which kind of log an input is, told from its content, and which source of
//! the rig it feeds.

use super::Input;
use super::frames::{self, Frames};
use super::head::{Head, is_comment};
use super::log_times::{self, Recorded};
use super::sentences;
use super::table::{ColumnPlan, NotThisTable, Table};
use crate::databases::Databases;
use crate::exit::{Exit, Failure};
use seep_common::codec::canlog::recognise as form_of;
use seep_common::rig::{Rig, SourceKind};

/// An input and the sources it feeds.
pub(super) struct Fed {
    pub input: Box<dyn Input>,
    pub sources: Vec<usize>,
}

/// Tell what an input is; `bound` is the source named on the command line.
pub(super) fn recognise(
    rig: &Rig,
    bound: Option<usize>,
    head: Head,
    name: &str,
    databases: &Databases,
    recorded: &Recorded,
) -> Result<Fed, Failure> {
    if let Some(form) = form_of(&head.bytes) {
        let sources = sources_of(rig, bound, "socketcan");
        let sources = frames::choose(rig, sources, form, &head.bytes);
        if sources.is_empty() {
            return Err(no_source(name, form.name(), "socketcan"));
        }
        let times = log_times::of(form, recorded, name)?;
        let input = Frames::new(head.into_input(), rig, databases, &sources, (form, times))?;
        return Ok(Fed {
            input: Box::new(input),
            sources: sources.iter().map(|s| s.0).collect(),
        });
    }
    if sentences::looks_like(&head.bytes) {
        return match sources_of(rig, bound, "nmea")[..] {
            [] => Err(no_source(name, "an NMEA 0183 capture", "nmea")),
            [source] => Ok(Fed {
                input: sentences::input(head, rig, source)?,
                sources: vec![source],
            }),
            ref several => {
                let words: Vec<_> = several
                    .iter()
                    .map(|s| rig.sources[*s].name.as_str())
                    .collect();
                Err(ambiguous(name, &words))
            }
        };
    }
    as_table(rig, bound, head, name)
}

fn as_table(rig: &Rig, bound: Option<usize>, head: Head, name: &str) -> Result<Fed, Failure> {
    let header = head.bytes.split(|&b| b == b'\n').next().unwrap_or_default();
    let header = header.strip_suffix(b"\r").unwrap_or(header).to_vec();
    let candidates = (0..rig.sources.len()).filter(|&s| {
        matches!(rig.sources[s].kind, SourceKind::Csv { .. }) && bound.is_none_or(|b| b == s)
    });
    let mut plans = Vec::new();
    let mut refusals = Vec::new();
    for source in candidates {
        match ColumnPlan::new(&header, rig, source) {
            Ok(plan) => plans.push((source, plan)),
            Err(refusal) => refusals.push((source, refusal)),
        }
    }
    if plans.len() > 1 {
        let words: Vec<_> = (plans.iter())
            .map(|p| rig.sources[p.0].name.as_str())
            .collect();
        return Err(ambiguous(name, &words));
    }
    let Some((source, plan)) = plans.pop() else {
        return Err(not_understood(rig, &head, name, &refusals));
    };
    Ok(Fed {
        input: Box::new(Table::new(head.into_input(), plan)),
        sources: vec![source],
    })
}

fn sources_of(rig: &Rig, bound: Option<usize>, kind: &str) -> Vec<usize> {
    (0..rig.sources.len())
        .filter(|&s| rig.sources[s].kind.word() == kind && bound.is_none_or(|b| b == s))
        .collect()
}

fn no_source(name: &str, what: &str, kind: &str) -> Failure {
    Failure::say(
        Exit::Data,
        format!(
            "{name}: is {what}, but the rig has no source of kind `{kind}` for it; add one, or leave this file out"
        ),
    )
}

fn ambiguous(name: &str, sources: &[&str]) -> Failure {
    let (list, first) = (sources.join(", "), sources.first().unwrap_or(&"SOURCE"));
    Failure::say(
        Exit::Usage,
        format!("{name}: may belong to any of the sources {list}; say which, as {first}={name}"),
    )
}

fn not_understood(
    rig: &Rig,
    head: &Head,
    name: &str,
    refusals: &[(usize, NotThisTable)],
) -> Failure {
    for (source, refusal) in refusals {
        let source = &rig.sources[*source].name;
        match refusal {
            NotThisTable::NoColumn { wanted, found } => {
                return Failure::say(
                    Exit::Data,
                    format!(
                        "{name}: has no column `{wanted}`, which the rig names for source `{source}`; its columns are: {}",
                        found.join(", ")
                    ),
                );
            }
            NotThisTable::Time(problem) => {
                return Failure::say(Exit::Config, format!("source `{source}`: {problem}"));
            }
            NotThisTable::NoTimeColumn => {}
        }
    }
    if let Some(refusal) = refuse_blf(&head.bytes, name) {
        return refusal;
    }
    let start: String = head
        .bytes
        .split(|&b| b == b'\n')
        .find(|line| !is_comment(line))
        .map(|line| String::from_utf8_lossy(&line[..line.len().min(60)]).into_owned())
        .unwrap_or_default()
        .escape_debug()
        .to_string();
    let kinds: Vec<_> = rig.sources.iter().map(|s| s.kind.word()).collect();
    Failure::say(
        Exit::Data,
        format!(
            "{name}: is no log for this rig (sources: {}); a candump log line reads `(1436509052.249713) can0 123#11`, an ASC or TRC log has its head, an NMEA sentence `$..XDR,…*hh`, a table needs its time column in the first line; this one starts with \"{start}\"",
            kinds.join(", ")
        ),
    )
}

/// Refuses a BLF log, a binary form of CAN logs, with the command that converts it.
///
/// The signature is from memory, as python-can writes it.
pub(crate) fn refuse_blf(bytes: &[u8], name: &str) -> Option<Failure> {
    bytes.starts_with(b"LOGG").then(|| {
        Failure::say(
            Exit::Data,
            format!(
                "{name}: is a BLF log, which is not read; python-can makes an ASC log of it: `python3 -m can.logconvert {name} out.asc`"
            ),
        )
    })
}
