//! One file per subcommand: load, judge, lay out as a report value.

pub mod duty;
pub mod leaks;
pub mod moves;
pub mod sessions;
pub mod trip;

mod head;
mod timeline;

use crate::digest::Digest;
use crate::judgement::Judgement;
use crate::recording::{Recording, RecordingError};

/// Read and judge a recording.
fn judged(recording: &Recording) -> Result<(Digest, Judgement), RecordingError> {
    let digest = Digest::build(recording, |_| {})?;
    let judgement = Judgement::of(&digest, &recording.rig);
    Ok((digest, judgement))
}
