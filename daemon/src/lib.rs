//! The recorder: bytes from the bus and the wire become rows that survive a
//! power cut.
//!
//! One way through, live and replayed alike: source → decoder → [`pipeline`] →
//! store. Sources never see the store, the store never sees a source; they meet
//! in `commands` through the types of `seep-common`.

mod cli;
mod clock;
mod commands;
pub mod counts;
mod databases;
mod defaults;
mod doctor;
pub mod exit;
mod files;
mod heard;
pub mod matching;
mod messages;
mod pause;
pub mod pipeline;
mod rig_file;
mod run;
mod session;
mod source;
mod storage;
mod time;
mod visible;

pub use cli::command_line;

use std::ffi::OsString;
use std::io::Write;
use visible::Visible;

/// Name and version, as every session stores them.
const PROGRAM: &str = concat!("seepd ", env!("CARGO_PKG_VERSION"));

/// Run `seepd` with these arguments (the first is the program's name); returns
/// the exit code, see [`exit::Exit`].
///
/// Data goes to `out`, messages to `err`.
///
/// ```
/// let (mut out, mut err) = (Vec::new(), Vec::new());
/// let args = ["seepd", "check", "--rig", "/no/such/rig.toml"];
/// let code = seep_daemon::main_with(args.map(Into::into).into_iter(), &mut out, &mut err);
/// assert_eq!(code, 66);
/// assert!(String::from_utf8_lossy(&err).contains("/no/such/rig.toml"));
/// ```
pub fn main_with(
    args: impl Iterator<Item = OsString>,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> u8 {
    let out = &mut Visible::new(out) as &mut dyn Write;
    let err = &mut Visible::new(err) as &mut dyn Write;
    let exit = match cli::parse(args) {
        Ok(command) => commands::run(&command, out, err),
        Err(exit) => cli::print(&exit, out, err),
    };
    exit.code()
}
