//! `seepd draft`: a rig from what was heard and a few answers.

mod answers;
mod bus;
mod drafted;
mod guess;
mod line;
mod text;

use super::listen::{listened, read_json};
use crate::cli::DraftArgs;
use crate::exit::{Exit, Failure};
use crate::heard::Heard;
use crate::rig_file::unused_path;
use answers::{Answers, Asker};
use seep_common::rig::Rig;
use std::io::{IsTerminal, Write};

pub(super) fn run(
    args: &DraftArgs,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Result<Exit, Failure> {
    if let Some(path) = &args.out {
        unused_path(path)?;
    }
    let heard = match &args.heard {
        Some(path) => read_json(path)?,
        None => listened(&args.what, args.seconds)?,
    };
    if heard.is_empty() {
        return Err(Failure::say(Exit::Data, nothing_heard(&heard)));
    }
    let terminal = std::io::stdin().is_terminal() && std::io::stderr().is_terminal();
    let mut asker = Asker::new(terminal, err);
    let answers = Answers::gather(args, &heard, &mut asker)?;
    let draft = text::rig(&heard, &answers);
    // A draft that its own reader refuses would be a mistake of this program.
    if let Err(e) = Rig::parse(&draft) {
        return Err(Failure::say(
            Exit::Data,
            format!("the draft cannot be used, please report this with what was heard: {e}"),
        ));
    }
    match &args.out {
        None => {
            let _ = out.write_all(draft.as_bytes());
        }
        Some(path) => {
            std::fs::write(path, &draft).map_err(|e| {
                Failure::say(Exit::CannotCreate, format!("{}: {e}", path.display()))
            })?;
            let _ = writeln!(
                err,
                "{} written; look through it, then: seepd check --rig {}",
                path.display(),
                path.display()
            );
        }
    }
    Ok(Exit::Fine)
}

fn nothing_heard(heard: &Heard) -> String {
    let lines = heard.lines.iter().map(|l| (&l.from, &l.problem));
    let buses = heard.buses.iter().map(|b| (&b.from, &b.problem));
    let why: Vec<_> = lines
        .chain(buses)
        .map(|(from, problem)| {
            format!(
                "{from}: {}",
                problem.as_deref().unwrap_or("nothing was understood")
            )
        })
        .collect();
    format!(
        "nothing was heard that a rig could be made of; {}",
        why.join("; ")
    )
}
