//! `seepd replay`: recorded files by the way a live recording takes.

mod pace;

use crate::cli::ReplayArgs;
use crate::defaults;
use crate::exit::{Exit, Failure};
use crate::recorder::{Recorder, Summary, Target, check_target, troubles};
use crate::rig_file;
use crate::source::replay::{Recorded, open};
use jiff::Timestamp;
use pace::Pace;
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
    let mut recorder = Recorder::new(&rig, target, &inputs.names, &inputs.fed);
    let mut pace = Pace::new(if args.realtime { Some(1.0) } else { args.speed });
    let mut items = Vec::new();
    loop {
        inputs
            .next(&mut items, recorder.counts_mut())
            .map_err(|e| Failure::say(Exit::Io, format!("reading {}: {e}", inputs.names)))?;
        if items.is_empty() {
            break;
        }
        for item in items.drain(..) {
            pace.wait_for(item.t_ms);
            recorder.push(item)?;
        }
    }
    let bad = troubles(recorder.counts());
    let (summary, _) = recorder.finish()?;
    match summary {
        Some(summary) => {
            tell(&summary, &bad, args, err);
            Ok(Exit::Fine)
        }
        None => Err(nothing(&inputs.names, &bad)),
    }
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

fn tell(summary: &Summary, bad: &[String], args: &ReplayArgs, err: &mut dyn Write) {
    let at = |ms: i64| {
        Timestamp::from_millisecond(ms).map_or_else(|_| format!("{ms} ms"), |t| format!("{t:.0}"))
    };
    let span = summary.wall_ms.map_or_else(String::new, |(a, b)| {
        format!(" from {} to {}", at(a), at(b))
    });
    let _ = writeln!(
        err,
        "{}: {} rows in {} session{}{span}",
        args.log.display(),
        summary.ticks,
        summary.sessions,
        if summary.sessions == 1 { "" } else { "s" },
    );
    if !bad.is_empty() {
        let _ = writeln!(err, "counted on the way: {}", bad.join(", "));
    }
}
