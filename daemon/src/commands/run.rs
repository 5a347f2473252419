//! `seepd run`: record until told to stop.

use crate::cli::RunArgs;
use crate::clock::SystemClock;
use crate::defaults;
use crate::exit::{Exit, Failure};
use crate::messages::{Messages, are_read};
use crate::rig_file;
use crate::run::{Plan, check_free, record, status};
use crate::storage::failure;
use crate::storage::{LogFile, StorageState, start};
use crate::time::clock_is_synced;
use crate::visible::Visible;
use seep_common::rig::{Rig, SourceKind};
use seep_common::store::{Reader, SIDE_FILE_ENDINGS, StoreError};
use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio::signal::unix::{SignalKind, signal};

/// The last words of a recording wait so long for a reader.
const LAST_WORDS: Duration = Duration::from_secs(1);

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
    if let Some(file) = &status_file {
        refuse_status_over_other(file, &args.rig.rig, log)?;
    }
    let _ = writeln!(err, "{}", what_where(&rig, log, status_file.as_deref()));
    tell_how_things_go();
    let clock = Arc::new(SystemClock);
    let log_file = LogFile::new(log.clone(), boot_id());
    let handle = start(log_file, clock.clone()).map_err(|e| Failure::new(Exit::Unavailable, e))?;
    let plan = Plan {
        rig_path: args.rig.rig.clone(),
        rig,
        databases,
        log: log.clone(),
        status_file,
        clock,
        synced: clock_is_synced,
    };
    let state = runtime.block_on(record(plan, handle, hang_up))?;
    // A source stuck in a system call must not hold up the end.
    runtime.shutdown_background();
    let stored = format!("{}: {} rows stored", log.display(), state.stored_ticks);
    let outcome = outcome(state, log);
    if !are_read(LAST_WORDS) {
        // Nobody reads: to wait for that would hold up the end, signals and all.
        let exit = outcome.as_ref().map_or_else(|f| f.exit, |exit| *exit);
        std::process::exit(exit.code().into());
    }
    let _ = writeln!(err, "{stored}");
    outcome
}

/// How the recording went.
fn outcome(state: StorageState, log: &Path) -> Result<Exit, Failure> {
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

/// The status file is replaced every second: it may bear the name of nothing else
/// that is needed.
fn refuse_status_over_other(status: &Path, rig: &Path, log: &Path) -> Result<(), Failure> {
    let mut needed = vec![rig.to_path_buf(), log.to_path_buf()];
    needed.extend(SIDE_FILE_ENDINGS.map(|ending| {
        let mut name = log.as_os_str().to_owned();
        name.push(ending);
        name.into()
    }));
    let place = place_of(status);
    if needed.iter().all(|path| place_of(path) != place) && !is_database(status) {
        return Ok(());
    }
    Err(Failure::say(
        Exit::CannotCreate,
        format!(
            "{}: the status would be written over the rig, the log or another database; give --status-file a name of its own",
            status.display()
        ),
    ))
}

/// The path with its folder resolved: a link of that name is replaced itself.
fn place_of(path: &Path) -> PathBuf {
    let folder = path.parent().filter(|f| !f.as_os_str().is_empty());
    let folder = folder.unwrap_or(Path::new("."));
    let folder = folder.canonicalize().unwrap_or_else(|_| folder.into());
    folder.join(path.file_name().unwrap_or_default())
}

/// **Source**: SQLite documentation, "Database File Format", section 1.3.
fn is_database(path: &Path) -> bool {
    const MAGIC: &[u8] = b"SQLite format 3\0";
    let mut start = [0; MAGIC.len()];
    path.metadata().is_ok_and(|facts| facts.is_file())
        && File::open(path).is_ok_and(|mut file| file.read_exact(&mut start).is_ok())
        && start == MAGIC
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
        .with_writer(|| Visible::new(Messages))
        .with_ansi(std::io::IsTerminal::is_terminal(&std::io::stderr()))
        .without_time()
        .try_init();
}
