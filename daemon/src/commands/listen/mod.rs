//! `seepd listen`: what speaks on this computer's lines and buses, or in files.

mod screen;

pub(super) use heard::{listened, read_json};

use crate::cli::{ListenArgs, ListenFormat};
use crate::exit::{Exit, Failure};
use crate::heard::Heard;
use std::io::{IsTerminal, Write};
use std::time::Duration;

mod heard;

/// Without a terminal and without `--seconds` it is listened for so long, s.
const UNLESS_SAID_S: f64 = 10.0;

/// The screen is renewed so often.
const RENEW_EVERY: Duration = Duration::from_millis(500);

pub(super) fn run(args: &ListenArgs, out: &mut dyn Write) -> Result<Exit, Failure> {
    let updates = args.seconds.is_none()
        && args.what.inputs.is_empty()
        && args.format == ListenFormat::Text
        && std::io::stdout().is_terminal();
    let heard = if updates {
        heard::until_interrupted(&args.what, RENEW_EVERY, &mut |heard| {
            // Home, then clear what is below: nothing flickers.
            let page = screen::page(heard).replace('\n', "\x1b[K\n");
            let _ = write!(out, "\x1b[H{page}\x1b[J");
            let _ = out.flush();
        })?
    } else {
        let heard = listened(&args.what, args.seconds.unwrap_or(UNLESS_SAID_S))?;
        let text = match args.format {
            ListenFormat::Text => screen::page(&heard),
            ListenFormat::Json => {
                serde_json::to_string_pretty(&heard).map_err(|e| Failure::new(Exit::Io, e))? + "\n"
            }
        };
        let _ = out.write_all(text.as_bytes());
        heard
    };
    Ok(outcome(&heard))
}

/// Nothing understood is not what was hoped for.
fn outcome(heard: &Heard) -> Exit {
    if heard.is_empty() {
        Exit::Finding
    } else {
        Exit::Fine
    }
}
