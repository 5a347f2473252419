//! `seepd replay`: recorded files by the way a live recording takes.

mod pace;

use crate::cli::ReplayArgs;
use crate::defaults;
use crate::exit::{Exit, Failure};
use crate::rig_file;
use crate::session::ReplaySessions;
use crate::source::replay::{Recorded, open};
use crate::storage::{ReplayLog, Target, check_target};
use jiff::Timestamp;
use pace::Pace;
use seep_common::time::WallMs;
use std::io::Write;

pub(super) fn run(args: &ReplayArgs, err: &mut dyn Write) -> Result<Exit, Failure> {
    let (rig, databases) = rig_file::load(&args.rig.rig)?;
    let target = Target {
        path: args.log.clone(),
        append: args.append,
    };
    check_target(&target)?;
    let zone = match &args.zone {
        Some(zone) => Some(zone.clone()),
        None => defaults::read()?.zone,
    };
    let recorded = Recorded::new(args.start.as_deref(), zone.as_deref())?;
    let mut inputs = open(&rig, &databases, &args.inputs, &recorded)?;
    let mut sessions = ReplaySessions::new(&rig, &inputs.fed);
    let mut log = ReplayLog::new(target, &inputs.names);
    let mut commands = Vec::new();
    let mut pace = Pace::new(if args.realtime { Some(1.0) } else { args.speed });
    let mut items = Vec::new();
    loop {
        inputs
            .next(&mut items, sessions.counts_mut())
            .map_err(|e| Failure::say(Exit::Io, format!("reading {}: {e}", inputs.names)))?;
        if items.is_empty() {
            break;
        }
        for item in items.drain(..) {
            pace.wait_for(item.t_ms);
            sessions.push(item, &mut |c| commands.push(c));
            if !commands.is_empty() {
                commands.drain(..).try_for_each(|c| log.execute(c))?;
            }
        }
    }
    let bad = sessions.counts().troubles();
    sessions.finish(&mut |c| commands.push(c));
    commands.drain(..).try_for_each(|c| log.execute(c))?;
    let stored = log.stored();
    log.close()?;
    let Some(wall_ms) = sessions.wall_ms() else {
        return Err(nothing(&inputs.names, &bad));
    };
    summarise(stored, wall_ms, &bad, args, err);
    Ok(Exit::Fine)
}

fn nothing(names: &str, bad: &[String]) -> Failure {
    let why = if bad.is_empty() {
        "check the channels' transducer, signal or column names against the file".into()
    } else {
        format!("counted: {}", bad.join(", "))
    };
    Failure::say(
        Exit::Data,
        format!("{names}: holds no reading for any channel of the rig, so no log was made; {why}"),
    )
}

fn summarise(
    (ticks, sessions): (u64, u64),
    (first_ms, last_ms): (WallMs, WallMs),
    bad: &[String],
    args: &ReplayArgs,
    err: &mut dyn Write,
) {
    let at = |t: WallMs| {
        Timestamp::from_millisecond(t.0).map_or_else(|_| format!("{t} ms"), |t| format!("{t:.0}"))
    };
    let _ = writeln!(
        err,
        "{}: {ticks} rows in {sessions} session{} from {} to {}",
        args.log.display(),
        if sessions == 1 { "" } else { "s" },
        at(first_ms),
        at(last_ms),
    );
    if !bad.is_empty() {
        let _ = writeln!(err, "counted on the way: {}", bad.join(", "));
    }
}
