//! `seepd run`: record until told to stop.

use crate::cli::RunArgs;
use crate::clock::SystemClock;
use crate::defaults;
use crate::exit::{Exit, Failure};
use crate::recorder::failure;
use crate::rig_file;
use crate::run::{Plan, check_free, record, status};
use crate::storage::{Keeping, start};
use crate::time::clock_is_synced;
use crate::visible::Visible;
use seep_common::rig::{Rig, SourceKind};
use seep_common::store::{Reader, StoreError};
use std::io::Write;
use std::path::Path;
use std::sync::Arc;
use tokio::signal::unix::{SignalKind, signal};

pub(super) fn run(args: &RunArgs, err: &mut dyn Write) -> Result<Exit, Failure> {
    let log = &defaults::log(args.log.as_ref())?;
    let (rig, databases) = rig_file::load_live(&args.rig.rig)?;
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|e| Failure::new(Exit::Unavailable, e))?;
    // A reload that comes while the log is looked at must not kill the recorder.
    let hang_up = runtime.block_on(async { signal(SignalKind::hangup()) });
    let hang_up = hang_up.map_err(|e| Failure::new(Exit::Unavailable, e))?;
    check_free(log)?;
    refuse_foreign(log)?;
    let status_file = args.status_file.clone().or_else(status::usual_path);
    let _ = writeln!(err, "{}", what_where(&rig, log, status_file.as_deref()));
    tell_how_things_go();
    let clock = Arc::new(SystemClock);
    let keeping = Keeping::new(log.clone(), boot_id());
    let hand = start(keeping, clock.clone()).map_err(|e| Failure::new(Exit::Unavailable, e))?;
    let plan = Plan {
        rig_path: args.rig.rig.clone(),
        rig,
        databases,
        log: log.clone(),
        status_file,
        clock,
        synced: clock_is_synced,
    };
    let state = runtime.block_on(record(plan, hand, hang_up))?;
    // A source stuck in a system call must not hold up the end.
    runtime.shutdown_background();
    let _ = writeln!(err, "{}: {} rows stored", log.display(), state.stored_ticks);
    if let Some(ended) = state.ended {
        return Err(Failure::say(
            ended.exit,
            format!("{}: {}", log.display(), ended.reason),
        ));
    }
    match state.loss() {
        None => Ok(Exit::Fine),
        Some(loss) => Err(Failure::say(Exit::Io, format!("{}: {loss}", log.display()))),
    }
}

/// One line: what is recorded, from where, to where.
fn what_where(rig: &Rig, log: &Path, status_file: Option<&Path>) -> String {
    let from: Vec<_> = (rig.sources.iter().filter(|s| s.kind.is_live()))
        .map(|s| match &s.kind {
            SourceKind::SocketCan { interface, .. } => format!("{} ({interface})", s.name),
            SourceKind::Nmea { device, .. } | SourceKind::Modbus { device, .. } => {
                format!("{} ({})", s.name, device.as_deref().unwrap_or("no device"))
            }
            SourceKind::Csv { .. } => s.name.clone(),
        })
        .collect();
    let status = status_file.map_or_else(String::new, |path| {
        format!("; status in {}", path.display())
    });
    format!(
        "recording {} channels of {} from {} to {}{status}",
        rig.channels.len(),
        rig.vehicle,
        from.join(", "),
        log.display()
    )
}

/// A file that is no log of ours is refused; a damaged one is set aside later.
fn refuse_foreign(log: &Path) -> Result<(), Failure> {
    // No log yet, or one cut while it was being made, is gone on with.
    match Reader::open(log) {
        Err(
            e @ (StoreError::OtherApplication { .. }
            | StoreError::NewerSchema { .. }
            | StoreError::NotSqlite { .. }
            | StoreError::NotAFile { .. }
            | StoreError::Trap { .. }),
        ) => Err(failure(e)),
        _ => Ok(()),
    }
}

/// The kernel's name for this boot; a hardened service is handed it, since it
/// may not see the file.
fn boot_id() -> String {
    std::env::var("SEEPD_BOOT_ID")
        .ok()
        .filter(|id| !id.is_empty())
        .or_else(|| std::fs::read_to_string("/proc/sys/kernel/random/boot_id").ok())
        .map_or_else(|| "unknown".into(), |id| id.trim().replace('-', ""))
}

fn tell_how_things_go() {
    let filter = tracing_subscriber::EnvFilter::try_from_env("SEEPD_LOG")
        .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("info"));
    // A second recording in one process (tests) keeps the first one's way.
    let _ = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(|| Visible::new(std::io::stderr()))
        .with_ansi(std::io::IsTerminal::is_terminal(&std::io::stderr()))
        .without_time()
        .try_init();
}
