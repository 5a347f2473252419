//! Listening, live or to files, as `listen` and `draft` both need it.

use crate::cli::Heeded;
use crate::exit::{Exit, Failure};
use crate::files::read_regular;
use crate::heard::{Heard, LAYOUT};
use crate::rig_file::MOST_DATABASE_BYTES;
use crate::source::live::survey::{Survey, interfaces, ports};
use crate::source::replay::survey;
use seep_common::codec::dbc::{BUILTINS, Database};
use seep_common::text_file::read_text;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

/// Nothing that was heard takes more as JSON, bytes.
const MOST_HEARD_BYTES: u64 = 64 << 20;

/// What was heard in the files, or live for some seconds.
///
/// # Errors
/// 66 and 65 for files, 69 when there is nothing to listen to.
pub(in crate::commands) fn listened(what: &Heeded, seconds: f64) -> Result<Heard, Failure> {
    let databases = databases(what)?;
    if !what.inputs.is_empty() {
        return survey(&what.inputs, &databases);
    }
    let time = Duration::from_secs_f64(seconds);
    live(what, &databases, time, &mut |_| {}, true)
}

/// Listen until Ctrl-C, handing on what was heard every so often.
pub(super) fn until_interrupted(
    what: &Heeded,
    every: Duration,
    show: &mut dyn FnMut(&Heard),
) -> Result<Heard, Failure> {
    let databases = databases(what)?;
    live(what, &databases, every, show, false)
}

fn live(
    what: &Heeded,
    databases: &Arc<Vec<Database>>,
    every: Duration,
    show: &mut dyn FnMut(&Heard),
    once: bool,
) -> Result<Heard, Failure> {
    let (ports, interfaces) = places(what)?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|e| Failure::new(Exit::Unavailable, e))?;
    let heard = runtime.block_on(async {
        let survey = Survey::start(&ports, &interfaces, databases);
        loop {
            tokio::select! {
                () = tokio::time::sleep(every) => show(&survey.heard()),
                _ = tokio::signal::ctrl_c() => return survey.heard(),
            }
            if once {
                return survey.heard();
            }
        }
    });
    runtime.shutdown_background();
    Ok(heard)
}

/// Ports and interfaces as named, or all that there are.
fn places(what: &Heeded) -> Result<(Vec<String>, Vec<String>), Failure> {
    if !what.port.is_empty() || !what.can.is_empty() {
        return Ok((what.port.clone(), what.can.clone()));
    }
    let root = Path::new("/");
    let found = (ports(root), interfaces(root));
    if found.0.is_empty() && found.1.is_empty() {
        return Err(Failure::say(
            Exit::Unavailable,
            "this computer has no USB serial line and no CAN interface; plug the board in, bring the interface up (`ip link set can0 up type can bitrate 250000 listen-only on`), or name one with --port or --can",
        ));
    }
    Ok(found)
}

fn databases(what: &Heeded) -> Result<Arc<Vec<Database>>, Failure> {
    let wrong = |e: seep_common::codec::dbc::DbcError| Failure::say(Exit::Data, e.to_string());
    let mut all = Vec::new();
    for path in &what.dbc {
        let name = path.display().to_string();
        let bytes = read_regular(path, MOST_DATABASE_BYTES)
            .map_err(|e| Failure::say(Exit::NoInput, format!("{name}: {e}")))?;
        all.push(Database::parse_bytes(&name, &bytes).map_err(wrong)?);
    }
    for (name, text) in BUILTINS {
        all.push(Database::parse(name, text).map_err(wrong)?);
    }
    Ok(Arc::new(all))
}

/// What an earlier `seepd listen --format json` heard.
///
/// # Errors
/// 66 when the file cannot be read, 65 when it is something else.
pub(in crate::commands) fn read_json(path: &Path) -> Result<Heard, Failure> {
    let name = path.display();
    let text = read_text(path, MOST_HEARD_BYTES)
        .map_err(|e| Failure::say(Exit::NoInput, format!("{name}: {e}")))?;
    let heard: Heard = serde_json::from_str(&text).map_err(|e| {
        Failure::say(
            Exit::Data,
            format!("{name}: {e}; give the output of `seepd listen --format json`"),
        )
    })?;
    if heard.layout == LAYOUT {
        Ok(heard)
    } else {
        Err(Failure::say(
            Exit::Data,
            format!(
                "{name}: layout `{}` is not `{LAYOUT}`; listen again with this seepd",
                heard.layout
            ),
        ))
    }
}
