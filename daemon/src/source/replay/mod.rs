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
use seep_common::time::{BootMs, WallMs};
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

/// Returns the time of an item whose recording dates it so; `None` outside the years
/// 1970 to 2199, which no recording means. Every input asks here, once, and counts.
#[inline]
fn recorded_at(wall: WallMs) -> Option<BootMs> {
    (0..7_258_118_400_000)
        .contains(&wall.0)
        .then_some(BootMs(wall.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_of_no_recording_are_none() {
        let latest = 7_258_118_399_999;
        for no_time in [i64::MIN, -1, latest + 1, i64::MAX] {
            assert_eq!(recorded_at(WallMs(no_time)), None);
        }
        for time in [0, latest] {
            assert_eq!(recorded_at(WallMs(time)), Some(BootMs(time)));
        }
    }
}
