//! `seepd snapshot`: a complete copy of a log, recording or not.

use crate::cli::SnapshotArgs;
use crate::exit::{Exit, Failure};
use crate::storage::failure;
use std::io::Write;

pub(super) fn run(args: &SnapshotArgs, err: &mut dyn Write) -> Result<Exit, Failure> {
    seep_common::store::snapshot(&args.log, &args.copy).map_err(failure)?;
    let _ = writeln!(
        err,
        "{}: complete copy of {}",
        args.copy.display(),
        args.log.display()
    );
    Ok(Exit::Fine)
}
