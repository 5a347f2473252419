//! Recorded files as sources: opened, told apart by content, merged by time.

mod csv_time;
mod each_frame;
mod frames;
mod head;
mod lines;
mod log_times;
mod merge;
mod open;
mod recognise;
mod sentences;
mod stamped;
mod survey;
mod table;
mod timeline;
mod unread_lines;

pub(crate) use csv_time::check_time;
pub(crate) use each_frame::each_frame;
pub(crate) use log_times::Recorded;
pub(crate) use open::open;
pub(crate) use survey::survey;

use super::{Item, summed};
use crate::counts::Counts;
use std::io;

/// About so many items are handed out at a time.
const ITEMS_PER_FILL: usize = 4096;

/// An input that is read once, from the start to the end.
pub(crate) trait Input {
    /// Append some items at the input's own times; false at the end.
    ///
    /// # Errors
    /// Only what the operating system reports; bad content is counted.
    fn fill(&mut self, items: &mut Vec<Item>, counts: &mut Counts) -> io::Result<bool>;
}

/// Times outside the years 1970 to 2199 are no times of a recording.
fn is_plausible_time(wall_ms: i64) -> bool {
    (0..7_258_118_400_000).contains(&wall_ms)
}
